"""A season that comes back every year: the days between two days of the year on which a routine is owed.

Out of season it is as in a pause, year after year: nothing is owed and nothing of it is missed. An interval does not
run on across those days; what was open when the season ended is withdrawn (missed, if its last allowed day was past),
and so are the days of a grid that fall into them. Whatever fell out is owed once, before use, on the first day of the
next season, and the interval is counted from that work. Source: an instrument back from being out of service is checked
before it is used (ISO/IEC 17025:2017, 6.4.4); that a season is such a return is own judgement.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from assets.compute.words import MONTHS
from maintenance.compute.stretches import ONE_DAY

LEAP_DAY = (2, 29)
LEAP_YEAR = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """From one day of the year to another as (month, day), both included; it may span the turn of the year.

    In a year without 29 February a season that begins on it begins on 1 March, and one that ends on it ends on 28
    February. Raises ValueError for a day that no year has, for 29 February alone, and for a season from which no day is
    left out.
    """

    first: tuple[int, int]
    last: tuple[int, int]

    def __post_init__(self) -> None:
        for month, day in (self.first, self.last):
            date(LEAP_YEAR, month, day)
        if self.first == self.last == LEAP_DAY:
            raise ValueError("Season: 29 February alone comes once in four years; end it on 28 February or 1 March.")
        if all(self.covers(date(LEAP_YEAR, 1, 1) + n * ONE_DAY) for n in range(366)):
            raise ValueError("Season: it is the whole year; leave both days empty.")

    def covers(self, day: date) -> bool:
        """Whether a day lies in the season."""
        now = (day.month, day.day)
        if self.first <= self.last:
            return self.first <= now <= self.last
        return now >= self.first or now <= self.last

    def returns_on(self, day: date) -> date:
        """Return the first day of the season that is not before a day: the day itself where it lies in the season."""
        if self.covers(day):
            return day
        return next(first for year in (day.year, day.year + 1) if (first := self._first_of(year)) >= day)

    def ends_before(self, day: date) -> date:
        """Return the first day out of season from a day on: the day itself where it is out of season."""
        if not self.covers(day):
            return day
        return next(off for year in (day.year, day.year + 1) if (off := self._off_from(year)) > day)

    def last_day_in(self, first: date, last: date) -> date | None:
        """Return the last day from one day to another that lies in the season, None where none does."""
        if self.covers(last):
            return last
        off = max(off for year in (last.year - 1, last.year) if (off := self._off_from(year)) <= last)
        return off - ONE_DAY if off > first else None

    def off(self, begin: date, end: date) -> Iterator[tuple[date, date]]:
        """Yield the stretches out of season that meet the days from `begin` up to but without `end`.

        Each is its first day and the day on which the season begins again, whole, also beyond `begin` and `end`.
        """
        day = self.ends_before(begin)
        if not self.covers(begin):
            day = max(off for year in (begin.year - 1, begin.year) if (off := self._off_from(year)) <= begin)
        while day < end:
            back = self.returns_on(day)
            yield day, back
            day = self.ends_before(back)

    def next_turn(self, day: date) -> date:
        """Return the first day after a day on which the season begins or ends."""
        return self.ends_before(day + ONE_DAY) if self.covers(day) else self.returns_on(day + ONE_DAY)

    @property
    def words(self) -> str:
        """The season in words: 1 May to 30 September."""
        return f"{_said(self.first)} to {_said(self.last)}"

    @property
    def off_words(self) -> str:
        """Why nothing is owed: out of season until 1 May."""
        return f"out of season until {_said(self.first)}"

    def _first_of(self, year: int) -> date:
        return _day(year, self.first) or date(year, 3, 1)

    def _off_from(self, year: int) -> date:
        return (_day(year, self.last) or date(year, 2, 28)) + timedelta(days=1)


def _day(year: int, day: tuple[int, int]) -> date | None:
    """Return the day in a year, None for 29 February where there is none."""
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    return None if day == LEAP_DAY and not leap else date(year, *day)


def _said(day: tuple[int, int]) -> str:
    return f"{day[1]} {MONTHS[day[0] - 1]}"
