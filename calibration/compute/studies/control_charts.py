"""Charts of single values: individuals with moving range, exponentially weighted mean, cumulative sums.

Limits come from a baseline and judge later points; a value on its limit is inside it.
Formulas: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 to 6.3.2.4.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from calibration.compute.studies.baseline import Baseline

# Table constants for ranges of two values. The exact d2 is 2/sqrt(pi) = 1.12838; charts in print use three decimals.
D2 = Fraction(1128, 1000)
D4 = Fraction(3267, 1000)


@dataclass(frozen=True, slots=True, kw_only=True)
class IndividualsLimits:
    """Limits in the unit of the values: mean, 3 standard deviations either side, and the range with its limit."""

    n: int
    centre: Fraction
    low: Fraction
    high: Fraction
    mean_range: Fraction
    range_high: Fraction

    @property
    def sd(self) -> Fraction:
        """The standard deviation of one check to the next, mean moving range / d2."""
        return self.mean_range / D2


@dataclass(frozen=True, slots=True, kw_only=True)
class Plotted:
    """One point of a chart with the limits that hold at it, in the unit of the values."""

    value: float
    low: float
    high: float

    @property
    def signal(self) -> bool:
        """Whether the point lies beyond a limit."""
        return not self.low <= self.value <= self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class Sums:
    """The two cumulative sums after one point, and which of them passed the decision limit ('' when neither did)."""

    high: Fraction
    low: Fraction
    signal: str


def individuals_limits(on: Baseline) -> IndividualsLimits:
    """Return mean ± 3 MR / d2 and D4 MR from a baseline (e-Handbook 6.3.2.2)."""
    return _limits(on.values)


def _limits(values: Sequence[Fraction]) -> IndividualsLimits:
    centre = sum(values, Fraction(0)) / len(values)
    mean_range = sum((abs(b - a) for a, b in pairwise(values)), Fraction(0)) / (len(values) - 1)
    reach = 3 * mean_range / D2
    return IndividualsLimits(
        n=len(values),
        centre=centre,
        low=centre - reach,
        high=centre + reach,
        mean_range=mean_range,
        range_high=D4 * mean_range,
    )


def in_sds(values: Sequence[Fraction], by: IndividualsLimits) -> tuple[Fraction, ...]:
    """Return each value as its distance from the centre in standard deviations, for the run rules.

    Raises ValueError when every value of the baseline was the same, since no distance can then be told.
    """
    if by.sd == 0:
        raise ValueError("Every check of the baseline read the same; no spread, so no limits.")
    return tuple((value - by.centre) / by.sd for value in values)


def ewma(
    values: Sequence[Fraction | float],
    *,
    target: float,
    sd: float,
    weight: float = 0.3,
    width: float = 3.0,
    exact: bool = True,
) -> tuple[Plotted, ...]:
    """Return the exponentially weighted mean z = w x + (1 - w) z', begun at the target (e-Handbook 6.3.2.4).

    Limits are target ± width sd sqrt(w / (2 - w)); `exact` narrows them for the first points by
    sqrt(1 - (1 - w)^(2 t)). `weight` lies in (0, 1], otherwise ValueError; a negative `sd` too.
    """
    if not 0 < weight <= 1 or sd < 0:
        raise ValueError("The weight lies above 0 and up to 1; a standard deviation is not negative.")
    mean, plotted = target, []
    for at, value in enumerate(values, start=1):
        mean = weight * float(value) + (1 - weight) * mean
        reach = width * sd * math.sqrt(weight / (2 - weight))
        if exact:
            reach *= math.sqrt(1 - (1 - weight) ** (2 * at))
        plotted.append(Plotted(value=mean, low=target - reach, high=target + reach))
    return tuple(plotted)


def cusum(
    values: Sequence[Fraction], *, target: Fraction, slack: Fraction, decision: Fraction, restart: bool = False
) -> tuple[Sums, ...]:
    """Return the tabular cumulative sums of a step either way (e-Handbook 6.3.2.3), all in the unit of the values.

    high = max(0, high' + x - target - slack), low = max(0, low' + target - slack - x); a sum above `decision` is a
    signal. With `restart` both begin at zero again after a signal, as after a search for the cause.
    """
    if slack < 0 or decision <= 0:
        raise ValueError("The slack is not negative and the decision limit lies above zero.")
    nothing = Fraction(0)
    high, low, sums = nothing, nothing, []
    for value in values:
        high = max(nothing, high + value - target - slack)
        low = max(nothing, low + target - slack - value)
        signal = "high" if high > decision else "low" if low > decision else ""
        sums.append(Sums(high=high, low=low, signal=signal))
        if signal and restart:
            high, low = nothing, nothing
    return tuple(sums)
