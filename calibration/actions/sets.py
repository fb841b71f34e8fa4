"""Signing: a draft becomes a reading set of a check that is never changed again, with all that follows from it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from django.db.models import Max

from assets import history
from assets.errors import Reason, Refusal, Stale
from assets.history import UPKEEP, Act, lock_site
from assets.models import Person
from assets.permissions import OPERATORS, must_have_role
from assets.proofs import Proof, sign
from calibration.actions.consequences import follow, withdraw_replaced
from calibration.actions.rows import rows_for
from calibration.compute.method import Found
from calibration.compute.verdict import Outcome as Result
from calibration.models import Check, Draft, ReadingSet, Requirement
from calibration.reads.content import Rows, digest_of
from calibration.reads.own_fields import is_test, last_stage
from calibration.reads.sheet import Sheet, keys_in, reasons_of, shape_of_draft, sheet_of
from calibration.reads.words import KIND_WORDS, moment_words

LATE_AFTER = dt.timedelta(minutes=15)


def sign_set(
    *,
    draft: Draft,
    version: int,
    proof: Proof,
    by: Person,
    earlier_at: dt.datetime | None = None,
    earlier_because: str = "",
) -> Check:
    """Sign a draft's reading set; where nothing was done and as found is good, as left with it.

    Raises Refusal with a sentence at each field that is missing, unreadable or asked about and not answered. The time
    performed is that of the draft's first save, unless `earlier_at` is given with its reason.
    """
    must_have_role(by, draft.site, OPERATORS, to="sign a check")
    with history.act(site=draft.site, by=by) as act:
        lock_site(UPKEEP, draft.site)
        row = _still_there(draft, version, by)
        at = _performed(row, act, earlier_at, earlier_because)
        sheet = sheet_of(row, at=at)
        if sheet is None:
            raise Refusal(f"No limits are in force at {row.requirement.position.tag} on that day.")
        _refuse_unfinished(sheet.in_the_way)
        check = row.check_begun or _new_check(act, row, sheet, at)
        made = _Signing(act, check, row, at, earlier_because.strip(), proof, by)
        signed = [made.add(sheet)]
        if sheet.signs_as_left and sheet.left is not None:
            signed.append(made.add(_as_left(sheet), result=sheet.left, same=True))
        row.delete()
        facts = {"check": check.number, "sets": [of.kind for of in signed], "late": earlier_because.strip()}
        act.write("check.signed", subject=check, happened_at=at, facts=facts)
        if check.replaces is not None and row.check_begun is None and signed[-1].kind != last_stage(sheet.method):
            withdraw_replaced(check=check, by=by)
        for of in signed:
            follow(of=of, outcome=getattr(of, "outcome", None), by=by)
    return check


def _still_there(draft: Draft, version: int, by: Person) -> Draft:
    if draft.person_id != by.pk:
        raise Refusal("This draft is another person's; each signs what they read themselves.")
    which = Draft.objects.select_related("site", "requirement__position", "requirement__plan__site")
    try:
        return which.get(pk=draft.pk, version=version)
    except Draft.DoesNotExist:
        sentence = "This draft was saved or signed on another device meanwhile. Nothing was signed; look again."
        raise Stale(sentence) from None


def _performed(draft: Draft, act: Act, earlier_at: dt.datetime | None, because: str) -> dt.datetime:
    """Return when the set was read: the first save, or the earlier time that was typed with its reason."""
    at = earlier_at or draft.first_saved_at or act.at
    first = draft.first_saved_at or act.at
    reasons: list[Reason] = []
    if earlier_at is not None and earlier_at > first:
        sentence = "It was earlier: the time written is later than the first entry here; write when it was read."
        reasons.append(Reason(sentence, "earlier_at"))
    if earlier_at is not None and first - earlier_at > LATE_AFTER and not because.strip():
        sentence = "Why it is entered late: nothing is written. More than 15 minutes lie between reading and entry."
        reasons.append(Reason(sentence, "earlier_because"))
    if because.strip() and earlier_at is None:
        sentence = "It was earlier: a reason is written but no time. Write when it was read, or empty the reason."
        reasons.append(Reason(sentence, "earlier_at"))
    if reasons:
        raise Refusal(reasons)
    return at


def _refuse_unfinished(found: tuple[Found, ...]) -> None:
    if found:
        raise Refusal(reasons_of(found))


def _new_check(act: Act, draft: Draft, sheet: Sheet, at: dt.datetime) -> Check:
    requirement: Requirement = draft.requirement
    position = requirement.position
    plan = requirement.plan
    fitting = sheet.fitting
    newest = Check.objects.filter(site=draft.site).aggregate(newest=Max("number"))["newest"]
    if draft.corrects is not None and Check.objects.filter(replaces=draft.corrects).exists():
        raise Stale(f"Check {draft.corrects.number} was corrected by somebody else meanwhile; nothing was signed.")
    return act.add(
        Check(
            site=draft.site,
            number=(newest or 0) + 1,
            requirement=requirement,
            position=position,
            position_label=f"{position.tag}, {position.service}",
            plan=plan if plan is not None and plan.retired_at is None else None,
            asset=fitting.asset if fitting is not None else None,
            asset_label=str(fitting.asset) if fitting is not None else "",
            method=requirement.method,
            begun_at=at,
            recorded_at=act.at,
            recorded_by=act.by,
            replaces=draft.corrects,
            replaces_because=shape_of_draft(draft.typed)["corrects_because"],
        )
    )


def _as_left(sheet: Sheet) -> Sheet:
    """Return the sheet of the as left that nothing was done for: its own fields are those of the hold."""
    standards = keys_in(sheet.method, sheet.typed)
    kept = {name: text for name, text in sheet.typed.items() if name.startswith("hold") or text in standards}
    return replace(sheet, stage="as left", typed={**kept, "done": "nothing"})


class _Signing:
    """One signature act: adds the rows of each set with the person's signature under it."""

    def __init__(
        self, act: Act, check: Check, draft: Draft, at: dt.datetime, late: str, proof: Proof, by: Person
    ) -> None:
        self.act, self.check, self.draft, self.at = act, check, draft, at
        self.late, self.proof, self.by = late, proof, by

    def add(self, sheet: Sheet, *, result: Result | None = None, same: bool = False) -> ReadingSet:
        """Write one set: signed first, then row by row what the signature stands under."""
        of = ReadingSet(
            check_of=self.check,
            kind=sheet.stage,
            lost_because=sheet.lost[:200],
            same_as_found=same or (sheet.stage == "as left" and sheet.typed.get("done") == "nothing"),
            performed_at=self.at,
            recorded_at=self.act.at,
            recorded_by=self.by,
            late_because=self.late[:200],
        )
        rows = rows_for(of, sheet, result or sheet.result)
        of.signature = sign(
            self.act,
            site=self.check.site,
            person=self.by,
            proof=self.proof,
            meaning=self._meaning(sheet, of),
            digest=digest_of(self.check, rows),
        )
        self._store(rows)
        return of

    def _meaning(self, sheet: Sheet, of: ReadingSet) -> str:
        when = moment_words(self.at, self.check.site.zone)
        tag = self.check.position.tag
        if sheet.lost:
            return f"I say that as found at {tag} is lost, {when}"
        if of.same_as_found:
            return f"I cleaned and adjusted nothing at {tag}; as left is as found, {when}"
        if is_test(sheet.method):
            return f"I made this test at {tag} and wrote what I saw, {when}"
        told = {"as found": "before any cleaning or adjustment", "confirming": "in another lot", "as left": "as left"}
        return f"{KIND_WORDS[of.kind]}: I read these values at {tag}, {told[of.kind]}, {when}"[:160]

    def _store(self, rows: Rows) -> None:
        self.act.add(rows.set)
        self.act.add_all(rows.points)
        self.act.add_all(rows.entries)
        self.act.add_all(rows.answers)
        if rows.outcome is not None:
            self.act.add(rows.outcome)
            self.act.add_all(rows.figures)
