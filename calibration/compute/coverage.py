"""How wide an interval must be to hold a share of what may be true: coverage factors of Student and of the normal.

JCGM 100:2008, annex G. A probability is a number between 0 and 1; degrees of freedom may be any number above 0, and
`math.inf` for a standard uncertainty that is taken as known. They are not cut down to whole numbers: what G.4 leaves
open (take the next lower whole number, or interpolate) is settled here as interpolating.
"""

from __future__ import annotations

import math
from statistics import NormalDist

DIGITS = 12

_NORMAL = NormalDist()


def normal_share(k: float) -> float:
    """Return the share of a normal distribution within k standard deviations on both sides: 2 Phi(k) - 1."""
    return math.erf(k / math.sqrt(2))


TWO_SIGMA = normal_share(2.0)
"""The share that k = 2 covers, printed 95.45 %: 2 Phi(2) - 1, so that k comes out as 2 and not as 2.000002."""


def below(z: float) -> float:
    """Return Phi(z), the share of a normal distribution below z standard deviations; exact far into both tails."""
    return math.erfc(-z / math.sqrt(2)) / 2


def normal_quantile(probability: float) -> float:
    """Return z with Phi(z) = probability. Raises ValueError outside 0 to 1 (both excluded)."""
    if not 0 < probability < 1:
        raise ValueError(f"A probability lies between 0 and 1, not at {probability}.")
    return _NORMAL.inv_cdf(probability)


def student_quantile(probability: float, dof: float) -> float:
    """Return t with P(T <= t) = probability for so many degrees of freedom (`math.inf`: the normal quantile).

    Raises ValueError for a probability outside 0 to 1 and for degrees of freedom that are not above 0.
    """
    if not dof > 0:
        raise ValueError(f"Degrees of freedom are above 0, not {dof}.")
    if math.isinf(dof):
        return normal_quantile(probability)
    if not 0 < probability < 1:
        raise ValueError(f"A probability lies between 0 and 1, not at {probability}.")
    from scipy.special import stdtrit

    return float(stdtrit(dof, probability))


def coverage_factor(probability: float = TWO_SIGMA, dof: float = math.inf) -> float:
    """Return k, without unit: plus and minus k standard uncertainties hold `probability` (JCGM 100 G.3, table G.2).

    Rounded to twelve significant digits, so that k is 2 where it is meant to be. Errors as `student_quantile`.
    """
    return float(f"{student_quantile((1 + probability) / 2, dof):.{DIGITS}g}")


def joint_factor(alpha: float, comparisons: int, dof: float) -> float:
    """Return t* for several comparisons at once, so that all together raise a false alarm with probability `alpha`.

    t* = t(1 - (1 - (1 - alpha)^(1/m)) / 2; dof) for m comparisons. Source: NIST/SEMATECH e-Handbook 2.3.7.
    Raises ValueError for fewer than one comparison and as `student_quantile`.
    """
    if comparisons < 1:
        raise ValueError("At least one comparison is needed.")
    each = 1 - (1 - alpha) ** (1 / comparisons)
    return student_quantile(1 - each / 2, dof)
