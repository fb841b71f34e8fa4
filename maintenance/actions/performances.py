"""Work on a routine is recorded: done, or not and why. Its due items follow in the same act."""

from __future__ import annotations

import datetime as dt

from assets import history
from assets.errors import Reason, Refusal, Stale
from assets.history import UPKEEP
from assets.models import Asset, Fitting, Person
from assets.permissions import OPERATORS, must_have_role
from maintenance.actions.due import rewrite_due
from maintenance.compute.schedule import ENTERED_BY_MISTAKE
from maintenance.models import Occurrence, Performance, Plan

COULD_NOT = "could not be done: "
# A phone's clock may be a little ahead of the plant's.
AHEAD_OF_NOW = dt.timedelta(minutes=1)


def record_performance(  # noqa: PLR0913 - one fact, each part of it named by its caller in another app
    *,
    plan: Plan,
    key: str,
    performed_at: dt.datetime,
    counts: bool,
    because: str,
    asset: Asset | None,
    source_label: str,
    source_path: str,
    by: Person,
    replaces: Performance | None = None,
) -> Performance:
    """Record one time that a routine's work was done, counting or not and why not.

    The same key again gives the record made the first time and changes nothing. `asset` None: what was fitted then.
    """
    must_have_role(by, plan.site, OPERATORS, to="record the work of a routine")
    with history.act(site=plan.site, by=by) as act:
        history.lock_site(UPKEEP, plan.site)
        earlier = Performance.objects.filter(key=key).first()
        if earlier is not None:
            return _same(earlier, plan)
        _refuse_impossible(plan, performed_at, act.at, replaces)
        if asset is not None and asset.site_id != plan.site_id:
            raise Refusal(f"{asset} belongs to another site.", field="asset")
        row = act.add(
            Performance(
                plan=plan,
                key=key,
                performed_at=performed_at,
                performed_on=performed_at.astimezone(plan.site.zone).date(),
                counts=counts,
                because=because,
                asset=asset or _fitted(plan, performed_at),
                replaces=replaces,
                source_label=source_label,
                source_path=source_path,
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        items = rewrite_due(act, plan)
        act.write(
            "performance.recorded" if replaces is None else "performance.corrected",
            subject=plan,
            happened_at=performed_at,
            facts={
                "counts": counts,
                "because": because,
                "source": source_label,
                "path": source_path,
                "closed": [item.turn for item in sorted(items, key=lambda item: item.due) if item.by_act == key],
                "replaces": replaces.key if replaces else "",
            },
        )
    return row


def record_work(
    *, occurrence: Occurrence, performed_at: dt.datetime, what: str, could_not: str, key: str, by: Person
) -> Performance:
    """Record in words that a due item's work was done, or why it could not be.

    Raises Stale when the due item has ended meanwhile: somebody else did it, and the person decides anew.
    """
    plan = occurrence.plan
    if not plan.by_hand:
        raise Refusal(f"{plan.title} is fulfilled by a signed record of what was measured, not in words.")
    with history.act(site=plan.site, by=by):
        history.lock_site(UPKEEP, plan.site)
        _refuse_ended(occurrence, key)
        return record_performance(
            plan=plan,
            key=key,
            performed_at=performed_at,
            counts=not could_not,
            because=f"{COULD_NOT}{could_not}" if could_not else "",
            asset=None,
            source_label=what or "not done",
            source_path="",
            by=by,
        )


def correct_work(
    *, wrong: Performance, performed_at: dt.datetime, what: str, mistake: bool, key: str, by: Person
) -> Performance:
    """Put a record in words right: another time, other words, or that the work was never done."""
    if not wrong.plan.by_hand:
        raise Refusal("A signed record is corrected by a new signed record.")
    return record_performance(
        plan=wrong.plan,
        key=key,
        performed_at=performed_at,
        counts=wrong.counts and not mistake,
        because=ENTERED_BY_MISTAKE if mistake else wrong.because,
        asset=wrong.asset,
        source_label=what,
        source_path="",
        by=by,
        replaces=wrong,
    )


def _refuse_ended(occurrence: Occurrence, key: str) -> None:
    if Performance.objects.filter(key=key).exists():
        return
    now = Occurrence.objects.filter(pk=occurrence.pk).select_related("performance__recorded_by").first()
    if now is not None and now.ended == "open":
        return
    if now is not None and now.performance is not None:
        who = now.performance.recorded_by.name
        raise Stale(f"This due item was recorded as done by {who} meanwhile. Nothing was changed; look again.")
    raise Stale("This due item has ended meanwhile. Nothing was changed; look at the routine.")


def _same(earlier: Performance, plan: Plan) -> Performance:
    if earlier.plan_id != plan.pk:
        raise Refusal(f"This record was counted for {earlier.plan} already; one record fulfils one routine.")
    return earlier


def _refuse_impossible(plan: Plan, performed_at: dt.datetime, now: dt.datetime, replaces: Performance | None) -> None:
    reasons = []
    if performed_at > now + AHEAD_OF_NOW:
        reasons.append(Reason("Done when: this time has not come yet; write when it was done.", "performed_at"))
    if plan.retired_at is not None and performed_at > plan.retired_at:
        reasons.append(Reason(f"The routine was retired before that: {plan.retired_because}.", "performed_at"))
    if replaces is not None and replaces.plan_id != plan.pk:
        reasons.append(Reason("A correction belongs to the routine of the record it corrects."))
    if replaces is not None and Performance.objects.filter(replaces=replaces).exists():
        reasons.append(Reason("This record has been corrected already; correct the newest one."))
    if reasons:
        raise Refusal(reasons)


def _fitted(plan: Plan, moment: dt.datetime) -> Asset | None:
    if plan.position_id is None:
        return plan.asset
    fitting = Fitting.objects.on(moment).filter(position=plan.position_id).select_related("asset").first()
    return fitting.asset if fitting else None
