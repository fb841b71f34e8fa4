"""What the routines ask for in the coming year, and the hours of the coming weeks: a forecast, never a due date.

Each job is taken as done on its due day. Out of its season a routine has none; what falls out is done once on the
first day of the next one. Pauses, holidays and locks to come are not known and left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from itertools import takewhile

from maintenance.compute.intervals import Unit, add, grid, period_of
from maintenance.compute.season import Season
from maintenance.compute.terms import AFTER_WORK, Mode

MOST = 400  # jobs of one routine in a year; a daily one has 365
MONTHS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Routine:
    """One routine as it stands: its newest terms, the due day of its open turn, what is known of its meter.

    next_due None: no turn is open. use_days: days that one interval by use takes at the rate so far, None where it
    cannot be told; use_due: the day on which it is reached next. season: None where it is owed all the year.
    """

    pk: int
    name: str
    kind: str
    minutes: int
    mode: Mode
    every: int
    unit: Unit
    anchor: date | None = None
    next_due: date | None = None
    use_days: Fraction | None = None
    use_due: date | None = None
    season: Season | None = None


def jobs_of(one: Routine, first: date, last: date) -> tuple[date, ...] | None:
    """Days on which a routine is due from one day to another, both included; None where that cannot be told.

    What is owed already counts on the first day. A condition, and running days to come, cannot be told.
    """
    if one.mode is Mode.CONDITION or one.mode is Mode.RUNNING:
        return None
    if one.mode is Mode.USAGE and (one.use_days is None or one.use_due is None):
        return None
    days = takewhile(lambda day: day <= last, _endless(one, first))
    return tuple(day for day, _ in zip(days, range(MOST), strict=False))


def _endless(one: Routine, first: date) -> Iterator[date]:
    owed = one.next_due if one.mode is not Mode.USAGE else one.use_due
    if owed is not None and owed > first and one.season is not None:
        owed = one.season.returns_on(owed)  # what would be due out of season is withdrawn, and owed when it is back
    begin = max(first, owed) if owed is not None else first
    if owed is None and one.season is not None and not one.season.covers(first) and one.mode in AFTER_WORK:
        owed = begin = one.season.returns_on(first)
    if owed is not None:
        yield begin
    match one.mode:
        case Mode.FIXED if one.anchor is not None:
            # What is owed and a day of the grid that is today are one job.
            after = begin if owed is not None else first - timedelta(days=1)
            yield from _in_season(one, (day for _, day in grid(one.anchor, one.every, one.unit, after=after)))
        case Mode.PERIOD:
            yield from _in_season(one, _period_ends(one, begin))
        case _:
            yield from _after_work(one, begin)


def _in_season(one: Routine, days: Iterator[date]) -> Iterator[date]:
    """Days of a grid that lie in the season; those that fall out are one job on the day on which it begins again."""
    back: date | None = None
    for day in days:
        if one.season is not None and not one.season.covers(day):
            back = one.season.returns_on(day)
            continue
        if back is not None and back < day:
            yield back
        back = None
        yield day


def _period_ends(one: Routine, begin: date) -> Iterator[date]:
    _, end = period_of(begin, one.every, one.unit)
    while True:
        first, end = period_of(end + timedelta(days=1), one.every, one.unit)
        yield (one.season.last_day_in(first, end) if one.season is not None else None) or end


def _after_work(one: Routine, begin: date) -> Iterator[date]:
    """Each next job an interval after the one before, or so much use after it, whichever is first."""
    day = begin
    while True:
        by_date = add(day, one.every, one.unit) if one.mode is not Mode.USAGE else None
        by_use = day + timedelta(days=max(1, int(one.use_days))) if one.use_days is not None else None
        steps = [step for step in (by_date, by_use if one.mode in (Mode.USAGE, Mode.FIRST_OF) else None) if step]
        day = min(steps) if one.season is None else one.season.returns_on(min(steps))
        yield day


@dataclass(frozen=True, slots=True)
class Month:
    """Jobs of one month: number and minutes by kind of work."""

    first: date
    jobs: int
    minutes: int
    by_kind: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Year:
    """The coming twelve months; `untold` are routines whose jobs cannot be told, with the reason."""

    months: tuple[Month, ...]
    n: int
    untold: tuple[tuple[str, str], ...]

    @property
    def jobs(self) -> int:
        """Jobs of the year."""
        return sum(month.jobs for month in self.months)

    @property
    def minutes(self) -> int:
        """Planned minutes of the year."""
        return sum(month.minutes for month in self.months)


_WHY = {
    Mode.CONDITION: "it is done when a value asks for it",
    Mode.RUNNING: "it is done on days the unit runs, and those to come are not known",
    Mode.USAGE: "its meter tells no rate yet",
}


def year_from(routines: Sequence[Routine], today: date) -> Year:
    """Jobs of the twelve months that begin with the month of today; of this month only what is still to come."""
    start = today.replace(day=1)
    last = add(start, MONTHS, Unit.MONTH) - timedelta(days=1)
    found = [(one, jobs_of(one, today, last)) for one in routines]
    told = [(one, day) for one, days in found for day in days or ()]
    months = tuple(_month(add(start, n, Unit.MONTH), told) for n in range(MONTHS))
    untold = tuple((one.name, _WHY[one.mode]) for one, days in found if days is None)
    return Year(months, len(found) - len(untold), untold)


def _month(first: date, told: Iterable[tuple[Routine, date]]) -> Month:
    own = [one for one, day in told if (day.year, day.month) == (first.year, first.month)]
    kinds = sorted({one.kind for one in own})
    by_kind = tuple((kind, sum(one.kind == kind for one in own)) for kind in kinds)
    return Month(first, len(own), sum(one.minutes for one in own), by_kind)


@dataclass(frozen=True, slots=True)
class Week:
    """Planned minutes of one week: of routines and of work orders wanted in it."""

    first: date
    jobs: int
    routines: int
    orders: int

    @property
    def minutes(self) -> int:
        """All planned minutes."""
        return self.routines + self.orders


def weeks_from(
    routines: Sequence[Routine], orders: Iterable[tuple[date, int]], today: date, *, number: int = 8
) -> tuple[Week, ...]:
    """Hours of the coming weeks, Monday to Sunday, this one from today on; orders as (day wanted, planned minutes).

    What is owed already, due items and orders alike, counts in this week.
    """
    monday = today - timedelta(days=today.weekday())
    last = monday + timedelta(days=7 * number - 1)
    told = [(one, day) for one in routines for day in jobs_of(one, today, last) or ()]
    wanted = [(max(day, today), minutes) for day, minutes in orders]

    def week(first: date) -> Week:
        end = first + timedelta(days=6)
        own = [one for one, day in told if first <= day <= end]
        asked = sum(minutes for day, minutes in wanted if first <= day <= end)
        return Week(first, len(own), sum(one.minutes for one in own), asked)

    return tuple(week(monday + timedelta(days=7 * n)) for n in range(number))


def lots_needed(checks: int, life_days: int | None, days: int = 365) -> int | None:
    """How many lots a year of checks opens: a new one each time the open one is too old; None where opening ends none.

    With few checks each one opens a lot of its own; with many, one lasts `life_days`.
    """
    if life_days is None or life_days < 1:
        return None
    return min(checks, -(-days // life_days))
