"""The coming year from routines, by hand and by the calendar."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from typing import Any

import pytest

from maintenance.compute.figures.ahead import Routine, jobs_of, lots_needed, weeks_from, year_from
from maintenance.compute.intervals import Unit
from maintenance.compute.terms import Mode

TODAY = date(2026, 11, 25)  # a Wednesday
LAST = date(2027, 11, 24)


def routine(mode: Mode = Mode.FLOATING, every: int = 1, unit: Unit = Unit.MONTH, **other: Any) -> Routine:
    facts = {"pk": 1, "name": "P-61: Grease", "kind": "Upkeep", "minutes": 30, "mode": mode}
    return Routine(**(facts | {"every": every, "unit": unit} | other))


def days(one: Routine) -> tuple[date, ...]:
    found = jobs_of(one, TODAY, LAST)
    assert found is not None
    return found


def test_a_floating_month_goes_on_from_each_time_it_is_done() -> None:
    found = days(routine(next_due=date(2026, 12, 10)))
    assert found[:3] == (date(2026, 12, 10), date(2027, 1, 10), date(2027, 2, 10))
    assert len(found) == 12


def test_what_is_owed_already_counts_today_and_moves_what_floats_but_not_a_grid() -> None:
    owed = date(2026, 11, 2)
    assert days(routine(next_due=owed))[:2] == (TODAY, date(2026, 12, 25))
    grid = routine(Mode.FIXED, anchor=date(2026, 1, 31), next_due=owed)
    assert days(grid)[:4] == (TODAY, date(2026, 11, 30), date(2026, 12, 31), date(2027, 1, 31))


def test_a_quarter_is_owed_at_its_end_once_each() -> None:
    found = days(routine(Mode.PERIOD, 3, Unit.MONTH, next_due=date(2026, 12, 31)))
    assert found == (date(2026, 12, 31), date(2027, 3, 31), date(2027, 6, 30), date(2027, 9, 30))


def test_by_use_at_the_rate_so_far_and_whichever_is_first() -> None:
    by_use = {"use_days": Fraction(50), "use_due": date(2026, 12, 5)}
    found = days(routine(Mode.USAGE, **by_use))
    assert found[:2] == (date(2026, 12, 5), date(2027, 1, 24))
    both = days(routine(Mode.FIRST_OF, next_due=date(2026, 12, 5), **by_use))
    assert both[:2] == (date(2026, 12, 5), date(2027, 1, 5))  # a month comes before fifty days


@pytest.mark.parametrize("mode", [Mode.USAGE, Mode.CONDITION, Mode.RUNNING])
def test_what_cannot_be_told_is_named(mode: Mode) -> None:
    one = routine(mode, next_due=date(2026, 12, 1))
    assert jobs_of(one, TODAY, LAST) is None
    year = year_from([one, routine(next_due=date(2026, 12, 1))], TODAY)
    assert [name for name, _ in year.untold] == ["P-61: Grease"]
    assert (year.n, year.jobs) == (1, 11)


def test_months_add_up_and_this_one_holds_what_is_still_to_come() -> None:
    daily = routine(every=1, unit=Unit.DAY, next_due=TODAY, minutes=6)
    year = year_from([daily], TODAY)
    assert [month.jobs for month in year.months] == [6, 31, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31]
    assert year.minutes == 6 * year.jobs == 6 * ((date(2027, 11, 1) - TODAY) // timedelta(days=1))


def test_weeks_begin_on_monday_and_what_is_owed_stands_in_the_first() -> None:
    weekly = routine(every=1, unit=Unit.WEEK, next_due=date(2026, 11, 20), minutes=60)
    orders = [(date(2026, 11, 1), 120), (date(2026, 12, 6), 90), (date(2026, 12, 7), 15)]
    found = weeks_from([weekly], orders, TODAY)
    assert [(week.first.day, week.routines, week.orders) for week in found[:3]] == [
        (23, 60, 120),
        (30, 60, 90),
        (7, 60, 15),
    ]
    assert len(found) == 8


@pytest.mark.parametrize(
    ("checks", "life", "lots"),
    [(12, 90, 5), (3, 90, 3), (365, 30, 13), (0, 90, 0), (12, None, None), (12, 365, 1)],
)
def test_lots_by_the_days_an_open_one_lasts(checks: int, life: int | None, lots: int | None) -> None:
    assert lots_needed(checks, life) == lots
