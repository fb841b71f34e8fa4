"""The terms of a routine: how its turns arise, how often, what is allowed around a due day, and from when it holds."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum
from fractions import Fraction
from typing import TypeVar

from maintenance.compute.intervals import A_WEEK, LONGEST, NONE_ALLOWED, SHORTEST_PERIOD, Allowance, Unit, add
from maintenance.compute.season import Season


class Mode(StrEnum):
    """How the turns of a routine arise."""

    FIXED = "fixed"  # on a grid of days, whenever the last one was done
    FLOATING = "floating"  # an interval after the day it was last done
    PERIOD = "period"  # once in each calendar period
    RUNNING = "running"  # on each day the unit runs
    USAGE = "usage"  # after so many hours, starts or volume
    FIRST_OF = "first of"  # an interval or so much use, whichever is reached first
    CONDITION = "condition"  # when a value is seen outside its limits


ON_THE_CALENDAR = frozenset({Mode.FIXED, Mode.PERIOD, Mode.RUNNING})  # turns come whatever was done
MANY_TURNS = 12  # so many turns of months come to each month of the year that they ever come to
AFTER_WORK = frozenset({Mode.FLOATING, Mode.USAGE, Mode.FIRST_OF})  # a turn follows each time it was done


@dataclass(frozen=True, slots=True, kw_only=True)
class ByUse:
    """Due again after `every` of `unit` (h, starts, m3 ...) on the meter.

    It can be done from `early` before and stays merely due up to `late` after, in the same unit.
    Raises ValueError for an amount of nothing or an early allowance that is as long as the interval.
    """

    every: Fraction
    unit: str
    early: Fraction = Fraction(0)
    late: Fraction = Fraction(0)

    def __post_init__(self) -> None:
        """Refuse amounts from which nothing can be told."""
        if self.every <= 0:
            raise ValueError(f"Use: {self.every} {self.unit}. Give more than 0.")
        if not 0 <= self.early < self.every or self.late < 0:
            raise ValueError(
                f"Allowed: early {self.early}, late {self.late}. Give 0 or more, early under {self.every}."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Values between `low` and `high` are good, both inclusive; outside, the work is owed `answer_days` days later.

    `told` says what is good in the words of the terms, with the unit: up to 35 kPa.
    Raises ValueError without any limit, for limits the wrong way round, or for an answer before it was seen.
    """

    low: Fraction | None = None
    high: Fraction | None = None
    answer_days: int = 0
    told: str = ""

    def __post_init__(self) -> None:
        """Refuse limits that nothing can be held against."""
        if self.low is None and self.high is None:
            raise ValueError("Limits: give the lowest or the highest good value.")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError(f"Limits: {self.low} is above {self.high}.")
        if self.answer_days < 0:
            raise ValueError(f"Days to answer: {self.answer_days}. Give 0 or more.")

    def outside(self, value: Fraction) -> bool:
        """Whether a value lies outside, unrounded."""
        return (self.low is not None and value < self.low) or (self.high is not None and value > self.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One version of the terms of a routine, in force until the next one takes effect.

    `every` with `unit` is the interval; by use alone, on running days and on a condition it is not read. `anchor` is a
    day of the grid and the first one (fixed only). `early` and `late` are the days allowed before and after the due
    day. `by_rule`: a rule itself demands the interval, so none are allowed after it and no lock stops it.
    `while_running`: it is owed only while the unit runs (`Block.off` stops it then, also what a rule demands).
    `spacing`: least days since it was last done (once a period only). `bench`: work on the asset out of its place
    counts. `use` is asked by usage and whichever first, `limits` by a condition. `season`: owed only in it, year after
    year (None: all the year).
    `from_day` is the day asked for, `decided_on` the site date of the decision: a term never works backwards, see
    `takes_effect`.
    Raises ValueError for terms from which no due day can be worked out.
    """

    mode: Mode
    from_day: date
    decided_on: date
    recorded_at: datetime
    every: int = 1
    unit: Unit = Unit.DAY
    anchor: date | None = None
    early: Allowance = A_WEEK
    late: Allowance = NONE_ALLOWED
    by_rule: bool = False
    while_running: bool = False
    spacing: int = 0
    bench: bool = False
    use: ByUse | None = None
    limits: Limits | None = None
    season: Season | None = None

    def __post_init__(self) -> None:
        """Refuse terms from which no due day can be worked out."""
        if not 1 <= self.every <= LONGEST[self.unit]:
            raise ValueError(f"Interval: {self.every} {self.unit}s. Give 1 to {LONGEST[self.unit]} {self.unit}s.")
        if self.mode is Mode.FIXED and self.anchor is None:
            raise ValueError("Anchor: a routine on fixed days needs one of its due days to count from.")
        if self.mode in (Mode.USAGE, Mode.FIRST_OF) and self.use is None:
            raise ValueError("Use: a routine by use needs how many hours, starts or how much volume.")
        if self.mode is Mode.CONDITION and self.limits is None:
            raise ValueError("Limits: a routine on a condition needs the limits of the value.")
        self._refuse_periods()
        self._refuse_fixed_days_never_in_season()

    def _refuse_fixed_days_never_in_season(self) -> None:
        if self.mode is not Mode.FIXED or self.anchor is None or self.season is None:
            return
        if not any(self.season.covers(add(self.anchor, n * self.every, self.unit)) for n in range(MANY_TURNS)):
            raise ValueError(
                f"Season: none of its next fixed days lies in it, {self.season.words}; choose another first fixed day."
            )

    def _refuse_periods(self) -> None:
        shortest = SHORTEST_PERIOD.get((self.every, self.unit))
        if self.mode is not Mode.PERIOD:
            if self.spacing:
                raise ValueError("Least days between: asked only where it is done once in each period.")
        elif shortest is None:
            raise ValueError("Period: give a week, a month, a quarter, a half-year or a year.")
        elif not 0 <= self.spacing <= shortest:
            raise ValueError(f"Least days between: {self.spacing}. Give 0 to {shortest}, or a period could not be met.")

    @property
    def counted_use(self) -> ByUse | None:
        """What is counted on a meter, None where the mode counts none; nothing is allowed after it under a rule."""
        if self.use is None or self.mode not in (Mode.USAGE, Mode.FIRST_OF):
            return None
        return replace(self.use, late=Fraction(0)) if self.by_rule else self.use

    @property
    def takes_effect(self) -> date:
        """Day from which the term is in force: as asked, but never before it was decided."""
        return max(self.from_day, self.decided_on)


@dataclass(frozen=True, slots=True, kw_only=True)
class InForce:
    """A term with the days it rules: from `begins`, up to but without `ends` (None: still in force)."""

    term: Term
    begins: date
    ends: date | None


T = TypeVar("T")
B = TypeVar("B")


def ruling(terms: Iterable[T], key: Callable[[T], tuple[date, date, datetime]]) -> list[tuple[T, date, date | None]]:
    """Terms in the order they take effect, each with the days it rules; the first one rules from the beginning.

    `key` gives the day a term takes effect, the day it was decided, and when that was recorded. Of several that take
    effect on one day only the one decided last is ever in force.
    """
    found = _in_turn(sorted(terms, key=key), lambda term: key(term)[0])
    return [(term, begin or date.min, end) for term, begin, end in found]


def _in_turn(ordered: Iterable[T], begin: Callable[[T], B]) -> list[tuple[T, B | None, B | None]]:
    """Each term up to the begin of the next, the first from ever (None); of one begin only the last in order."""
    last = list({begin(term): term for term in ordered}.values())
    begins = [begin(term) for term in last[1:]]
    return list(zip(last, [None, *begins], [*begins, None], strict=False))  # strict would stop where no term is known


@dataclass(frozen=True, slots=True, kw_only=True)
class Begin:
    """When a term begins to judge values: at the instant `at` of its `day`, or as that day begins (None)."""

    day: date
    at: datetime | None = None

    def reached(self, day: date, at: datetime) -> bool:
        """Whether a value of the plant-local `day`, taken at the instant `at`, comes after it; the instant counts."""
        return day > self.day or (day == self.day and (self.at is None or at >= self.at))


def judging(
    terms: Iterable[T], key: Callable[[T], tuple[date, date, datetime]]
) -> list[tuple[T, Begin | None, Begin | None]]:
    """Terms in the order they begin to judge values, each with its begin (None: it is the first) and its end.

    `key` is that of `ruling`. A term that takes effect on the day of its decision judges what is taken from that
    instant on: what was taken that morning belongs to the terms of the morning, even where they ruled no whole day.
    """

    def begin(term: T) -> Begin:
        effect, decided, recorded = key(term)
        return Begin(day=effect, at=recorded if decided == effect else None)

    def order(term: T) -> tuple[date, bool, date, datetime]:
        effect, decided, recorded = key(term)
        return effect, decided == effect, decided, recorded

    return _in_turn(sorted(terms, key=order), begin)
