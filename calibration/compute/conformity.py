"""What a verdict rests on: how sure it is, what a guard band buys, and whether the standard is good enough.

The judging itself stands in `verdict.verdict_of`; nothing here changes a verdict. Sources: JCGM 106:2012,
ILAC-G8:09/2019. An expanded uncertainty U is at k = 2 here, as those documents have it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.coverage import below, normal_quantile
from calibration.compute.method import Judged, Verdict
from calibration.compute.verdict import verdict_of

GUARD_MULTIPLES: Mapping[str, Fraction] = {
    "simple acceptance": Fraction(0),
    "ISO 14253-1": Fraction("0.83"),
    "whole uncertainty": Fraction(1),
    "three sigma": Fraction("1.5"),
    "six sigma": Fraction(3),
}
"""The multiple r of a guard band w = r U by the name of the rule (ILAC-G8:09/2019, table 1, from memory in part)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assurance:
    """How likely one result is right, given its uncertainty, and the risk of the decision taken on it.

    `conforming` is the probability that the true value is inside the limits. Of `false_acceptance` and
    `false_rejection`, the one that belongs to the decision is a probability, the other is None.
    """

    conforming: float
    accepted: bool
    false_acceptance: float | None
    false_rejection: float | None


def conformance_probability(
    value: Fraction | float,
    u: float,
    *,
    low: Fraction | float | None = None,
    high: Fraction | float | None = None,
    dof: float = math.inf,
) -> float:
    """Return the probability that the true value lies inside the limits, the limits themselves included.

    u: standard uncertainty in the unit of the value; without any, the value itself is inside or not. A limit that is
    None is not there. dof: Student's distribution where u is known from few readings. JCGM 106:2012, 7.3 and 7.4.
    Raises ValueError for a negative u and for limits in the wrong order.
    """
    if u < 0:
        raise ValueError("An uncertainty cannot be negative.")
    if low is not None and high is not None and low > high:
        raise ValueError("The lower limit lies above the upper one.")
    if u == 0:
        return float((low is None or value >= low) and (high is None or value <= high))
    # What is outside on either side is counted, not what is inside: both tails keep their digits.
    under = 0.0 if low is None else _share_below(float(low - value) / u, dof)
    over = 0.0 if high is None else _share_below(float(value - high) / u, dof)
    return max(0.0, 1 - under - over)


def _share_below(z: float, dof: float) -> float:
    if math.isinf(dof):
        return below(z)
    from scipy.special import stdtr

    return float(stdtr(dof, z))


def assurance(conforming: float, *, accepted: bool) -> Assurance:
    """Put the risk of a decision beside it: the specific risk of this one result (JCGM 106:2012, 3.3.13 and 3.3.14).

    conforming: as `conformance_probability` gives it.
    """
    return Assurance(
        conforming=conforming,
        accepted=accepted,
        false_acceptance=1 - conforming if accepted else None,
        false_rejection=None if accepted else conforming,
    )


def guard_band(expanded: Fraction, multiple: Fraction = Fraction(1)) -> Fraction:
    """Return w = r U, in the unit of U, exact. Raises ValueError where one of them is negative."""
    if expanded < 0 or multiple < 0:
        raise ValueError("An uncertainty and its multiple cannot be negative.")
    return multiple * expanded


def outcome(value: Fraction, *, low: Fraction | None, high: Fraction | None, guard: Fraction) -> Verdict:
    """Return one of the four outcomes for a guard band of any width, by the judge that every check has.

    Pass up to limit - w, conditional pass to the limit, conditional fail to limit + w, fail beyond; each edge belongs
    to the better side. All in one unit. Raises ValueError for a negative guard band.
    """
    return verdict_of(
        Judged(name="value", what="The value", value=value, unit="", of="", low=low, high=high, uncertainty=guard)
    )


def acceptance_limits(
    *, low: Fraction | None, high: Fraction | None, guard: Fraction
) -> tuple[Fraction | None, Fraction | None]:
    """Return the limits between which a result passes without condition: low + w and high - w.

    Raises ValueError where the guard band leaves nothing between two limits: then no result can pass.
    """
    inner = (None if low is None else low + guard, None if high is None else high - guard)
    if inner[0] is not None and inner[1] is not None and inner[0] > inner[1]:
        raise ValueError("The guard band leaves nothing between the limits: no result could pass.")
    return inner


def largest_false_acceptance(multiple: Fraction | float) -> float:
    """Return the risk of a false acceptance of a result exactly at limit - r U: 1 - Phi(2 r), one limit, U = 2 u.

    No result that passes is less sure. ILAC-G8:09/2019, 4.1 and table 1.
    """
    return below(-2 * float(multiple))


def guard_multiple_for(risk: float) -> float:
    """Return the multiple r of U that keeps the risk of a false acceptance at `risk` or below: z(1 - risk) / 2.

    Raises ValueError unless the risk is above 0 and at most a half.
    """
    if not 0 < risk <= 0.5:
        raise ValueError("The accepted risk lies above 0 and at a half or below.")
    return normal_quantile(1 - risk) / 2


def uncertainty_ratio(limit: Fraction, expanded: Fraction) -> Fraction:
    """Return limit / U, without unit: how many times the uncertainty goes into the limit.

    limit: half the width of two-sided limits, or the one limit of an error. With the U of the whole check it is the
    test uncertainty ratio (ANSI/NCSL Z540.3); with the U of the standard alone it is called "limit / U of the
    standard" and is no such ratio. Raises ValueError unless both are above 0.
    """
    if limit <= 0 or expanded <= 0:
        raise ValueError("A limit and an uncertainty are compared when both are above 0.")
    return limit / expanded


def capability_index(low: Fraction, high: Fraction, u: float) -> float:
    """Return C_m = T / (4 u), T the full width between the limits (JCGM 106:2012, 7.6.3).

    Raises ValueError unless u and the width are above 0.
    """
    if u <= 0 or high <= low:
        raise ValueError("Limits apart from each other and an uncertainty above 0 are needed.")
    return float(high - low) / (4 * u)


def managed_factor(ratio: float, *, clamped: bool = True) -> float:
    """Return M of the managed guard band: accept up to limit - M U, and false acceptances stay below 2 %.

    M = 1.04 - exp(0.38 ln(ratio) - 0.54), for any history of the instrument; from a ratio of 4.6 on it would be
    negative and is held at 0, because an acceptance zone is never widened. `clamped` False gives the bare formula.
    Source: method 6 of the handbook to ANSI/NCSL Z540.3, formula from memory, proven by the 2 % it promises.
    Raises ValueError unless the ratio is above 0.
    """
    if not ratio > 0:
        raise ValueError("A ratio of limit and uncertainty is above 0.")
    factor = 1.04 - math.exp(0.38 * math.log(ratio) - 0.54)
    return max(0.0, factor) if clamped else factor


def root_difference_fraction(ratio: float) -> float:
    """Return the part of the limit up to which results pass: sqrt(1 - 1 / ratio^2), another guard band (RSS).

    Raises ValueError for a ratio below 1: then nothing could pass.
    """
    if ratio < 1:
        raise ValueError("With an uncertainty above the limit nothing can pass by this rule.")
    return math.sqrt(1 - 1 / ratio**2)
