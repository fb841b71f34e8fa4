"""Lines and curves of least squares with what is known about them: covariance, scatter, fit, uncertainty at a point.

y = b0 + b1 (x - origin) + b2 (x - origin)^2 ..., each point with a weight. The sums are exact, so that no digits are
lost and the order of the points changes nothing; roots are taken last. Sources: JCGM 100:2008 H.3; NIST/SEMATECH
e-Handbook 2.3.6 and 4.5; figures certified by NIST (StRD) in the tests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

Point = tuple[Fraction, Fraction]
Square = tuple[tuple[Fraction, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A fitted polynomial: `coefficients` from the constant upwards, in unit of y over powers of the unit of x.

    `inverse` is (X^T W X)^-1; times the variance of a point of weight 1 it gives the covariance of the coefficients.
    `point_u` is the standard uncertainty of such a point where it is known beforehand (JCGM 100 H.3.6); None takes
    the scatter about the line. Without scatter and without `point_u` nothing is known: properties are then None.
    """

    coefficients: tuple[Fraction, ...]
    inverse: Square
    points: tuple[Point, ...]
    weights: tuple[Fraction, ...]
    origin: Fraction = Fraction(0)
    point_u: float | None = None

    def at(self, x: Fraction) -> Fraction:
        """Return y of the curve at x."""
        value = Fraction(0)
        for one in reversed(self.coefficients):
            value = value * (x - self.origin) + one
        return value

    def inside(self, x: Fraction) -> bool:
        """Tell whether x lies within the points; outside, every figure is an extrapolation."""
        return min(x for x, _ in self.points) <= x <= max(x for x, _ in self.points)

    @property
    def slope(self) -> Fraction:
        """The slope at the origin: of a straight line, the slope."""
        return self.coefficients[1]

    @property
    def residuals(self) -> tuple[Fraction, ...]:
        """y minus the curve, point by point, in the unit of y."""
        return tuple(y - self.at(x) for x, y in self.points)

    @property
    def weight_sum(self) -> Fraction:
        """The weights together: n where all are 1."""
        return sum(self.weights, Fraction(0))

    @property
    def mean_x(self) -> Fraction:
        """The weighted mean of x."""
        return sum((w * x for (x, _), w in self._weighted()), Fraction(0)) / self.weight_sum

    @property
    def mean_y(self) -> Fraction:
        """The weighted mean of y."""
        return sum((w * y for (_, y), w in self._weighted()), Fraction(0)) / self.weight_sum

    @property
    def sxx(self) -> Fraction:
        """The weighted sum of squares of x about its mean."""
        mean = self.mean_x
        return sum((w * (x - mean) ** 2 for (x, _), w in self._weighted()), Fraction(0))

    @property
    def dof(self) -> int:
        """Points less coefficients."""
        return len(self.points) - len(self.coefficients)

    @property
    def residual_squares(self) -> Fraction:
        """The weighted sum of squared residuals, about the curve."""
        return sum((w * r * r for w, r in zip(self.weights, self.residuals, strict=True)), Fraction(0))

    @property
    def explained_squares(self) -> Fraction:
        """The weighted sum of squares about the mean, less those about the curve."""
        mean = self.mean_y
        return sum((w * (y - mean) ** 2 for (_, y), w in self._weighted()), Fraction(0)) - self.residual_squares

    @property
    def residual_variance(self) -> Fraction | None:
        """The residual sum of squares over the degrees of freedom; None where there are none."""
        return self.residual_squares / self.dof if self.dof else None

    @property
    def residual_sd(self) -> float | None:
        """Residual standard deviation s of a point of weight 1, in the unit of y."""
        return None if self.residual_variance is None else math.sqrt(self.residual_variance)

    @property
    def r_squared(self) -> float | None:
        """R^2; None where all y are the same. It says how much the line explains, never that a line is right."""
        whole = self.explained_squares + self.residual_squares
        return float(self.explained_squares / whole) if whole else None

    @property
    def f_ratio(self) -> float | None:
        """F of the regression against no slope at all; infinite on a perfect line, None without scatter to compare."""
        if self.residual_variance is None:
            return None
        if self.residual_variance == 0:
            return math.inf
        return float(self.explained_squares / (len(self.coefficients) - 1) / self.residual_variance)

    @property
    def point_variance(self) -> Fraction | None:
        """The variance of a point of weight 1: known beforehand, else from the scatter about the curve."""
        return self.residual_variance if self.point_u is None else Fraction(self.point_u) ** 2

    @property
    def known_dof(self) -> float:
        """Degrees of freedom of that variance: endless where it is known beforehand."""
        return self.dof if self.point_u is None else math.inf

    @property
    def covariance(self) -> tuple[tuple[float, ...], ...] | None:
        """The covariances of the coefficients, the squares of their standard uncertainties on the diagonal."""
        variance = self.point_variance
        return None if variance is None else tuple(tuple(float(one * variance) for one in row) for row in self.inverse)

    @property
    def uncertainties(self) -> tuple[float, ...] | None:
        """The standard uncertainties of the coefficients."""
        found = self.covariance
        return None if found is None else tuple(math.sqrt(row[n]) for n, row in enumerate(found))

    def correlation(self, i: int, j: int) -> float:
        """Return r of two coefficients; it depends on where the points lie, not on their scatter."""
        return float(self.inverse[i][j]) / math.sqrt(self.inverse[i][i] * self.inverse[j][j])

    def u_at(self, x: Fraction, *, common_u: float = 0.0) -> float | None:
        """Return the standard uncertainty of the curve at x, covariances included, in the unit of y.

        common_u: of what all points share, such as the reference they were compared with; it does not shrink with
        their number (JCGM 100 H.3.6). None where nothing is known about the scatter.
        """
        variance = self.point_variance
        if variance is None:
            return None
        powers = [(x - self.origin) ** n for n in range(len(self.coefficients))]
        form = sum(
            (a * b * self.inverse[i][j] for i, a in enumerate(powers) for j, b in enumerate(powers)), Fraction(0)
        )
        return math.hypot(math.sqrt(form * variance), common_u)

    def with_point_u(self, point_u: float) -> Fit:
        """Return the same curve, its points known to a standard uncertainty beforehand (JCGM 100 H.3.6).

        Raises ValueError unless it is above 0.
        """
        if not (math.isfinite(point_u) and point_u > 0):
            raise ValueError("The uncertainty of a point is above 0.")
        return replace(self, point_u=point_u)

    def _weighted(self) -> tuple[tuple[Point, Fraction], ...]:
        return tuple(zip(self.points, self.weights, strict=True))


