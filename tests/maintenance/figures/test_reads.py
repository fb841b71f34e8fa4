"""Figures and the coming year from facts written through the actions."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from assets.actions.readings import ReadingFacts, record_reading
from assets.models import Person, Position, Role, Site
from maintenance.actions.deferrals import ask_deferral, decide_deferral
from maintenance.actions.routines import Interval
from maintenance.compute.figures import Figure
from maintenance.reads.figures import Period, figures_of
from maintenance.reads.forecast import ahead_of, routines_of
from maintenance.reads.late import done_late, entered_late
from tests.conftest import Clock
from tests.make import make_person, make_position, make_site, proof_of
from tests.make_upkeep import fixed, make_done, make_plan, open_item

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 11, 25)


@pytest.fixture
def site(clock: Clock) -> Site:
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


@pytest.fixture
def pump(site: Site) -> Position:
    return make_position(site=site, tag="P-61", does="moves", matters_for="production")


def on_time(site: Site, today: dt.date) -> Figure:
    return figures_of(site, Period("30d", "Last 30 days", today - dt.timedelta(days=29), today), today).due[0]


def test_put_off_with_approval_is_in_the_denominator_and_not_on_time(
    site: Site, ruth: Person, pump: Position, clock: Clock
) -> None:
    ines = make_person(site=site)
    plan = make_plan(pump, by=ruth, interval=fixed(dt.date(2026, 10, 25), late=0), from_day=dt.date(2026, 9, 1))
    make_done(plan, dt.datetime(2026, 10, 25, 9, tzinfo=site.zone), by=ruth)
    asked = ask_deferral(
        occurrence=open_item(plan),
        to_day=dt.date(2026, 12, 2),
        because="seal comes on 30 November",
        risk="drips",
        by=ines,
    )
    assert on_time(site, DAY).shown == "n/a"  # due today: the day is not over
    decide_deferral(deferral=asked, approved=True, because="", proof=proof_of(ruth), by=ruth)
    clock.forward(days=2)
    apart = {part.why: part.n for part in on_time(site, DAY + dt.timedelta(days=2)).left_out}
    assert apart == {"put off with approval; in the denominator, not on time": 1}
    clock.forward(days=5)
    make_done(plan, timezone.now(), by=ruth)
    found = on_time(site, DAY + dt.timedelta(days=7))
    assert (found.numerator, found.n) == ("0 done by their due day", 1)
    assert {part.why: part.n for part in found.left_out} == apart


def test_a_routine_by_use_is_told_by_the_rate_of_its_meter(site: Site, ruth: Person, pump: Position) -> None:
    by_use = Interval(mode="usage", source="maker", reads="Run hours", reads_unit="h", use_every="500")
    plan = make_plan(pump, by=ruth, interval=by_use, from_day=dt.date(2026, 11, 1), title="Change the oil")
    assert ahead_of(site, DAY).year.untold == ((f"P-61: {plan.title}", "its meter tells no rate yet"),)
    now = timezone.now()
    for days, hours in ((20, "1000"), (10, "1100"), (0, "1200")):
        facts = ReadingFacts("Run hours", hours, "h", "display", now - dt.timedelta(days=days))
        record_reading(of=pump, facts=facts, by=ruth)
    make_done(plan, now, by=ruth)
    # 200 h in 20 days are 10 h a day: 500 h take 50 days, seven times in a year.
    (one,) = routines_of(site, DAY)
    assert (one.use_days, one.use_due) == (50, DAY + dt.timedelta(days=50))
    assert ahead_of(site, DAY).year.jobs == 6  # to the end of October


def test_what_came_late_names_entry_and_work(site: Site, ruth: Person, pump: Position) -> None:
    plan = make_plan(pump, by=ruth, interval=fixed(dt.date(2026, 10, 10), late=2), from_day=dt.date(2026, 9, 1))
    now = timezone.now()
    make_done(plan, dt.datetime(2026, 10, 10, 9, tzinfo=site.zone), by=ruth)
    make_done(plan, now - dt.timedelta(minutes=15), by=ruth)  # due on 10 November
    since = now - dt.timedelta(days=30)
    assert [one.after for one in entered_late(site, since, 10)] == ["45 days"]
    (late,) = done_late(site, DAY - dt.timedelta(days=30), 10)
    assert (late.late, late.due, late.done) == ("15 days", dt.date(2026, 11, 10), DAY)
