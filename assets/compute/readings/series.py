"""What a counter counted: differences of its readings with rollover and exchange settled, totals, rates.

A number that falls is never explained by guessing: a person says that the counter rolled over or was exchanged, or the
series stops there and says so. Readings may come in any order.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from statistics import median
from typing import Literal

from assets.compute.formulas.counters import Replaced, counted
from assets.compute.numbers import read_number
from assets.compute.readings.facts import Span, Taken, about, hours_between, in_order, utc
from assets.compute.units import convert
from assets.compute.words import count_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """Why a counter does not go on from the reading before, in the unit of the readings, and when that was said.

    Either it rolled over at `modulus`, or another one was put in: `old_last` on the old one, `new_first` on the new.
    """

    kind: Literal["rolled over", "replaced"]
    modulus: Fraction | None = None
    old_last: Fraction | None = None
    new_first: Fraction | None = None
    recorded_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Count(Taken):
    """A reading of a counter; `broken` says why it does not go on from the one before."""

    broken: Broken | None = None

    @property
    def known_at(self) -> dt.datetime:
        """When the number, and why it does not go on, could first be known."""
        own = self.recorded_at or self.at
        said = self.broken.recorded_at if self.broken is not None else None
        return own if said is None else max(own, said, key=utc)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What was counted between two readings, in their unit; None where nobody said why the number fell, and `why`."""

    start: Count
    end: Count
    counted: Fraction | None
    why: str = ""

    @property
    def span(self) -> Span:
        """The time between the two readings."""
        return Span(start=self.start.at, end=self.end.at)

    @property
    def rate(self) -> Fraction | None:
        """What was counted an hour; None where nothing is known or no time went by."""
        hours = self.span.hours
        return self.counted / hours if self.counted is not None and hours > 0 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """What was counted in a stretch of time, in the unit of the readings.

    value: None where no reading covers any of it; covered_hours of of_hours are covered; n: steps between readings that
    went in; shared_out: whether steps that reach over an edge were shared out by time; unsettled: what was left out.
    """

    value: Fraction | None
    covered_hours: Fraction
    of_hours: Fraction
    n: int
    shared_out: bool
    unsettled: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether the whole stretch is covered."""
        return self.covered_hours == self.of_hours

    @property
    def says(self) -> str:
        """The sentence that stands beside the total."""
        if self.value is None:
            return " ".join(("No readings cover this time.", *self.unsettled))
        how = f"From {count_of(self.n, 'step')} between readings"
        how += ", those over an edge shared out by time" if self.shared_out else ""
        part = "the whole time" if self.whole else f"{about(self.covered_hours)} of {about(self.of_hours)} h"
        return " ".join((f"{how}; covers {part}.", *self.unsettled))


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A total that is known: taken at, known since, the running total, what the counter showed, readings up to it.

    The running total begins with what the first reading showed, so that without a break it is what the counter shows.
    """

    at: dt.datetime
    known_at: dt.datetime
    total: Fraction
    shown: Fraction
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """Every known total in order of time, and the step at which nothing can be told any more, if there is one."""

    known: tuple[Known, ...]
    stopped: Step | None = None

    @property
    def last(self) -> Known | None:
        """The newest known total."""
        return self.known[-1] if self.known else None


def broken(
    kind: Literal["rolled over", "replaced"],
    *,
    numbers: tuple[str, str, str],
    unit: str,
    into: str,
    recorded_at: dt.datetime | None = None,
) -> Broken:
    """Return why a counter does not go on, from (modulus, last of the old, first of the new) as kept, '' for none.

    unit: of the reading that it stands beside; into: the unit of the series.
    """
    modulus, old_last, new_first = (
        convert(read_number(text, decimal_mark=","), unit, into) if text.strip() else None for text in numbers
    )
    return Broken(kind=kind, modulus=modulus, old_last=old_last, new_first=new_first, recorded_at=recorded_at)


def with_break(reading: Taken, why: Broken | None = None) -> Count:
    """Return a reading as one of a counter."""
    return Count(
        value=reading.value,
        at=reading.at,
        text=reading.text,
        unit=reading.unit,
        step=reading.step,
        recorded_at=reading.recorded_at,
        broken=why,
    )


def steps(readings: Iterable[Count]) -> tuple[Step, ...]:
    """Return what was counted between each reading and the next; the same reading written twice counts once."""
    kept: list[Count] = []
    # At one moment the reading before an exchange comes first, though the new counter shows less.
    for one in sorted(readings, key=lambda one: (utc(one.at), one.broken is not None, one.value)):
        twice = kept and utc(kept[-1].at) == utc(one.at) and kept[-1].value == one.value and one.broken is None
        if not twice:
            kept.append(one)
    return tuple(_step(one, other) for one, other in pairwise(kept))


def _step(start: Count, end: Count) -> Step:
    try:
        return Step(start=start, end=end, counted=settled(start, end))
    except ValueError as wrong:
        return Step(start=start, end=end, counted=None, why=str(wrong))