def fit(
    points: Sequence[Point],
    *,
    degree: int = 1,
    weights: Sequence[Fraction] | None = None,
    origin: Fraction = Fraction(0),
) -> Fit | None:
    """Fit a polynomial by least squares; None where the points have too few different x for its degree.

    weights: one a point, above 0, such as 1 / s^2 of each; 1 for all where they are left out.
    origin: where x is counted from (JCGM 100 H.3 counts from 20 degrees Celsius). Raises ValueError for a degree below
    1, and for weights that are not one a point and above 0.
    """
    if degree < 1:
        raise ValueError("A line has a degree of 1 or more.")
    ws = tuple(weights) if weights is not None else (Fraction(1),) * len(points)
    if len(ws) != len(points) or any(w <= 0 for w in ws):
        raise ValueError("Each point has one weight, above 0.")
    size = degree + 1
    if len({x for x, _ in points}) < size:
        return None
    powers = [[(x - origin) ** n for n in range(size)] for x, _ in points]
    normal = [
        [sum((w * row[i] * row[j] for row, w in zip(powers, ws, strict=True)), Fraction(0)) for j in range(size)]
        for i in range(size)
    ]
    right = [
        sum((w * row[i] * y for row, (_, y), w in zip(powers, points, ws, strict=True)), Fraction(0))
        for i in range(size)
    ]
    inverse = _inverted(normal)
    return Fit(
        coefficients=tuple(sum((a * b for a, b in zip(row, right, strict=True)), Fraction(0)) for row in inverse),
        inverse=inverse,
        points=tuple(points),
        weights=ws,
        origin=origin,
    )


def _inverted(matrix: list[list[Fraction]]) -> Square:
    """Invert a positive definite matrix exactly; its pivots are never nought."""
    size = len(matrix)
    rows = [[*row, *(Fraction(int(i == j)) for j in range(size))] for i, row in enumerate(matrix)]
    for n in range(size):
        pivot = rows[n][n]
        rows[n] = [one / pivot for one in rows[n]]
        for m in range(size):
            if m != n and rows[m][n]:
                factor = rows[m][n]
                rows[m] = [a - factor * b for a, b in zip(rows[m], rows[n], strict=True)]
    return tuple(tuple(row[size:]) for row in rows)
