"""Routines: put into force, given another interval, retired."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from typing import Any

from assets import history
from assets.compute.numbers import NotANumber, normal_text, read_number
from assets.compute.units import UnknownUnit, unit_of
from assets.errors import Reason, Refusal
from assets.history import UPKEEP, Act
from assets.models import Asset, Person, Position, Site
from assets.permissions import SUPERVISORS, must_have_role
from maintenance.actions.due import plans_of, rewrite_due, site_day
from maintenance.actions.worked_out import WorkedOut, columns_of, inputs_from
from maintenance.compute.season import LEAP_YEAR
from maintenance.models import Plan, PlanTerm
from maintenance.models.routines import BY_READING, Mode
from maintenance.reads.stretch_facts import term_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """How often a routine is due, how many days before and after are allowed, and where that comes from.

    mode: fixed, floating, period, running, usage, first of, condition; unit: day, week, month or year, not read by
    use, on running days and on a condition; anchor: first of the fixed days. `reads` at `reads_at` (None: its own tag,
    and what is fitted there) in `reads_unit` is counted by use, or watched on a condition; its numbers as typed.
    worked_out: the condition watches a value that is worked out, its limits in `reads_unit`. season_first, season_last:
    owed only between these days of each year, both included; the year of them is not read.
    """

    mode: str
    source: str
    every: int = 1
    unit: str = "day"
    anchor: dt.date | None = None
    early: int = 7
    late: int = 0
    early_percent: int | None = None
    late_percent: int | None = None
    by_rule: bool = False
    while_running: bool | None = None
    spacing: int | None = None
    bench: bool | None = None
    reads: str = ""
    reads_at: Position | None = None
    reads_unit: str = ""
    use_every: str = ""
    use_early: str = ""
    use_late: str = ""
    low: str = ""
    high: str = ""
    answer_days: int | None = None
    season_first: dt.date | None = None
    season_last: dt.date | None = None
    worked_out: WorkedOut | None = None


def interval_of(term: PlanTerm) -> Interval:
    """The interval that a term holds, to be given anew with something else in it; no value that is worked out."""
    return Interval(**{one.name: getattr(term, one.name) for one in fields(Interval) if one.name != "worked_out"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What a routine asks for: kind is calibrate, verify, inspect or upkeep; follows is position or asset."""

    kind: str
    title: str
    minutes: int = 30
    follows: str = "position"


def register_routine(
    *,
    site: Site,
    target: Position | Asset,
    work: Work,
    interval: Interval,
    by: Person,
    activated_on: dt.date | None = None,
) -> Plan:
    """Put a routine into force, today unless a day is given. Without a record it is due on that day."""
    must_have_role(by, site, SUPERVISORS, to="register a routine")
    _refuse_target(site, target)
    with history.act(site=site, by=by) as act:
        history.lock_site(UPKEEP, site)
        today = act.at.astimezone(site.zone).date()
        plan = act.add(
            Plan(
                site=site,
                position=target if isinstance(target, Position) else None,
                asset=target if isinstance(target, Asset) else None,
                activated_on=activated_on or today,
                **asdict(work),
            )
        )
        term = _add_term(act, plan, interval, from_day=plan.activated_on, by=by)
        rewrite_due(act, plan)
        act.write(
            "routine.registered",
            subject=plan,
            facts={
                **{"kind": plan.kind, "interval": str(term), "source": term.source, "from": plan.activated_on},
                **_goes_in(term),
            },
        )
    return plan


def change_term(*, plan: Plan, interval: Interval, from_day: dt.date, why: str, by: Person) -> PlanTerm:
    """Give a routine another interval from a day on, decided now; what is overdue by then stays overdue."""
    must_have_role(by, plan.site, SUPERVISORS, to="change the interval of a routine")
    if not why.strip():
        raise Refusal("Reason of the change: write why the interval changes.", field="why")
    with history.act(site=plan.site, by=by) as act:
        history.lock_site(UPKEEP, plan.site)
        _refuse_retired(plan)
        term = _add_term(act, plan, interval, from_day=from_day, by=by, why=why.strip())
        rewrite_due(act, plan)
        act.write(
            "routine.term_changed",
            subject=plan,
            facts={
                **{"interval": str(term), "from": from_day, "why": term.why, "source": term.source},
                **_goes_in(term),
            },
        )
    return term


def retire_routine(*, plan: Plan, because: str, by: Person) -> Plan:
    """End a routine; what is still open of it is withdrawn with the reason, not missed."""
    must_have_role(by, plan.site, SUPERVISORS, to="retire a routine")
    if not because.strip():
        raise Refusal("Reason: write why the routine ends.", field="because")
    with history.act(site=plan.site, by=by) as act:
        history.lock_site(UPKEEP, plan.site)
        _refuse_retired(plan)
        _retire(act, plan, because.strip())
    return plan


def retire_with(act: Act, target: Position | Asset) -> None:
    """After a tag or an asset was retired: its routines end with it."""
    what = "tag" if isinstance(target, Position) else "asset"
    for plan in plans_of(target):
        _retire_apart(plan, f"the {what} was retired", act.by)


def _retire_apart(plan: Plan, because: str, by: Person | None) -> None:
    """Retire a routine as an act of its own inside the act that is the reason."""
    with history.act(site=plan.site, by=by) as own:
        _retire(own, plan, because)


