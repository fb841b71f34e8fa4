"""Is a calibration line still good? Check standards read through it, low, middle and high (NIST e-Handbook 2.3.7)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.coverage import joint_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class LineInUse:
    """A calibration line in use: y = intercept + slope x, its residual standard deviation s and degrees of freedom."""

    intercept: Fraction
    slope: Fraction
    s: float
    dof: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """The difference of each check standard from its known value, W = (Y - b0) / b1 - X, in the unit of X.

    `limit` holds on both sides: (s / |b1|) t*. `out` are the places in the sequence of the values beyond it.
    """

    differences: tuple[Fraction, ...]
    factor: float
    limit: float
    out: tuple[int, ...]


def control(
    line: LineInUse, checks: Sequence[tuple[Fraction, Fraction]], *, standards: int, alpha: float = 0.05
) -> Control:
    """Judge readings of check standards: `checks` are (known value X, reading Y), `standards` how many make one check.

    alpha: the chance of a false alarm of all standards of one check together. A value on the limit is inside.
    Raises ValueError for fewer than one standard, ZeroDivisionError for a level line.
    """
    differences = tuple((y - line.intercept) / line.slope - x for x, y in checks)
    factor = joint_factor(alpha, standards, line.dof)
    limit = line.s / abs(float(line.slope)) * factor
    return Control(
        differences=differences,
        factor=factor,
        limit=limit,
        out=tuple(place for place, one in enumerate(differences) if abs(float(one)) > limit),
    )
