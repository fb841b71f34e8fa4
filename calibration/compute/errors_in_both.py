"""A straight line where the reference is uncertain too: least squares with uncertainties in x and y.

Needed only where the reference's uncertainty is not small against the instrument's (*common practice*: above a third
of it). Source: York and others (2004), American Journal of Physics 72, 367, formulas 13.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

MOST_STEPS = 200
CLOSE = 1e-15


@dataclass(frozen=True, slots=True, kw_only=True)
class UncertainPoint:
    """One point with its standard uncertainties, each above 0, and the correlation of the two."""

    x: float
    y: float
    u_x: float
    u_y: float
    r: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoWayLine:
    """y = intercept + slope x with standard uncertainties from those of the points, not from their scatter.

    `chi_squared` over `dof` is near 1 where the stated uncertainties explain the scatter.
    """

    slope: float
    intercept: float
    u_slope: float
    u_intercept: float
    covariance: float
    chi_squared: float
    dof: int


def two_way_line(points: Sequence[UncertainPoint]) -> TwoWayLine | None:
    """Fit the line by repeated steps; None where the points have fewer than two different x, or the steps do not end.

    Raises ValueError for an uncertainty that is not above 0 and a correlation outside -1 to 1.
    """
    if any(not (one.u_x > 0 and one.u_y > 0) or abs(one.r) >= 1 for one in points):
        raise ValueError("Each point has uncertainties above 0, correlated by less than 1.")
    if len({one.x for one in points}) < 2:
        return None
    slope = _plain_slope(points)
    steepest = max(abs(slope), _spread([one.y for one in points]) / _spread([one.x for one in points]))
    for _ in range(MOST_STEPS):
        before, slope = slope, _next_slope(points, slope)
        if abs(slope - before) <= CLOSE * steepest:
            return _line(points, slope)
    return None


def _spread(values: Sequence[float]) -> float:
    return max(values) - min(values)


def _plain_slope(points: Sequence[UncertainPoint]) -> float:
    mean_x = math.fsum(one.x for one in points) / len(points)
    above = math.fsum((one.x - mean_x) * one.y for one in points)
    return above / math.fsum((one.x - mean_x) ** 2 for one in points)


def _weights(points: Sequence[UncertainPoint], slope: float) -> list[float]:
    return [1 / (one.u_y**2 + (slope * one.u_x) ** 2 - 2 * slope * one.r * one.u_x * one.u_y) for one in points]


def _mean(weights: Sequence[float], values: Sequence[float]) -> float:
    return math.fsum(w * value for w, value in zip(weights, values, strict=True)) / math.fsum(weights)


def _means(points: Sequence[UncertainPoint], weights: Sequence[float]) -> tuple[float, float]:
    return _mean(weights, [one.x for one in points]), _mean(weights, [one.y for one in points])


def _shifts(points: Sequence[UncertainPoint], weights: Sequence[float], slope: float) -> list[float]:
    """Return where each adjusted point lies along x, from the weighted mean."""
    mean_x, mean_y = _means(points, weights)
    shifts = []
    for one, w in zip(points, weights, strict=True):
        u, v = one.x - mean_x, one.y - mean_y
        mixed = one.r * one.u_x * one.u_y
        shifts.append(w * (u * one.u_y**2 + slope * v * one.u_x**2 - (slope * u + v) * mixed))
    return shifts


def _next_slope(points: Sequence[UncertainPoint], slope: float) -> float:
    weights = _weights(points, slope)
    mean_x, mean_y = _means(points, weights)
    pulls = [w * shift for w, shift in zip(weights, _shifts(points, weights, slope), strict=True)]
    above = math.fsum(pull * (one.y - mean_y) for pull, one in zip(pulls, points, strict=True))
    return above / math.fsum(pull * (one.x - mean_x) for pull, one in zip(pulls, points, strict=True))


def _line(points: Sequence[UncertainPoint], slope: float) -> TwoWayLine:
    weights = _weights(points, slope)
    mean_x, mean_y = _means(points, weights)
    intercept = mean_y - slope * mean_x
    adjusted = [mean_x + shift for shift in _shifts(points, weights, slope)]
    middle = _mean(weights, adjusted)
    var_slope = 1 / math.fsum(w * (x - middle) ** 2 for w, x in zip(weights, adjusted, strict=True))
    return TwoWayLine(
        slope=slope,
        intercept=intercept,
        u_slope=math.sqrt(var_slope),
        u_intercept=math.sqrt(1 / math.fsum(weights) + middle**2 * var_slope),
        covariance=-middle * var_slope,
        chi_squared=math.fsum(
            w * (one.y - intercept - slope * one.x) ** 2 for w, one in zip(weights, points, strict=True)
        ),
        dof=len(points) - 2,
    )
