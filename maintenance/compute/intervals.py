"""Calendar arithmetic of routines: adding intervals to dates, and the days allowed before and after a due day.

Everything here is a plant-local calendar date, so daylight saving does not exist in this module.
"""

from __future__ import annotations

import calendar
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from fractions import Fraction

MONTHS_A_YEAR = 12
SHARE_OF_INTERVAL_OPEN_EARLY = 4  # a turn opens at most one quarter of its interval early


class Unit(StrEnum):
    """Unit an interval is counted in."""

    DAY = "day"
    WEEK = "week"
    MONTH = "month"
    YEAR = "year"


# No routine repeats more rarely than this; it also keeps every sum inside the calendar.
LONGEST = {Unit.DAY: 36_525, Unit.WEEK: 5_218, Unit.MONTH: 1_200, Unit.YEAR: 100}
_DAYS = {Unit.DAY: 1, Unit.WEEK: 7}
_MONTHS = {Unit.MONTH: 1, Unit.YEAR: MONTHS_A_YEAR}


def add(anchor: date, count: int, unit: Unit) -> date:
    """Date `count` units after `anchor`, clamped to the last day of a shorter month.

    Clamping is always from `anchor`, so a chain of months must be asked for as one sum: 31 January plus two months
    is 31 March, while adding one month twice would stay at 28 March. Counts may be negative.

    Raises ValueError or OverflowError when the sum leaves the calendar of years 1 to 9999.
    Source: Gregorian calendar; clamping as in `pandas.DateOffset(months=n)`.
    """
    if unit in _DAYS:
        return anchor + timedelta(days=count * _DAYS[unit])
    year, month = divmod(anchor.year * MONTHS_A_YEAR + anchor.month - 1 + count * _MONTHS[unit], MONTHS_A_YEAR)
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(anchor.day, last))


def grid(anchor: date, every: int, unit: Unit, *, after: date) -> Iterator[tuple[date, date]]:
    """Endless pairs (previous grid day, grid day) of anchor, anchor + every, ... with the grid day later than `after`.

    The grid begins at the anchor and has no day before it; the pair of the anchor itself carries the day one
    interval earlier, so that each grid day knows the length of its own period.
    """
    k = _index_not_past(anchor, every, unit, after)
    while True:
        day = add(anchor, k * every, unit)
        if day > after:
            yield add(anchor, (k - 1) * every, unit), day
        k += 1


def _index_not_past(anchor: date, every: int, unit: Unit, after: date) -> int:
    """Index of a grid day that is not later than the first one after `after`."""
    if unit in _DAYS:
        return max(0, (after - anchor).days // (every * _DAYS[unit]))
    months = (after.year - anchor.year) * MONTHS_A_YEAR + after.month - anchor.month
    return max(0, months // (every * _MONTHS[unit]) - 1)


# Calendar periods that work can be owed once in, and the days of the shortest one of each kind.
SHORTEST_PERIOD = {
    (1, Unit.WEEK): 7,
    (1, Unit.MONTH): 28,
    (3, Unit.MONTH): 90,
    (6, Unit.MONTH): 181,
    (1, Unit.YEAR): 365,
}


def period_of(day: date, every: int, unit: Unit) -> tuple[date, date]:
    """First and last day of the calendar week, month, quarter, half-year or year that `day` lies in.

    Weeks begin on Monday (ISO 8601). Raises ValueError for another length.
    """
    if (every, unit) not in SHORTEST_PERIOD:
        raise ValueError(f"Period: {every} {unit}s is no calendar period.")
    if unit is Unit.WEEK:
        first = day - timedelta(days=day.weekday())
    else:
        months = every * _MONTHS[unit]
        first = date(day.year, (day.month - 1) // months * months + 1, 1)
    return first, add(first, every, unit) - timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Allowance:
    """Days allowed before or after a due day: whole days, or a percentage of the period the turn belongs to."""

    amount: int | Fraction
    of_period: bool = False

    def __post_init__(self) -> None:
        """Refuse amounts below zero and fractions of a day."""
        if self.amount < 0:
            raise ValueError(f"Days allowed cannot be negative: {self.amount}. Give 0 or more.")
        if not self.of_period and not isinstance(self.amount, int):
            raise ValueError(f"Days allowed are whole days, not {self.amount}.")

    def days(self, period_days: int) -> int:
        """Whole days for a period of `period_days` days; a percentage is rounded down."""
        return int(self.amount * period_days // 100) if self.of_period else int(self.amount)


def days(amount: int) -> Allowance:
    """Allow `amount` whole days."""
    return Allowance(amount)


def percent(amount: int | Fraction) -> Allowance:
    """Allow `amount` percent of the turn's own period, rounded down to whole days."""
    return Allowance(amount, of_period=True)


NONE_ALLOWED = days(0)
A_WEEK = days(7)