def _retire(act: Act, plan: Plan, because: str) -> None:
    act.change(
        plan,
        expect={"retired_at": None},
        retired_at=act.at,
        retired_on=site_day(act, plan),
        retired_because=because,
    )
    rewrite_due(act, plan)
    act.write("routine.retired", subject=plan, facts={"because": because})


def _add_term(act: Act, plan: Plan, interval: Interval, *, from_day: dt.date, by: Person, why: str = "") -> PlanTerm:
    term = PlanTerm(
        plan=plan,
        why=why,
        from_day=from_day,
        decided_on=site_day(act, plan),
        recorded_at=act.at,
        recorded_by=by,
        **_columns(interval, plan.site),
    )
    reasons = _term_faults(term, plan)
    inputs = []
    try:
        if interval.worked_out is not None:
            inputs = inputs_from(interval.worked_out, plan.site, term.reads_unit)
    except Refusal as refusal:
        reasons = [*refusal.reasons, *reasons]
    if reasons:
        raise Refusal(reasons)
    row = act.add(term)
    for one in inputs:
        one.term = row
        act.add(one)
    return row


def _goes_in(term: PlanTerm) -> dict[str, Any]:
    """What an event says of a value that is worked out; nothing where none is."""
    if not term.computes:
        return {}
    return {
        "goes in": [str(one) for one in term.inputs.select_related("reads_at")],
        "baseline from": term.baseline_from,
    }


def _columns(interval: Interval, site: Site) -> dict[str, Any]:
    """The columns of a term, numbers with a point, the unit in its own spelling."""
    reasons = list(_faults(interval, site))
    if reasons:
        raise Refusal(reasons)
    columns = {one.name: getattr(interval, one.name) for one in fields(interval) if one.name != "worked_out"}
    for name in _NUMBERS:
        columns[name] = normal_text(columns[name])
    for name in ("season_first", "season_last"):
        columns[name] = columns[name] and columns[name].replace(year=LEAP_YEAR)
    columns["reads"], columns["source"] = interval.reads.strip(), interval.source.strip()
    columns["reads_unit"] = unit_of(interval.reads_unit).code if interval.reads_unit.strip() else ""
    return {**columns, **(columns_of(interval.worked_out) if interval.worked_out is not None else {})}


_NUMBERS = ("use_every", "use_early", "use_late", "low", "high")


def _faults(interval: Interval, site: Site) -> Iterator[Reason]:
    """What cannot be read of an interval, each with its box."""
    for name in _NUMBERS:
        try:
            read_number(getattr(interval, name).strip() or "0", decimal_mark=site.decimal_mark)
        except NotANumber as wrong:
            yield Reason(str(wrong), name)
    try:
        unit_of(interval.reads_unit.strip() or "h")
    except UnknownUnit as wrong:
        yield Reason(f"Unit of the reading: {wrong}", "reads_unit")
    if interval.reads_at is not None and interval.reads_at.site_id != site.pk:
        yield Reason("Read at: choose a tag of this site.", "reads_at")
    if not interval.source.strip():
        yield Reason("Source: write where the interval comes from, or “from memory”.", "source")
    if (interval.season_first is None) is not (interval.season_last is None):
        yield Reason("Season: write its first and its last day, or neither.", "season_first")


# Which box of the form a sentence of the formula is about, by how it begins.
_BOXES = {
    "Anchor": "anchor",
    "Use": "use_every",
    "Allowed": "use_early",
    "Limits": "low",
    "Days to answer": "answer_days",
    "Period": "unit",
    "Least days": "spacing",
    "Days allowed": "late",
    "Season": "season_first",
}


def _term_faults(term: PlanTerm, plan: Plan) -> list[Reason]:
    """What the formula could not work with, in its own words, and the rules a row would refuse less kindly."""
    reasons = []
    if term.mode in BY_READING and not (term.reads and term.reads_unit):
        reasons.append(
            Reason("Which reading: write its name as it is written with the readings, and its unit.", "reads")
        )
    nowhere = term.reads_at is None and plan.position is None and plan.asset is None
    if term.mode in BY_READING and not term.computes and nowhere:
        reasons.append(Reason("Read at: choose the tag where it is read.", "reads_at"))
    if term.computes and term.mode != Mode.CONDITION:
        reasons.append(Reason("Next due day: a value that is worked out belongs to a condition.", "mode"))
    try:
        term_of(term)
    except ValueError as wrong:
        box = next((name for begins, name in _BOXES.items() if str(wrong).startswith(begins)), "every")
        reasons.append(Reason(str(wrong), box))
    if term.by_rule and (term.late or term.late_percent):
        reasons.append(Reason("Days it may be late: an interval demanded by a rule allows none; write 0.", "late"))
    return reasons


def _refuse_target(site: Site, target: Position | Asset) -> None:
    what = "tag" if isinstance(target, Position) else "asset"
    if target.site_id != site.pk:
        raise Refusal(f"This {what} belongs to another site.", field="position")
    if target.retired_at is not None:
        raise Refusal(f"{target} is retired; a routine needs a {what} that is in use.", field="position")


def _refuse_retired(plan: Plan) -> None:
    plan.refresh_from_db(fields=["retired_at", "retired_because"])
    if plan.retired_at is not None:
        raise Refusal(f"This routine is retired already, because {plan.retired_because}.")
