"""Lifetimes of parts that are replaced, some of them still running: survival curve and Weibull fit.

Sources: NIST/SEMATECH e-Handbook 8.2.1.5 (Kaplan-Meier), 8.2.2.1 and 8.4.1.2 to 8.4.1.3 (Weibull, maximum likelihood).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist


@dataclass(frozen=True, slots=True, kw_only=True)
class Lifetime:
    """The age of one part, in any unit of time: at its failure, or now if it still runs."""

    age: float
    failed: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounded:
    """An estimate with its standard error and two-sided bounds; the bounds are symmetric on the logarithmic scale."""

    value: float
    error: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SurvivalStep:
    """The share surviving just after a failure, Greenwood's standard error, bounds of type *log* (cut off at 1)."""

    age: float
    at_risk: int
    failed: int
    survival: float
    error: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeibullLife:
    """R(t) = exp(-(t / scale)^shape) from n parts of which `failures` failed; scale in the unit of the ages."""

    n: int
    failures: int
    shape: Bounded
    scale: Bounded
    log_likelihood: float
    confidence: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TooFewFailures:
    """No fit: how many failures there are, and the sentence to show."""

    n: int
    failures: int
    says: str


def survival_curve(lives: Sequence[Lifetime], *, confidence: float = 0.95) -> tuple[SurvivalStep, ...]:
    """Return the Kaplan-Meier curve, one step for each age at which something failed."""
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    steps, share, greenwood = [], 1.0, 0.0
    for age in sorted({life.age for life in lives if life.failed}):
        risk = sum(life.age >= age for life in lives)
        failed = sum(life.failed and life.age == age for life in lives)
        share *= 1 - failed / risk
        # At the last failure nothing survives, and the logarithmic bounds have no meaning.
        last = failed == risk
        greenwood += 0.0 if last else failed / (risk * (risk - failed))
        spread = math.sqrt(greenwood)
        steps.append(
            SurvivalStep(
                age=age,
                at_risk=risk,
                failed=failed,
                survival=0.0 if last else share,
                error=0.0 if last else share * spread,
                low=None if last else share * math.exp(-z * spread),
                high=None if last else min(1.0, share * math.exp(z * spread)),
            )
        )
    return tuple(steps)


def weibull_life(lives: Sequence[Lifetime], *, confidence: float = 0.95) -> WeibullLife | TooFewFailures:
    """Fit a Weibull distribution by maximum likelihood, parts still running counted as such.

    With fewer than two different ages at failure there is no fit. Raises ValueError for an age of zero or less.
    """
    if any(life.age <= 0 for life in lives):
        raise ValueError("An age is above zero.")
    failed = [life.age for life in lives if life.failed]
    if len(set(failed)) < 2:
        says = f"Too few failures to say: of {len(lives)} parts {len(failed)} failed; two at different ages are needed."
        return TooFewFailures(n=len(lives), failures=len(failed), says=says)
    ages = [life.age for life in lives]
    longest = max(ages)
    shape = _shape([age / longest for age in ages], [age / longest for age in failed])
    scale = longest * (math.fsum((age / longest) ** shape for age in ages) / len(failed)) ** (1 / shape)
    shape_error, scale_error = _log_errors(ages, len(failed), shape, scale)
    return WeibullLife(
        n=len(lives),
        failures=len(failed),
        shape=_bounded(shape, shape_error, confidence),
        scale=_bounded(scale, scale_error, confidence),
        log_likelihood=_log_likelihood(ages, failed, shape, scale),
        confidence=confidence,
        says=f"From {len(failed)} failures among {len(lives)} parts; bounds on the logarithmic scale.",
    )


def _shape(ages: Sequence[float], failed: Sequence[float]) -> float:
    # The scale can be taken out of the likelihood; what is left falls with the shape, so one root in a bracket.
    from scipy.optimize import brentq

    mean_log = math.fsum(math.log(age) for age in failed) / len(failed)

    def slope(shape: float) -> float:
        powers = [age**shape for age in ages]
        weighted = math.fsum(power * math.log(age) for power, age in zip(powers, ages, strict=True))
        return weighted / math.fsum(powers) - 1 / shape - mean_log

    high = 1.0
    while slope(high) < 0:
        high *= 2
    return float(brentq(slope, 1e-6, high, xtol=1e-14, rtol=1e-13))


def _log_likelihood(ages: Sequence[float], failed: Sequence[float], shape: float, scale: float) -> float:
    hazards = math.fsum(math.log(shape / scale) + (shape - 1) * math.log(age / scale) for age in failed)
    return hazards - math.fsum((age / scale) ** shape for age in ages)


def _log_errors(ages: Sequence[float], failures: int, shape: float, scale: float) -> tuple[float, float]:
    """Return the standard errors of ln shape and ln scale from the observed information at the maximum."""
    # With w = (t / scale)^shape, v = shape ln(t / scale) and r failures. The second derivatives are shortened by what
    # holds where the first are zero: sum w = r, and sum w v less the failures' sum of v is r.
    parts = [((age / scale) ** shape, shape * math.log(age / scale)) for age in ages]
    by_shape = failures + math.fsum(w * v * v for w, v in parts)
    mixed = -shape * math.fsum(w * v for w, v in parts)
    by_scale = shape * shape * failures
    determinant = by_shape * by_scale - mixed * mixed
    return math.sqrt(by_scale / determinant), math.sqrt(by_shape / determinant)


def _bounded(value: float, log_error: float, confidence: float) -> Bounded:
    reach = math.exp(NormalDist().inv_cdf((1 + confidence) / 2) * log_error)
    return Bounded(value=value, error=value * log_error, low=value / reach, high=value * reach)
