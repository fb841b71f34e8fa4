"""The stretch of good checks that limits are taken from, fixed by a person and ended by any change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

MINIMUM = 10  # common practice, no source: below it three standard deviations are mostly luck

Change = Literal["", "adjusted", "swapped", "method changed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """One check on a chart: value in the unit of the chart, whether it was good, what was changed just before it."""

    value: Fraction
    good: bool = True
    change: Change = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """At least ten good checks in a row without a change; `first` and `last` are places in the history, from 0."""

    values: tuple[Fraction, ...]
    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoLimits:
    """No baseline, so no limits: how many good checks there are, and the sentence to show."""

    n: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """The points a baseline may judge: those after it, up to the next change; `ended` names the change, if one came."""

    values: tuple[Fraction, ...]
    ended: Change


def baseline(points: Sequence[ChartPoint], *, first: int, last: int) -> Baseline | NoLimits:
    """Return the baseline a person fixed, from place `first` to place `last` of the history, both included.

    Checks that were not good are left out. A change inside the stretch cuts it: only what follows the last change
    counts. Raises ValueError when the places do not lie in the history in this order.
    """
    if not 0 <= first <= last < len(points):
        raise ValueError("The first and the last check of a baseline lie in the history, in this order.")
    begin = max([first, *(at for at in range(first + 1, last + 1) if points[at].change)])
    values = tuple(point.value for point in points[begin : last + 1] if point.good)
    if len(values) < MINIMUM:
        return NoLimits(
            n=len(values),
            says=f"No limits until a baseline of at least {MINIMUM} good checks; there are {len(values)}.",
        )
    return Baseline(values=values, first=begin, last=last)


def watched(points: Sequence[ChartPoint], on: Baseline) -> Watched:
    """Return the points that a baseline judges: never its own, and none from an adjustment, swap or new method on."""
    judged: list[Fraction] = []
    for point in points[on.last + 1 :]:
        if point.change:
            return Watched(values=tuple(judged), ended=point.change)
        judged.append(point.value)
    return Watched(values=tuple(judged), ended="")
