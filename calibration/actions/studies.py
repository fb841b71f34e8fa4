"""What a person makes of a history: a baseline is fixed, advice on an interval is taken or left."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, replace
from typing import Any

from assets import history
from assets.compute.canonical import canonical
from assets.errors import Reason, Refusal, Stale
from assets.models import Person, Site
from assets.permissions import SUPERVISORS, must_have_role
from calibration.compute.studies.baseline import MINIMUM
from calibration.models import Baseline, IntervalDecision, PooledStudy, ReadingSet, Requirement
from calibration.reads.history import advice_named
from calibration.reads.seen import seen_of
from maintenance.actions.routines import Interval, change_term, interval_of
from maintenance.models import PlanTerm


def fix_baseline(*, requirement: Requirement, figure: str, first: int, last: int, why: str, by: Person) -> Baseline:
    """Fix the stretch of checks that the limits of a chart are taken from; `first` and `last` are as found sets."""
    must_have_role(by, requirement.site, SUPERVISORS, to="fix a baseline")
    seen = seen_of(requirement, figure)
    places = {one.set_id: number for number, one in enumerate(seen)}
    reasons = _baseline_faults(places, first, last, why)
    if reasons:
        raise Refusal(reasons)
    with history.act(site=requirement.site, by=by) as act:
        row = act.add(
            Baseline(
                requirement=requirement,
                figure=figure,
                first=ReadingSet.objects.get(pk=first),
                last=ReadingSet.objects.get(pk=last),
                why=why.strip(),
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        act.write("baseline.fixed", subject=requirement, facts={"figure": figure, "why": why})
    return row


def _baseline_faults(places: dict[int, int], first: int, last: int, why: str) -> list[Reason]:
    reasons: list[Reason] = []
    for field, which, words in (("first", first, "From"), ("last", last, "To")):
        if which not in places:
            reasons.append(Reason(f"{words}: this check is not among the valid as found results here.", field))
    if reasons:
        return reasons
    count = places[last] - places[first] + 1
    if count < 1:
        reasons.append(Reason("To: this check is before the first one; choose a later one.", "last"))
    elif count < MINIMUM:
        sentence = f"To: these are {count} checks; a baseline takes at least {MINIMUM} good ones."
        reasons.append(Reason(sentence, "last"))
    if not why.strip():
        reasons.append(Reason("Because: nothing is written. Say why these checks stand for good ones.", "why"))
    return reasons


def decide_interval(
    *, requirement: Requirement, method: str, days: int, taken: bool, why: str, from_day: dt.date, by: Person
) -> IntervalDecision:
    """Take or leave advice on an interval, as it was shown (`days`); taken, the routine gets it from a day on."""
    must_have_role(by, requirement.site, SUPERVISORS, to="decide on an interval")
    advice = advice_named(requirement, method)
    if advice is None or advice.days is None or advice.days != days:
        raise Stale("The advice has changed since this page was shown; look again before you decide.")
    if not why.strip():
        raise Refusal("Because: nothing is written. Say why the advice is taken or left.", field="why")
    plan = requirement.plan
    if plan is None:
        raise Refusal("No routine asks for this check, so there is no interval to change.")
    with history.act(site=requirement.site, by=by) as act:
        if taken:
            term = PlanTerm.objects.filter(plan=plan).order_by("-from_day", "-pk").first()
            change_term(plan=plan, interval=_interval(term, days, method), from_day=from_day, why=why, by=by)
        row = act.add(
            IntervalDecision(
                requirement=requirement,
                method=method,
                advice=canonical({name: str(value) for name, value in asdict(advice).items()}),
                taken=taken,
                days_before=advice.now,
                days_after=days if taken else advice.now,
                why=why.strip()[:200],
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        verb = "interval.advice taken" if taken else "interval.advice left"
        act.write(verb, subject=requirement, facts={"method": method, "days": days, "why": why})
    return row


def _interval(term: PlanTerm | None, days: int, method: str) -> Interval:
    """The interval as it was, its season and all, but for its days."""
    source = f"advice by {method}, taken by a person"
    now = interval_of(term) if term is not None else Interval(mode="floating", source=source)
    return replace(now, every=days, unit="day", source=source, early=min(now.early, max(days - 1, 0)))


def store_pooled(*, site: Site, method: str, body: dict[str, Any], by: Person | None) -> PooledStudy:
    """Keep what like instruments say together, in place of what was kept before; worked out, so no act of a person."""
    with history.act(site=site, by=by) as act:
        PooledStudy.objects.filter(site=site, method=method).delete()
        row = act.add(PooledStudy(site=site, method=method, body=canonical(body), made_at=act.at))
        act.write("study.pooled", subject=site, facts={"method": method, "n": body["n"]})
    return row
