"""Rules of the site with their dates: settings, holidays, and when the plant or a unit ran."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assets import hooks
from assets.compute.site_rules import BY_NAME, as_written
from assets.errors import Reason, Refusal
from assets.history import PLANT, act, lock_site
from assets.models import Holiday, Person, Position, Production, Setting, Site
from assets.permissions import OPERATORS, SUPERVISORS, must_have_role


@dataclass(frozen=True, slots=True)
class RuleTyped:
    """A rule as typed: its value, where it comes from, why it is set, and from which day it holds."""

    name: str
    value: str
    source: str
    why: str
    from_day: dt.date


def set_rule(*, site: Site, typed: RuleTyped, by: Person) -> Setting:
    """Set a rule of the site from a day on; the newest of a name counts, older ones stay for what they ruled."""
    must_have_role(by, site, SUPERVISORS, to="set a rule of the site")
    rule = BY_NAME.get(typed.name)
    if rule is None:
        raise Refusal("There is no such rule of a site.", field="name")
    faults: list[Reason] = []
    value = ""
    try:
        value = as_written(rule, typed.value, decimal_mark=site.decimal_mark)
    except ValueError as wrong:
        faults.append(Reason(str(wrong), "value"))
    if not typed.source.strip():
        faults.append(Reason("Write where it comes from: the permit, the rule and its clause, or “our own”.", "source"))
    if not typed.why.strip():
        faults.append(Reason("Write why it is set so.", "why"))
    if faults:
        raise Refusal(faults)
    with act(site=site, by=by) as opened:
        row = opened.add(
            Setting(
                site=site,
                name=rule.name,
                value=value,
                source=typed.source.strip(),
                why=typed.why.strip(),
                from_day=typed.from_day,
                recorded_at=opened.at,
                recorded_by=by,
            )
        )
        facts = {"rule": rule.label, "value": value, "from": typed.from_day, "source": row.source, "why": row.why}
        opened.write("rule.set", subject=site, facts=facts)
        for taker in hooks.after_days_change:
            taker(opened, site)
    return row


def add_holiday(*, site: Site, day: dt.date, name: str, by: Person) -> Holiday:
    """Write a day that is no working day at the site."""
    must_have_role(by, site, SUPERVISORS, to="write a holiday")
    if not name.strip():
        raise Refusal("Write which holiday it is.", field="name")
    with act(site=site, by=by) as opened:
        if Holiday.objects.standing().filter(site=site, day=day).exists():
            raise Refusal("This day is written as a holiday already.", field="day")
        row = opened.add(Holiday(site=site, day=day, name=name.strip(), recorded_at=opened.at, recorded_by=by))
        opened.write("holiday.added", subject=site, facts={"day": day, "name": row.name})
        for taker in hooks.after_days_change:
            taker(opened, site)
    return row


def withdraw_holiday(*, holiday: Holiday, because: str, by: Person) -> Holiday:
    """Say that a day written as a holiday is a working day after all."""
    must_have_role(by, holiday.site, SUPERVISORS, to="withdraw a holiday")
    if not because.strip():
        raise Refusal("Write why it is no holiday after all.", field="because")
    with act(site=holiday.site, by=by) as opened:
        opened.close(holiday, withdrawn_at=opened.at, withdrawn_by=by, withdrawn_because=because.strip())
        facts = {"day": holiday.day, "name": holiday.name, "because": because.strip()}
        opened.write("holiday.withdrawn", subject=holiday.site, facts=facts)
        for taker in hooks.after_days_change:
            taker(opened, holiday.site)
    return holiday


def start_running(*, site: Site, unit: Position | None, by: Person, at: dt.datetime | None = None) -> Production:
    """Write that a unit, or the whole plant, began to make water, now or at an earlier moment (aware)."""
    must_have_role(by, site, OPERATORS, to="write that a unit was started")
    if unit is not None and (unit.site_id != site.pk or unit.retired_at is not None):
        raise Refusal("Choose a tag of this site that is not retired.", field="unit")
    with act(site=site, by=by) as opened:
        lock_site(PLANT, site)
        moment = _moment(opened.at, at)
        running = Production.objects.now().filter(site=site, position=unit).first()
        if running is not None:
            raise Refusal(f"{_called(unit)} is written as running already; write that it stopped first.", field="at")
        later = Production.objects.standing().filter(site=site, position=unit, to_at__gt=moment)
        if later.exists():
            raise Refusal(f"{_called(unit)} is written as running at that moment; look at day and time.", field="at")
        row = opened.add(Production(site=site, position=unit, from_at=moment, from_by=by, recorded_at=opened.at))
        opened.write("running.started", subject=unit or site, facts={"unit": _called(unit)}, happened_at=moment)
        for taker in hooks.after_running_change:
            taker(opened, site, unit)
    return row


def stop_running(*, running: Production, by: Person, at: dt.datetime | None = None) -> Production:
    """Write that a unit, or the whole plant, stopped making water, now or at an earlier moment (aware)."""
    must_have_role(by, running.site, OPERATORS, to="write that a unit stopped")
    with act(site=running.site, by=by) as opened:
        lock_site(PLANT, running.site)
        moment = _moment(opened.at, at)
        if moment <= running.from_at:
            raise Refusal("It was started only after that moment; look at the day and the time.", field="at")
        opened.close(running, to_at=moment, to_by=by, to_recorded_at=opened.at)
        facts = {"unit": _called(running.position)}
        opened.write("running.stopped", subject=running.position or running.site, facts=facts, happened_at=moment)
        for taker in hooks.after_running_change:
            taker(opened, running.site, running.position)
    return running


def withdraw_running(*, running: Production, because: str, by: Person) -> Production:
    """Take back a stretch that was written by mistake; it stays on record as withdrawn."""
    must_have_role(by, running.site, SUPERVISORS, to="withdraw a stretch of running")
    if not because.strip():
        raise Refusal("Write why this stretch is wrong.", field="because")
    with act(site=running.site, by=by) as opened:
        lock_site(PLANT, running.site)
        opened.close(running, withdrawn_at=opened.at, withdrawn_by=by, withdrawn_because=because.strip())
        facts = {"unit": _called(running.position), "from": running.from_at, "because": because.strip()}
        opened.write("running.withdrawn", subject=running.position or running.site, facts=facts)
        for taker in hooks.after_running_change:
            taker(opened, running.site, running.position)
    return running


def _called(unit: Position | None) -> str:
    return unit.tag if unit is not None else "the plant"


def _moment(now: dt.datetime, at: dt.datetime | None) -> dt.datetime:
    # A person who types the minute that has just begun means now.
    if at is not None and at > now + dt.timedelta(minutes=1):
        raise Refusal("That moment has not come yet; write when it was.", field="at")
    return min(at or now, now)
