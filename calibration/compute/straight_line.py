"""A straight line through two or more points, exact; square roots only where a standard error is asked for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class StraightLine:
    """y = intercept + slope x, with the points it was drawn through.

    Two points always lie on their line: no residual, no standard error, so a bad point cannot be seen.
    """

    slope: Fraction
    intercept: Fraction
    points: tuple[tuple[Fraction, Fraction], ...]

    def at(self, x: Fraction) -> Fraction:
        """Return y at x."""
        return self.intercept + self.slope * x

    def where(self, y: Fraction) -> Fraction:
        """Return x where the line has y; raises ZeroDivisionError when the line is level."""
        return (y - self.intercept) / self.slope

    @property
    def mean_x(self) -> Fraction:
        """The mean of the x values."""
        return sum((x for x, _ in self.points), Fraction(0)) / len(self.points)

    @property
    def mean_y(self) -> Fraction:
        """The mean of the y values."""
        return sum((y for _, y in self.points), Fraction(0)) / len(self.points)

    @property
    def sxx(self) -> Fraction:
        """Sum of the squared distances of x from its mean."""
        return sum(((x - self.mean_x) ** 2 for x, _ in self.points), Fraction(0))

    @property
    def residuals(self) -> tuple[Fraction, ...]:
        """y minus the line, point by point, in the unit of y."""
        return tuple(y - self.at(x) for x, y in self.points)

    @property
    def residual_sd(self) -> float | None:
        """s = sqrt(sum r^2 / (n - 2)), in the unit of y; None for two points."""
        free = len(self.points) - 2
        return math.sqrt(sum(r * r for r in self.residuals) / free) if free else None

    @property
    def se_slope(self) -> float | None:
        """se(slope) = s / sqrt(Sxx); None for two points."""
        s = self.residual_sd
        return None if s is None else s / math.sqrt(self.sxx)

    @property
    def se_intercept(self) -> float | None:
        """se(intercept) = s sqrt(1/n + mean_x^2 / Sxx); None for two points."""
        s = self.residual_sd
        return None if s is None else s * math.sqrt(Fraction(1, len(self.points)) + self.mean_x**2 / self.sxx)


def line_through(points: tuple[tuple[Fraction, Fraction], ...]) -> StraightLine | None:
    """Return the line of least squares of y on x, exact; None when there are not two different x.

    With two points it is the line through both. The order of the points changes nothing, to the last digit.
    """
    if len({x for x, _ in points}) < 2:
        return None
    count = len(points)
    mean_x = sum((x for x, _ in points), Fraction(0)) / count
    mean_y = sum((y for _, y in points), Fraction(0)) / count
    sxx = sum(((x - mean_x) ** 2 for x, _ in points), Fraction(0))
    slope = sum(((x - mean_x) * (y - mean_y) for x, y in points), Fraction(0)) / sxx
    return StraightLine(slope=slope, intercept=mean_y - slope * mean_x, points=points)
