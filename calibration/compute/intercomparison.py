"""Several instruments on one stream and no reference at hand: what their readings say about each of them.

Each instrument is judged by the others, weighted by how far each may be off; what all have wrong together cannot be
seen. Source: NASA RP-1342 (1994), Metrology: Calibration and Measurement Processes Guidelines, 6.4.2 and appendix D.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.coverage import below, normal_quantile


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """One instrument of several: its reading, its tolerance on both sides, and how likely it is within it beforehand.

    Reading and tolerance in one unit; `in_tolerance` between 0 and 1, as `mean_reliability` gives it.
    """

    reading: Fraction
    tolerance: Fraction
    in_tolerance: float

    @property
    def spread(self) -> float:
        """The standard deviation of its error before anything is compared."""
        return float(self.tolerance) / normal_quantile((1 + self.in_tolerance) / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What the others say of an instrument: its likely error, in the unit of the readings, and P(in tolerance)."""

    bias: float
    in_tolerance: float


def mean_reliability(at_end: float, at_start: float = 1.0) -> float:
    """Return the share in tolerance on average over an interval, from those at its start and end.

    (R_end - R_start) / ln(R_end / R_start), for a share that falls exponentially. Raises ValueError unless both are
    above 0 and at most 1, the end not above the start.
    """
    if not 0 < at_end <= at_start <= 1:
        raise ValueError("Shares in tolerance lie between 0 and 1, and the later one is not the larger.")
    return at_start if at_end == at_start else (at_end - at_start) / math.log(at_end / at_start)


def compared(instruments: Sequence[Instrument]) -> tuple[Seen, ...]:
    """Judge each instrument by all others, in their order; errors of different instruments are independent.

    Raises ValueError for fewer than three (of two nobody knows which is off), a tolerance that is not above 0, and a
    share in tolerance outside 0 to 1.
    """
    if len(instruments) < 3:
        raise ValueError("Of two instruments that differ nobody can tell which one is off; it takes three.")
    if any(one.tolerance <= 0 for one in instruments):
        raise ValueError("A tolerance is above 0.")
    return tuple(_seen(one, [*instruments[:n], *instruments[n + 1 :]]) for n, one in enumerate(instruments))


def _seen(one: Instrument, others: Sequence[Instrument]) -> Seen:
    ratios = [(one.spread / other.spread) ** 2 for other in others]
    total = 1 + math.fsum(ratios)
    apart = math.fsum(float(one.reading - other.reading) * r for other, r in zip(others, ratios, strict=True))
    bias = apart / total
    sharpened = math.sqrt(total) / one.spread
    limit = float(one.tolerance)
    outside = below(-sharpened * (limit - bias)) + below(-sharpened * (limit + bias))
    return Seen(bias=bias, in_tolerance=1 - outside)
