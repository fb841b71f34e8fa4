"""Routines: put into force, given another interval, retired."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass

from assets import history
from assets.errors import Reason, Refusal
from assets.history import UPKEEP, Act
from assets.models import Asset, Person, Position, Site
from assets.permissions import SUPERVISORS, must_have_role
from maintenance.actions.due import plans_of, rewrite_due, site_day
from maintenance.compute import schedule
from maintenance.models import Plan, PlanTerm


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """How often a routine is due, how many days before and after are allowed, and where that comes from.

    mode: fixed or floating; unit: day, week, month or year; anchor: first of the fixed days.
    """

    mode: str
    every: int
    unit: str
    source: str
    anchor: dt.date | None = None
    early: int = 7
    late: int = 0
    by_rule: bool = False


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
            facts={"kind": plan.kind, "interval": str(term), "source": term.source, "from": plan.activated_on},
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
            facts={"interval": str(term), "from": from_day, "why": term.why, "source": term.source},
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
    decided = site_day(act, plan)
    _refuse_interval(interval, from_day, act.at)
    return act.add(
        PlanTerm(
            plan=plan,
            why=why,
            from_day=from_day,
            decided_on=decided,
            recorded_at=act.at,
            recorded_by=by,
            **asdict(interval),
        )
    )


def _refuse_interval(interval: Interval, from_day: dt.date, now: dt.datetime) -> None:
    """Refuse what the formula could not work with, in its own words, and the rules a row would refuse less kindly."""
    reasons = []
    try:
        schedule.Term(
            mode=schedule.Mode(interval.mode),
            every=interval.every,
            unit=schedule.Unit(interval.unit),
            from_day=from_day,
            decided_on=from_day,
            recorded_at=now,
            anchor=interval.anchor,
            early=schedule.days(interval.early),
            late=schedule.days(interval.late),
        )
    except ValueError as wrong:
        reasons.append(Reason(str(wrong), "anchor" if str(wrong).startswith("Anchor") else "every"))
    if interval.by_rule and interval.late:
        reasons.append(Reason("Days it may be late: an interval demanded by a rule allows none; write 0.", "late"))
    if not interval.source.strip():
        reasons.append(Reason("Source: write where the interval comes from, or “from memory”.", "source"))
    if reasons:
        raise Refusal(reasons)


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
