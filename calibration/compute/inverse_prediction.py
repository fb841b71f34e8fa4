"""From a reading back to the true value, through a calibration line, with limits that say when there are none.

Fieller's limits: the true values whose reading would not surprise. Sources: Graybill and Iyer, Regression Analysis,
chapter 6; Massart and others, Handbook of Chemometrics and Qualimetrics A, formula 8.28; DIN 32645.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.coverage import student_quantile
from calibration.compute.line_fit import Fit

NO_SLOPE = (
    "The slope is not told apart from a level line at this confidence, so no reading gives finite limits for the true "
    "value. More points, or points further apart, are needed."
)
TWO_POINTS = "Two points always lie on their line: their scatter is not known, and no limits can be given."
OUTSIDE = "The value lies outside the points of the line: this is an extrapolation, and nothing was measured there."


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueValue:
    """The true value of a reading, in the unit of x.

    `low` and `high` are Fieller's limits, not the same distance from `x`; None where they are not finite. `g` is the
    squared ratio of t u(slope) to the slope: at 1 and above the slope is not significant. `u` is the first-order
    standard uncertainty, `half_width` t times it: what books print, too narrow unless g is small. `says` are sentences
    for whoever reads the figure; empty where there is nothing to say.
    """

    x: Fraction
    low: float | None
    high: float | None
    g: float | None
    u: float | None
    half_width: float | None
    probability: float
    extrapolated: bool
    says: tuple[str, ...]


def true_value(
    line: Fit,
    reading: Fraction,
    *,
    probability: float = 0.95,
    readings: int = 1,
    mean_response: bool = False,
    weight: Fraction = Fraction(1),
) -> TrueValue:
    """Return the true value of a reading (the mean of `readings` of them) with two-sided limits of `probability`.

    reading: in the unit of y. mean_response asks where the line itself has that value, without the scatter of one more
    reading. weight: of a reading there, on the scale of the line's weights. Raises ValueError for a curve, for fewer
    than one reading, for a weight that is not above 0, and ZeroDivisionError for a level line.
    """
    if len(line.coefficients) != 2:
        raise ValueError("Only a straight line is read backwards here.")
    if readings < 1 or weight <= 0:
        raise ValueError("A mean has one reading or more, each with a weight above 0.")
    x = line.origin + (reading - line.coefficients[0]) / line.slope
    extrapolated = not line.inside(x)
    outside = (OUTSIDE,) if extrapolated else ()
    if line.point_variance is None:
        return TrueValue(
            x=x,
            low=None,
            high=None,
            g=None,
            u=None,
            half_width=None,
            probability=probability,
            extrapolated=extrapolated,
            says=(TWO_POINTS, *outside),
        )
    again = Fraction(0) if mean_response else 1 / (weight * readings)
    t = student_quantile((1 + probability) / 2, line.known_dof)
    g, u, limits = _fieller(line, x, line.point_variance, t=t, again=again)
    return TrueValue(
        x=x,
        low=limits[0] if limits else None,
        high=limits[1] if limits else None,
        g=g,
        u=u,
        half_width=t * u,
        probability=probability,
        extrapolated=extrapolated,
        says=(*(() if limits else (NO_SLOPE,)), *outside),
    )


def _fieller(
    line: Fit, x: Fraction, variance: Fraction, *, t: float, again: Fraction
) -> tuple[float, float, tuple[float, float] | None]:
    """Return g, the first-order standard uncertainty, and the limits, None unless g is below 1."""
    away = x - line.mean_x
    scale = math.sqrt(variance) / abs(float(line.slope))
    near = float(again + 1 / line.weight_sum)
    far = float(away * away / line.sxx)
    u = scale * math.sqrt(near + far)
    g = t * t * float(variance / (line.slope**2 * line.sxx))
    if g >= 1:
        return g, u, None
    reach = t * scale * math.sqrt(far + (1 - g) * near)
    middle = g * float(away)
    return g, u, (float(x) + (middle - reach) / (1 - g), float(x) + (middle + reach) / (1 - g))


def decision_limit(line: Fit, *, alpha: float = 0.01) -> float | None:
    """Return the least content told apart from none: s / |b1| t(1 - alpha) sqrt(1 + 1/n + mean^2 / Sxx), unit of x.

    alpha: the chance that a sample of nothing passes it. None where the scatter is not known. Source: DIN 32645,
    through the calibration line. Raises ValueError for a curve, ZeroDivisionError for a level line.
    """
    if len(line.coefficients) != 2:
        raise ValueError("Only a straight line is read backwards here.")
    if line.residual_sd is None:
        return None
    spread = math.sqrt(1 + 1 / line.weight_sum + line.mean_x**2 / line.sxx)
    return line.residual_sd / abs(float(line.slope)) * student_quantile(1 - alpha, line.dof) * spread
