"""What bears on routines from a day on: pauses, declared fulfilment, what must be so first; and the plant's hooks."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q

from assets import history
from assets.compute.numbers import NotANumber, read_number
from assets.compute.units import UnknownUnit, unit_of
from assets.compute.words import day_named
from assets.errors import Reason, Refusal
from assets.history import UPKEEP, Act
from assets.models import Person, Position, Reading, Site
from assets.permissions import SUPERVISORS, must_have_role
from maintenance.actions.due import plans_of, rewrite_all, rewrite_due
from maintenance.models import AlsoFulfils, Pause, Plan, PlanTerm, Prerequisite
from maintenance.models.routines import BY_READING, Mode


def _today(act: Act, site: Site) -> dt.date:
    return act.at.astimezone(site.zone).date()


def pause(*, target: Plan | Position, from_day: dt.date, because: str, by: Person) -> Pause:
    """Say that a routine, or every routine of a tag, is not owed from a day on: out of season, drained."""
    site = target.site
    must_have_role(by, site, SUPERVISORS, to="pause a routine")
    if not because.strip():
        raise Refusal("Because: write why nothing is owed: out of season, drained.", field="because")
    with history.act(site=site, by=by) as act:
        history.lock_site(UPKEEP, site)
        plan = target if isinstance(target, Plan) else None
        row = act.add(
            Pause(
                site=site,
                plan=plan,
                position=target if isinstance(target, Position) else None,
                from_day=from_day,
                because=because.strip(),
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        _rewrite(act, target)
        act.write("routine.paused", subject=target, facts={"from": from_day, "because": row.because})
    return row


def end_pause(*, pause: Pause, to_day: dt.date, by: Person) -> Pause:
    """Say that it is owed again from a day on; work that fell out is owed before use."""
    site = pause.site
    must_have_role(by, site, SUPERVISORS, to="end a pause")
    if to_day < pause.from_day:
        raise Refusal(
            f"Until: the pause began on {day_named(pause.from_day)}; give that day or a later one.", field="to_day"
        )
    with history.act(site=site, by=by) as act:
        history.lock_site(UPKEEP, site)
        act.close(pause, to_day=to_day, to_recorded_at=act.at, to_recorded_by=by)
        target: Plan | Position | None = pause.plan or pause.position
        assert target is not None
        _rewrite(act, target)
        act.write("routine.resumed", subject=target, facts={"from": to_day, "because": pause.because})
    return pause


def _rewrite(act: Act, target: Plan | Position) -> None:
    rewrite_all(act, [target] if isinstance(target, Plan) else plans_of(target))


def declare_fulfils(*, plan: Plan, fulfils: Plan, from_day: dt.date, by: Person) -> AlsoFulfils:
    """Say that the work of a routine counts for another one as well, from a day on."""
    must_have_role(by, plan.site, SUPERVISORS, to="say what a routine fulfils")
    if plan.site_id != fulfils.site_id or plan.pk == fulfils.pk:
        raise Refusal("Choose another routine of this site.", field="fulfils")
    with history.act(site=plan.site, by=by) as act:
        history.lock_site(UPKEEP, plan.site)
        row = act.add(AlsoFulfils(plan=plan, fulfils=fulfils, from_day=from_day, recorded_at=act.at, recorded_by=by))
        rewrite_due(act, fulfils)
        act.write("routine.fulfils_too", subject=plan, facts={"fulfils": str(fulfils), "from": from_day})
    return row


def end_fulfils(*, declared: AlsoFulfils, to_day: dt.date, by: Person) -> AlsoFulfils:
    """Say that it does not count there any more, from a day on."""
    site = declared.plan.site
    must_have_role(by, site, SUPERVISORS, to="say what a routine fulfils")
    if to_day < declared.from_day:
        raise Refusal(
            f"From: it counted from {day_named(declared.from_day)}; give that day or a later one.", field="to_day"
        )
    with history.act(site=site, by=by) as act:
        history.lock_site(UPKEEP, site)
        act.close(declared, to_day=to_day, to_recorded_at=act.at, to_recorded_by=by)
        rewrite_due(act, declared.fulfils)
        facts = {"fulfilled": str(declared.fulfils), "until": to_day}
        act.write("routine.fulfils_no_more", subject=declared.plan, facts=facts)
    return declared


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedTyped:
    """What must be so first, as typed: a lockout, another routine, or a reading with its limits."""

    kind: str
    words: str
    routine: Plan | None = None
    position: Position | None = None
    reads: str = ""
    unit: str = ""
    low: str = ""
    high: str = ""


def require_first(*, plan: Plan, need: NeedTyped, by: Person) -> Prerequisite:
    """Say what must be so before the work of a routine can start; it stops nothing, it is said."""
    must_have_role(by, plan.site, SUPERVISORS, to="say what must be so first")
    reasons = _need_faults(plan, need)
    if reasons:
        raise Refusal(reasons)
    with history.act(site=plan.site, by=by) as act:
        row = act.add(
            Prerequisite(
                plan=plan,
                kind=need.kind,
                words=need.words.strip(),
                routine=need.routine if need.kind == "routine" else None,
                position=need.position if need.kind == "reading" else None,
                reads=need.reads.strip() if need.kind == "reading" else "",
                unit=unit_of(need.unit).code if need.kind == "reading" else "",
                low=need.low.strip().replace(",", ".") if need.kind == "reading" else "",
                high=need.high.strip().replace(",", ".") if need.kind == "reading" else "",
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        act.write("routine.needs_first", subject=plan, facts={"needs": row.words, "kind": row.kind})
    return row


def _need_faults(plan: Plan, need: NeedTyped) -> list[Reason]:
    reasons = []
    if not need.words.strip():
        reasons.append(Reason("In words: write what must be so first.", "words"))
    if need.kind == "lockout" and plan.position is None:
        reasons.append(Reason("A lockout is that of a tag, and this routine has none.", "kind"))
    if need.kind == "routine" and (need.routine is None or need.routine.site_id != plan.site_id):
        reasons.append(Reason("Routine: choose the one that is done first.", "routine"))
    if need.kind == "reading":
        reasons.extend(_reading_faults(plan, need))
    return reasons


def _reading_faults(plan: Plan, need: NeedTyped) -> list[Reason]:
    reasons = []
    if need.position is None or need.position.site_id != plan.site_id:
        reasons.append(Reason("Read at: choose the tag.", "position"))
    if not need.reads.strip():
        reasons.append(Reason("Which reading: write its name as it is written with the readings.", "reads"))
    if not need.low.strip() and not need.high.strip():
        reasons.append(Reason("Lowest good value: write it, or the highest.", "low"))
    for name in ("low", "high"):
        text = getattr(need, name)
        try:
            read_number(text or "0", decimal_mark=plan.site.decimal_mark)
        except NotANumber as wrong:
            reasons.append(Reason(str(wrong), name))
    try:
        unit_of(need.unit)
    except UnknownUnit as wrong:
        reasons.append(Reason(str(wrong), "unit"))
    return reasons


def end_need(*, need: Prerequisite, by: Person) -> Prerequisite:
    """Say that it need not be so first any more."""
    must_have_role(by, need.plan.site, SUPERVISORS, to="say what must be so first")
    with history.act(site=need.plan.site, by=by) as act:
        act.close(need, ended_at=act.at, ended_by=by)
        act.write("routine.needs_no_more", subject=need.plan, facts={"needed": need.words})
    return need


def after_reading(act: Act, reading: Reading) -> None:
    """After a reading was written or corrected: routines that count it, watch it or work with it are worked out anew.

    One that is corrected under another name moves those of its old name too.
    """
    own, goes_in = Q(reads__iexact=reading.what), Q(inputs__reads__iexact=reading.what)
    if reading.replaces is not None:
        own |= Q(reads__iexact=reading.replaces.what)
        goes_in |= Q(inputs__reads__iexact=reading.replaces.what)
    terms = PlanTerm.objects.filter(mode__in=BY_READING, plan__site=reading.site_id)
    if not terms.filter(own | goes_in).exists():  # so it is of nearly every number of a walk
        return
    at = Q(reads_at=reading.position_id) | Q(reads_at=None, plan__position=reading.position_id)
    goes_in_at = Q(inputs__reads_at=reading.position_id)
    if reading.asset_id is not None:
        fitted = Q(plan__position__fittings__asset=reading.asset_id)
        at = Q(plan__asset=reading.asset_id) | fitted | Q(reads_at__fittings__asset=reading.asset_id)
        goes_in_at = Q(inputs__reads_at__fittings__asset=reading.asset_id)
    named = terms.filter((own & at) | (goes_in & goes_in_at), plan__retired_at=None)
    _rewrite_all(act, Q(pk__in=named.values("plan")))


def after_running(act: Act, site: Site, unit: Position | None) -> None:
    """After a unit started or stopped: routines that go by its running are worked out anew."""
    terms = PlanTerm.objects.filter(Q(mode=Mode.RUNNING) | Q(while_running=True), plan__site=site)
    mine = Q(position=unit) if unit is not None else Q()
    _rewrite_all(act, Q(pk__in=terms.values("plan")) & mine)


def after_days(act: Act, site: Site) -> None:
    """After a rule of the site was set: routines by use, whose meters may now be too old, are worked out anew."""
    terms = PlanTerm.objects.filter(mode__in=[Mode.USAGE, Mode.FIRST_OF], plan__site=site)
    _rewrite_all(act, Q(pk__in=terms.values("plan")))


def _rewrite_all(act: Act, which: Q) -> None:
    plans = list(Plan.objects.standing().filter(which).select_related("site").order_by("pk"))
    if plans:
        rewrite_all(act, plans)
