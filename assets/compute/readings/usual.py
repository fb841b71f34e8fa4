"""What is usual at a place: the middle of the last readings and how far they lie from it, deaf to single slips."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median

from assets.compute.readings.facts import Taken, in_order

MAD_TO_SIGMA = Fraction("1.4826")
"""Standard deviation of a normal distribution over its median absolute deviation, 1/0.67449, to five digits."""

LAST = 30
"""How many of the newest readings count: own judgement, a month of daily walks."""

LEAST = 8
"""Fewer readings than this say nothing of what is usual: own judgement."""

FACTOR = Fraction(5)
"""How many spreads from the middle are still usual: own judgement; wide, because each question costs a second look."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """What is usual by n readings: middle (median), spread (1.4826 median absolute deviations), low and high.

    All in the unit of the readings. A spread below the step of the display is taken as that step.
    """

    n: int
    middle: Fraction
    spread: Fraction
    low: Fraction
    high: Fraction

    def holds(self, value: Fraction) -> bool:
        """Whether a value is usual; its ends are."""
        return self.low <= value <= self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class TooFew:
    """Too few readings to say what is usual: n of them, `least` are needed."""

    n: int
    least: int

    @property
    def says(self) -> str:
        """The sentence for the page."""
        return f"Too few readings to say what is usual: {self.n} of {self.least}."


def spread_of(values: Sequence[Fraction]) -> Fraction:
    """Return 1.4826 times the median absolute deviation from the median. Raises StatisticsError for no values."""
    middle = median(values)
    return MAD_TO_SIGMA * median([abs(one - middle) for one in values])


def usual(
    readings: Iterable[Taken], *, last: int = LAST, least: int = LEAST, factor: Fraction = FACTOR
) -> Usual | TooFew:
    """Return what is usual by the newest readings, in their common unit; TooFew under `least` of them.

    Source: median and median absolute deviation, the usual robust pair; its width is own judgement.
    """
    newest = in_order(readings)[-last:]
    if len(newest) < least:
        return TooFew(n=len(newest), least=least)
    values = [one.value for one in newest]
    middle = median(values)
    spread = max(spread_of(values), *(one.step for one in newest))
    return Usual(
        n=len(newest), middle=middle, spread=spread, low=middle - factor * spread, high=middle + factor * spread
    )
