"""Seasons as stored: what the night carries over their ends, what it finds, and the hours of the coming year."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from assets.actions import exchange_asset
from assets.models import Person, Position, Site
from maintenance.actions.nightly import carry_forward, compare_due_items
from maintenance.actions.routines import Interval, change_term
from maintenance.models import Occurrence, Plan
from maintenance.reads.forecast import ahead_of
from tests.conftest import Clock
from tests.maintenance.due.running import at, by_hours, on, open_item, read, word
from tests.make import make_asset, make_fitting, make_position
from tests.make_upkeep import fixed, floating, make_done, make_plan

pytestmark = pytest.mark.django_db

SUMMER = {"season_first": dt.date(2026, 5, 1), "season_last": dt.date(2026, 9, 30)}


def ended(plan: Plan) -> dict[str, tuple[str, str]]:
    """How each due item ended, and why."""
    rows = Occurrence.objects.filter(plan=plan).order_by("raw", "turn")
    return {str(row.raw): (row.ended, row.because) for row in rows}


def test_the_night_carries_a_season_over_its_end_and_its_beginning(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    clock.now = at(site, 9, 1)
    plan = make_plan(pump, by=ruth, interval=floating(30, **SUMMER))
    make_done(plan, at(site, 9, 1, 11), by=ines)
    make_done(plan, at(site, 9, 1, 10), by=ines)
    clock.now = at(site, 9, 28)
    make_done(plan, at(site, 9, 28, 11), by=ines)
    clock.now = at(site, 10, 2)
    carry_forward(site=site, today=on(10, 2))
    assert ended(plan)["2026-10-28"] == ("withdrawn", "out of season until 1 May")
    assert not Occurrence.objects.open().filter(plan=plan).exists()
    clock.now = dt.datetime(2027, 5, 2, 12, tzinfo=site.zone)
    assert carry_forward(site=site, today=dt.date(2027, 5, 2)) == 1
    item = open_item(plan)
    assert (item.due, item.why, word(item, dt.date(2027, 5, 2))) == (dt.date(2027, 5, 1), "before use", "overdue")
    assert compare_due_items(site=site, today=dt.date(2027, 5, 2)).differences == 0


def forget(item: Occurrence) -> None:
    item.delete()


def reopen(item: Occurrence) -> None:
    Occurrence.objects.filter(pk=item.pk).update(ended="open", ended_on=None, because="")


@pytest.mark.parametrize(("fault", "says"), [(forget, "is missing"), (reopen, "ended open instead of withdrawn")])
def test_at_night_a_season_that_was_not_kept_to_is_found(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock, fault: Callable[[Occurrence], None], says: str
) -> None:
    clock.now = at(site, 9, 28)
    plan = make_plan(pump, by=ruth, interval=floating(30, **SUMMER))
    make_done(plan, at(site, 9, 28, 11), by=ines)
    clock.now = at(site, 10, 2)
    carry_forward(site=site, today=on(10, 2))
    fault(Occurrence.objects.get(plan=plan, raw=on(10, 28)))
    report = compare_due_items(site=site, today=on(10, 2))
    assert (report.differences, says in report.text) == (1, True)


def test_a_season_given_later_holds_from_that_day_and_the_coming_year_leaves_it_out(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    """Each first of a month to the end of February: eleven; in season from 1 May to 30 September five."""
    plan = make_plan(pump, by=ruth, interval=fixed(on(3, 1)))
    make_done(plan, at(site, 3, 2, 11), by=ines)
    assert ahead_of(site, on(3, 2)).year.jobs == 11
    change_term(plan=plan, interval=fixed(on(3, 1), **SUMMER), from_day=on(3, 2), why="drained", by=ruth)
    found = ahead_of(site, on(3, 2))
    assert found.year.jobs == 5
    assert {f"{month.first:%B}" for month in found.year.months if month.jobs} == {
        "May", "June", "July", "August", "September",
    }  # fmt: skip
    assert sum(week.minutes for week in found.weeks) == 0, "the eight weeks to 26 April"


def test_a_machine_that_comes_with_hours_of_its_own_is_told_to_what_counts_them(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    old, new = make_asset(site=site), make_asset(site=site)
    make_fitting(position=pump, asset=old, by=ruth)
    read(old, "1000", ines)
    read(new, "40", ines)
    plan = make_plan(pump, by=ruth, interval=by_hours())
    make_done(plan, at(site, 3, 2, 11), by=ines)
    clock.now = at(site, 3, 10)
    exchange_asset(position=pump, asset=new, by=ines)
    assert compare_due_items(site=site, today=on(3, 10)).differences == 0


def test_a_condition_out_of_season_owes_nothing_for_what_is_read(
    site: Site, ruth: Person, ines: Person, clock: Clock
) -> None:
    room = make_position(site=site, tag="TIT-09", quantity="temperature", unit="°C")
    cold = Interval(
        mode="condition", source="own", reads="Temperature", reads_unit="°C", low="18",
        season_first=on(10, 1), season_last=on(4, 30),
    )  # fmt: skip
    plan = make_plan(room, by=ruth, interval=cold)
    clock.now = at(site, 5, 2)
    read(room, "12", ines, what="Temperature", unit="°C")
    assert not Occurrence.objects.filter(plan=plan).exists()
    clock.now = at(site, 10, 1)
    read(room, "17.9", ines, what="Temperature", unit="°C")
    assert open_item(plan).due == on(10, 1)
