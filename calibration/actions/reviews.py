"""A supervisor looks at a check that failed or is not valid, and signs that they have."""

from __future__ import annotations

from assets import history
from assets.compute.canonical import digest
from assets.errors import Refusal
from assets.models import Person
from assets.permissions import SUPERVISORS, must_have_role
from assets.proofs import Proof, sign
from calibration.models import Check, CheckReview


def review_check(*, check: Check, note: str, proof: Proof, by: Person) -> CheckReview:
    """Sign a check as reviewed, with a note; never one's own."""
    must_have_role(by, check.site, SUPERVISORS, to="review a check")
    signers = set(check.sets.values_list("recorded_by_id", flat=True))
    if by.pk in signers or by.pk == check.recorded_by_id:
        raise Refusal(f"{by.name} signed check {check.number} and does not review it; another supervisor does.")
    if not note.strip():
        raise Refusal("Note: nothing is written. Say what you looked at and what you decided.", field="note")
    if not check.sets.exists():
        raise Refusal(f"Check {check.number} has no signed set yet.")
    with history.act(site=check.site, by=by) as act:
        if CheckReview.objects.filter(check_of=check).exists():
            raise Refusal(f"Check {check.number} has been reviewed already.")
        digests = list(check.sets.order_by("id").values_list("signature__digest", flat=True))
        signature = sign(
            act,
            site=check.site,
            person=by,
            proof=proof,
            meaning=f"I reviewed check {check.number} at {check.position.tag}",
            digest=digest({"check": check.number, "sets": digests, "note": note.strip()}),
        )
        row = act.add(
            CheckReview(
                check_of=check,
                note=note.strip(),
                checked_by=check.recorded_by,
                by=by,
                signature=signature,
                recorded_at=act.at,
            )
        )
        act.write("check.reviewed", subject=check, facts={"note": note.strip()})
    return row
