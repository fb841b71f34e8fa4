"""Whether a history is evidence for another interval: exact binomial limits, and the exponential model's arithmetic.

Clopper-Pearson limits: NIST/SEMATECH e-Handbook 7.2.4.1. Exponential reliability: NASA RP-1342 (1994), appendix D,
equations D.6 to D.8. The interval test is the idea of method A3 of NCSLI RP-1 (*from memory*).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from assets.compute import binomial
from calibration.compute.studies.proposal import FEWEST, AsFound, Clamps, Proposal, not_enough, only_as_found


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A share k of n with its exact two-sided limits at a level of confidence."""

    k: int
    n: int
    low: float
    high: float
    confidence: float


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalTest:
    """The share in tolerance against a target: whether its limits exclude the target, and the one-sided probability.

    `p` is the probability of as many or fewer in tolerance, were the target true.
    """

    share: Share
    target: float
    rejected: bool
    p: float
    says: str


def exact_limits(k: int, n: int, *, confidence: float = 0.95) -> Share:
    """Return the Clopper-Pearson limits of k in n. Raises ValueError unless 0 <= k <= n and n >= 1."""
    low, high = binomial.exact_limits(k, n, confidence=confidence)
    return Share(k=k, n=n, low=low, high=high, confidence=confidence)


def interval_test(inside: int, n: int, *, target: float, confidence: float = 0.95) -> IntervalTest:
    """Test the share in tolerance against a target reliability, both as fractions of 1."""
    from scipy.special import bdtr

    share = exact_limits(inside, n, confidence=confidence)
    rejected = not share.low <= target <= share.high
    told = f"{inside} of {n} as found results were in tolerance; the target is {100 * target:g} %."
    if not rejected:
        told = f"Not enough evidence: {told} That does not contradict it at {100 * confidence:g} %."
    return IntervalTest(share=share, target=target, rejected=rejected, p=float(bdtr(inside, n, target)), says=told)


def exponential_interval(*, rate: float, target: float, at_start: float = 1.0) -> float:
    """Return -ln(R* / R0) / lambda, in the unit of time of the rate: when reliability has fallen to the target."""
    if rate <= 0 or not 0 < target <= at_start <= 1:
        raise ValueError("The rate is above zero, and the target lies above 0 and up to the reliability at the start.")
    return -math.log(target / at_start) / rate


def mean_over_interval(at_end: float) -> float:
    """Return the mean reliability over an interval at whose end it is R*: (R* - 1) / ln R*, exponential model."""
    if not 0 < at_end < 1:
        raise ValueError("A reliability at the end of an interval lies between 0 and 1.")
    return (at_end - 1) / math.log(at_end)


def rescaled(interval: float, *, observed: float, target: float) -> float:
    """Return I ln R* / ln R, the interval for a target from the share seen at interval I; exponential model only."""
    if not 0 < observed < 1 or not 0 < target < 1:
        raise ValueError("A share of 0 or 1 has no rate, so no interval can be told from it.")
    return interval * math.log(target) / math.log(observed)


def advise_from_share(
    results: Sequence[AsFound], *, current: Fraction, target: float, clamps: Clamps, confidence: float = 0.95
) -> Proposal:
    """Propose an interval, in days, only where the interval test rejects the target; held by the clamps.

    The results are taken at the current interval, of one instrument or of several like ones.
    """
    found = only_as_found(results)
    n, method = len(found), "interval test"
    if n < FEWEST:
        why = f"below {FEWEST} as found results only the staircase speaks; there are {n}."
        return not_enough(current=current, method=method, n=n, clamps=clamps, why=why)
    inside = sum(one.inside for one in found)
    test = interval_test(inside, n, target=target, confidence=confidence)
    if not test.rejected:
        return Proposal(days=None, current=current, method=method, n=n, why=test.says, clamps=clamps)
    if inside == n:
        why = f"{test.says} None failed, so there is no rate to lengthen the interval by."
        return Proposal(days=None, current=current, method=method, n=n, why=why, clamps=clamps)
    # With none in tolerance no interval reaches the target: the shortest allowed one decides.
    asked = Fraction(rescaled(float(current), observed=inside / n, target=target)) if inside else Fraction(0)
    return Proposal(
        days=(days := clamps.held(asked)),
        current=current,
        method=method,
        n=n,
        why=test.says,
        clamps=clamps,
        model="exponential",
        low=_at_limit(current, test.share.low, target),
        high=_at_limit(current, test.share.high, target),
        confidence=confidence,
        clamped=days != asked,
    )


def _at_limit(current: Fraction, share: float, target: float) -> float | None:
    return rescaled(float(current), observed=share, target=target) if 0 < share < 1 else None