def settled(start: Taken, end: Count) -> Fraction:
    """Return what was counted between two readings of a counter, in their unit.

    Raises ValueError, with a sentence, where the number fell and nobody said why, or where what was said does not fit.
    """
    why = end.broken
    if why is None:
        if utc(start.at) == utc(end.at) and start.value != end.value:
            raise ValueError(f"Two numbers at one moment, {start.told} and {end.told}: one of them is a slip.")
        if end.value < start.value:
            raise ValueError(f"It fell from {start.told} to {end.told}, and nobody said why.")
        return counted(start.value, end.value)
    if why.kind == "rolled over":
        return _rolled_over(start, end, why.modulus)
    if why.old_last is None or why.new_first is None:
        raise ValueError("An exchange needs the last number of the old counter and the first one of the new.")
    if why.old_last < start.value or why.new_first > end.value:
        raise ValueError(
            f"The exchange does not fit: the old one ends at {about(why.old_last, 6)} after {start.told}, the new one "
            f"begins at {about(why.new_first, 6)} before {end.told}. Neither can have fallen."
        )
    return counted(start.value, end.value, replaced=Replaced(old_last=why.old_last, new_first=why.new_first))


def _rolled_over(start: Taken, end: Count, modulus: Fraction | None) -> Fraction:
    if modulus is None:
        raise ValueError("To count through a rollover, the number at which it begins anew is needed.")
    if max(start.value, end.value) >= modulus:
        raise ValueError(
            f"A counter that begins anew at {about(modulus, 6)} cannot show {max(start, end, key=_value).told}."
        )
    if end.value >= start.value:
        return end.value - start.value + modulus
    return counted(start.value, end.value, modulus=modulus)


def _value(one: Taken) -> Fraction:
    return one.value


def total_over(readings: Iterable[Count], span: Span, *, share_out: bool = False) -> Total:
    """Return what was counted in a stretch of time, and how much of it the readings cover.

    Steps that lie wholly inside count. With `share_out` a step that reaches over an edge gives the share of its time
    inside, as if it had counted evenly: an estimate, and said so.
    """
    value, covered, n, shared, unsettled = Fraction(0), Fraction(0), 0, False, []
    for one in steps(readings):
        inside = one.span.shared_with(span)
        hours = one.span.hours
        whole = _within(one.span, span)
        if one.counted is None:
            unsettled += [one.why] if inside > 0 or whole else []
        elif whole or (share_out and inside > 0):
            value += one.counted if whole else one.counted * inside / hours
            covered, n, shared = covered + inside, n + 1, shared or not whole
    return Total(
        value=value if n else None,
        covered_hours=covered,
        of_hours=span.hours,
        n=n,
        shared_out=shared,
        unsettled=tuple(unsettled),
    )


def _within(inner: Span, outer: Span) -> bool:
    if inner.hours == 0:  # so that of two stretches that meet only one has it
        return utc(outer.start) < utc(inner.end) <= utc(outer.end)
    return utc(outer.start) <= utc(inner.start) and utc(inner.end) <= utc(outer.end)


def rates(readings: Iterable[Count]) -> tuple[Fraction, ...]:
    """Return what was counted an hour, step by step in order of time, leaving out what is not settled."""
    return tuple(one.rate for one in steps(readings) if one.rate is not None)


def usual_rate(readings: Iterable[Count], *, last: int = 30) -> Fraction | None:
    """Return the middle of the newest rates, an hour; None without one."""
    newest = rates(readings)[-last:]
    return median(newest) if newest else None


def totals(readings: Iterable[Count]) -> Totals:
    """Return the running total at every reading, up to where a number fell and nobody said why.

    A total is known once its reading, the first one and every exchange or rollover on the way are written down.
    """
    found = list(readings)
    taken_steps = steps(found)
    if not taken_steps:
        first = in_order(found)[:1]
        return Totals(known=tuple(_first(one) for one in first))
    known = [_first(taken_steps[0].start)]
    # Only what carries a break is needed on the way: without one the readings between cancel out.
    needed = known[0].known_at
    for one in taken_steps:
        if one.counted is None:
            return Totals(known=tuple(known), stopped=one)
        end, before = one.end, known[-1]
        known_at = max(needed, end.known_at, key=utc)
        needed = known_at if end.broken is not None else needed
        total = before.total + one.counted
        known.append(Known(at=end.at, known_at=known_at, total=total, shown=end.value, n=before.n + 1))
    return Totals(known=tuple(known))


def _first(one: Count) -> Known:
    return Known(at=one.at, known_at=one.known_at, total=one.value, shown=one.value, n=1)


def known_by(readings: Iterable[Count], moment: dt.datetime) -> tuple[Count, ...]:
    """Return the readings that were written down by a moment, for a total as it was known then."""
    return tuple(one for one in readings if utc(one.known_at) <= utc(moment))


def total_at(found: Totals, moment: dt.datetime) -> Known | None:
    """Return the newest known total read at or before a moment; nothing is put between two readings."""
    return next((one for one in reversed(found.known) if utc(one.at) <= utc(moment)), None)


def first_reached(found: Totals, mark: Fraction) -> Known | None:
    """Return the total by which it was first known that a mark is reached (equal is reached), or None.

    Of several readings at or over the mark, the one that was known first: a reading written down late changes nothing
    of when it was known.
    """
    over = [one for one in found.known if one.total >= mark]
    return min(over, key=lambda one: (utc(one.known_at), utc(one.at))) if over else None


def hours_old(found: Totals, now: dt.datetime) -> Fraction | None:
    """Return how old the newest known total is, h."""
    return hours_between(found.last.at, now) if found.last is not None else None
