"""What a verdict rests on: how sure it is, what a guard band buys, and whether the standard is good enough.

The judging itself stands in `verdict.verdict_of`; nothing here changes a verdict. Sources: JCGM 106:2012,
ILAC-G8:09/2019. An expanded uncertainty U is at k = 2 here, as those documents have it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from calibration.compute.budget import EXPANDED, each_of
from calibration.compute.coverage import below, normal_quantile
from calibration.compute.method import VERDICTS, Judged, Line, Verdict
from calibration.compute.reporting import shown_up
from calibration.compute.verdict import verdict_of

COMBINED = "Combined standard uncertainty u_c, "
FREEDOM = "Effective degrees of freedom"
FACTOR = "Coverage factor k for "
PLAIN_FACTOR = 2
"""k of an uncertainty that is stated as U alone: as `Judged.uncertainty` has it, with a normal distribution."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What the lines of a budget say of one judged value, in its unit, at the digits they show.

    `u` is the combined standard uncertainty, `dof` its effective degrees of freedom (endless where none are counted or
    the formula does not hold), `expanded` U and `k` its factor as written, `probability` what k covers (0.9545).
    """

    u: Fraction
    dof: float
    expanded: str
    k: str
    probability: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sure:
    """How sure one judged value is. `u` and `dof` are what the probabilities were worked out from.

    `from_expanded` says that only U was stated: u is U / 2 then, the distribution normal. `inner` are the limits
    between which a result passes without condition; None where the rule counts no uncertainty. `none_passes` is True
    where the uncertainty leaves nothing between the two limits.
    """

    of: Judged
    verdict: Verdict
    u: Fraction
    dof: float
    from_expanded: bool
    assurance: Assurance
    inner: tuple[Fraction | None, Fraction | None] | None
    none_passes: bool


def stated_in(lines: Iterable[Line]) -> dict[str, Stated]:
    """Return what the lines of budgets state, by the words of the judged value.

    Read from the lines of the working because they are what is kept with a signed set; three digits of u are enough
    for a probability in tenths of a percent.
    """
    found: dict[str, Stated] = {}
    u, dof, k, probability = Fraction(0), math.inf, "", ""
    for line in lines:
        if line.text.startswith(COMBINED):
            u, dof, k, probability = Fraction(line.value), math.inf, "", ""
        elif line.text.startswith(FREEDOM) and line.value:
            dof = float(line.value)
        elif line.text.startswith(FACTOR):
            covered = line.text.removeprefix(FACTOR).partition(" %")[0]
            k, probability = line.value, str(float(Fraction(covered) / 100))
        elif line.text.startswith(EXPANDED):
            one = Stated(u=u, dof=dof, expanded=line.value, k=k, probability=probability)
            found |= dict.fromkeys(each_of(line.text.removeprefix(EXPANDED)), one)
    return found


def counts(judged: Judged, stated: Stated | None) -> Stated | None:
    """Return the budget unless the limit states another uncertainty, which the rule then counts instead."""
    if stated is None or judged.uncertainty is None:
        return stated
    return stated if judged.uncertainty > 0 and shown_up(judged.uncertainty) == stated.expanded else None


def sureness(judged: Judged, verdict: Verdict, stated: Stated | None) -> Sure | None:
    """Return how sure a judged value is; None where no uncertainty is stated, or there is nothing to be unsure of.

    The standard uncertainty and degrees of freedom of the budget count (JCGM 106:2012, 7.3); U alone is taken as
    2 u of a normal distribution.
    """
    if isinstance(judged.value, bool) or (judged.low is None and judged.high is None):
        return None
    budget = counts(judged, stated)
    u = budget.u if budget is not None else (judged.uncertainty or Fraction(0)) / PLAIN_FACTOR
    if u <= 0:
        return None
    dof = budget.dof if budget is not None else math.inf
    inside = conformance_probability(judged.value, float(u), low=judged.low, high=judged.high, dof=dof)
    inner, none_passes = _inner(judged)
    return Sure(
        of=judged,
        verdict=verdict,
        u=u,
        dof=dof,
        from_expanded=budget is None,
        assurance=assurance(inside, accepted=verdict in {"pass", "conditional pass"}),
        inner=inner,
        none_passes=none_passes,
    )


def _inner(judged: Judged) -> tuple[tuple[Fraction | None, Fraction | None] | None, bool]:
    if judged.uncertainty is None:
        return None, False
    try:
        return acceptance_limits(low=judged.low, high=judged.high, guard=judged.uncertainty), False
    except ValueError:
        return None, True


def share_of_limit(judged: Judged) -> Fraction:
    """Return how much of its limit a value takes: 1 on the limit, 0 in the middle, without unit.

    Between two limits it counts from their middle, from a largest value alone upwards from nought; of a least value
    alone it is least / value. What cannot be put so (yes or no, a limit of nought) is 0 inside, 1 on the limit and 2
    outside.
    """
    value, low, high = judged.value, judged.low, judged.high
    if isinstance(value, bool):
        return Fraction(0 if value else 2)
    if low is not None and high is not None and high > low:
        return abs(2 * value - low - high) / (high - low)
    if low is None and high is not None and high > 0:
        return max(Fraction(0), value / high)
    if high is None and low is not None and low > 0 and value > 0:
        return low / value
    if value in (low, high):
        return Fraction(1)
    return Fraction(0 if verdict_of(replace(judged, uncertainty=None)) == "pass" else 2)


def hardest_first(judged: Iterable[tuple[Judged, Verdict]]) -> list[tuple[Judged, Verdict]]:
    """Sort judged values: the worst verdict first, of one verdict the largest share of its limit; else as they came."""
    return sorted(judged, key=lambda pair: (-VERDICTS.index(pair[1]), -share_of_limit(pair[0])))
