"""A standard is withdrawn from a day on: every check that relied on it says so, and no longer counts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection

from assets import history
from assets.compute.canonical import digest
from assets.compute.words import day_named
from assets.errors import Reason, Refusal, Stale
from assets.history import UPKEEP, Act, lock_site
from assets.models import Asset, FitForUse, Person, Site
from assets.permissions import SUPERVISORS, must_have_role
from assets.proofs import Proof, sign
from calibration.models import Check, Lot, LotFact, ReadingSet, Recall, RelianceWithdrawal
from calibration.reads.consequences import cut, key_of, path_of
from calibration.reads.recall import Reach, reach_of, recall_key
from maintenance.actions.performances import record_performance
from maintenance.models import Performance


def withdraw_standard(
    *,
    site: Site,
    standard: Lot | Asset,
    from_day: dt.date,
    because: str,
    seen: Collection[int],
    proof: Proof,
    by: Person,
) -> Recall:
    """Withdraw a lot or an instrument from a day on, signed; nothing that was signed before is changed.

    `seen`: the numbers of the checks that the person was shown. Raises Stale when others are reached by now.
    """
    must_have_role(by, site, SUPERVISORS, to="withdraw a standard")
    lot = standard if isinstance(standard, Lot) else None
    asset = standard if isinstance(standard, Asset) else None
    with history.act(site=site, by=by) as act:
        lock_site(UPKEEP, site)
        _refuse(site, standard, from_day, because, act.at.astimezone(site.zone).date())
        reach = reach_of(site=site, lot=lot, asset=asset, from_day=from_day)
        numbers = sorted(one.check.number for one in reach.checks.values())
        if numbers != sorted(seen):
            raise Stale("Other checks rely on it than this page showed. Nothing was withdrawn; look at the list again.")
        called = f"lot {lot.number}" if lot is not None else str(asset)
        content = {"standard": called, "from": from_day, "because": because.strip(), "checks": numbers}
        meaning = f"withdraws {called} from {day_named(from_day)} on"
        signature = sign(act, site=site, person=by, proof=proof, meaning=meaning, digest=digest(content))
        recall = act.add(
            Recall(
                site=site,
                lot=lot,
                asset=asset,
                from_day=from_day,
                because=because.strip(),
                signature=signature,
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        _mark(act, recall, reach, called)
        act.write("standard.withdrawn", subject=standard, facts=content)
        for one in reach.checks.values():
            _take_back(one.check, recall, called, by)
    return recall


def _refuse(site: Site, standard: Lot | Asset, from_day: dt.date, because: str, today: dt.date) -> None:
    reasons: list[Reason] = []
    if standard.site_id != site.pk:
        reasons.append(Reason("This standard belongs to another site."))
    if from_day > today:
        reasons.append(
            Reason(f"From: {from_day} has not come yet; write the day since when it is in doubt.", "from_day")
        )
    if not because.strip():
        reasons.append(Reason("Because: nothing is written. Say what was found.", "because"))
    if reasons:
        raise Refusal(reasons)


def _mark(act: Act, recall: Recall, reach: Reach, called: str) -> None:
    """Write the withdrawal beside each check, and that the standard and the meters checked by it must not be used."""
    because = recall.because
    act.add_all(
        [
            RelianceWithdrawal(
                recall=recall,
                check_of=one.check,
                standard=called[:160],
                because=because,
                through=one.through[:400],
                recorded_at=act.at,
            )
            for one in reach.checks.values()
        ]
    )
    if recall.lot is not None and _not_out_of_use(recall.lot):
        day = act.at.astimezone(recall.site.zone).date()
        why = f"withdrawn: {because}"[:200]
        act.add(LotFact(lot=recall.lot, kind="quarantined", day=day, why=why, recorded_at=act.at, recorded_by=act.by))
    unfit = {pk: f"its {through} relied on {called}, which is withdrawn" for pk, through in reach.meters.items()}
    if recall.asset is not None:
        unfit[recall.asset.pk] = f"withdrawn: {because}"
    path = recall.get_absolute_url()
    for pk, why in sorted(unfit.items()):
        act.add(
            FitForUse(asset_id=pk, fit=False, why=why[:200], source_path=path, recorded_at=act.at, recorded_by=act.by)
        )


def _not_out_of_use(lot: Lot) -> bool:
    kinds = [fact.kind for fact in lot.facts.order_by("recorded_at", "id") if fact.kind != "opened"]
    return not kinds or kinds[-1] == "released"


def _take_back(check: Check, recall: Recall, called: str, by: Person) -> None:
    """Let what the check counted for be owed again: its record is followed by one that does not count."""
    if check.plan is None:
        return
    kinds = ReadingSet.objects.filter(check_of=check).values_list("kind", flat=True)
    keys = [key_of(check, kind) for kind in kinds]
    for old in Performance.objects.standing().filter(plan=check.plan, key__in=keys, counts=True):
        record_performance(
            plan=check.plan,
            key=recall_key(check, recall),
            performed_at=old.performed_at,
            counts=False,
            because=cut(f"reliance on {called} was withdrawn: {recall.because}"),
            asset=check.asset,
            source_label=f"Check {check.number}",
            source_path=path_of(check),
            by=by,
            replaces=old,
        )
