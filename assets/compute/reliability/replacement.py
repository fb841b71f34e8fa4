"""When to replace before failure, given what a planned replacement and a failure cost.

Sources: Barlow and Hunter (1960), Operations Research 8, 90-100; Barlow and Proschan (1965), Mathematical Theory of
Reliability, chapter 4. Age replacement: C(T) = (Cp R(T) + Cf F(T)) / integral of R from 0 to T, least where
h(T) integral R - F(T) = Cp / (Cf - Cp). The answer is about cost alone: where a failure can hurt somebody, it decides
nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from assets.compute.words import count_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """Cost of a planned replacement and of a failure with all it brings, in one currency; both above zero."""

    planned: float
    failure: float

    def __post_init__(self) -> None:
        """Raise ValueError for a cost of zero or less."""
        if self.planned <= 0 or self.failure <= 0:
            raise ValueError("Both costs lie above zero.")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplaceAt:
    """Replace at this age or time; cost a unit of time there. `n` is the number of failures the life was told from."""

    age: float
    cost: float
    n: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunToFailure:
    """No planned replacement pays."""

    n: int
    says: str


_NEVER = "Run to failure: "
_CHEAP = f"{_NEVER}a failure costs no more than a planned replacement."
_FAR = f"{_NEVER}the best age lies beyond any that a part reaches."
_NOBODY = 1e-9
_LEVEL = f"{_NEVER}the rate of failure does not rise with age, so a new part is no better than the old one."


def age_replacement_uniform(*, longest: float, costs: Costs, n: int) -> ReplaceAt | RunToFailure:
    """Return the best age for lives spread evenly from 0 to b, the longest: T / b = -k + sqrt(k^2 + 2 k).

    k = Cp / (Cf - Cp).
    """
    if longest <= 0:
        raise ValueError("The longest life is above zero.")
    if costs.failure <= costs.planned:
        return RunToFailure(n=n, says=_CHEAP)
    k = costs.planned / (costs.failure - costs.planned)
    share = -k + math.sqrt(k * k + 2 * k)
    survived = longest * (share - share * share / 2)
    cost = (costs.planned * (1 - share) + costs.failure * share) / survived
    return ReplaceAt(age=longest * share, cost=cost, n=n, says=_told(longest * share, n))


def age_replacement_weibull(*, scale: float, shape: float, costs: Costs, n: int) -> ReplaceAt | RunToFailure:
    """Return the best age for R(t) = exp(-(t / scale)^shape), in the unit of the scale."""
    if (never := _never(scale, shape, n, dearer=costs.failure > costs.planned)) is not None:
        return never
    k = costs.planned / (costs.failure - costs.planned)

    def balance(x: float) -> float:
        return shape * math.pow(x, shape - 1) * _mean_survival(x, shape) - _failed(x, shape) - k

    x = _root(balance, shape)
    if x is None:
        return RunToFailure(n=n, says=_FAR)
    cost = (costs.planned * math.exp(-(x**shape)) + costs.failure * _failed(x, shape)) / (
        scale * _mean_survival(x, shape)
    )
    return ReplaceAt(age=scale * x, cost=cost, n=n, says=_told(scale * x, n))


def periodic_replacement(*, scale: float, shape: float, costs: Costs, n: int) -> ReplaceAt | RunToFailure:
    """Return the best period when failures in between are only mended: C(T) = (Cp + Cm (T / scale)^shape) / T.

    `costs.failure` is Cm, the cost of one repair that leaves the machine as old as it was. T = scale
    (Cp / (Cm (shape - 1)))^(1 / shape).
    """
    if (never := _never(scale, shape, n)) is not None:
        return never
    age = scale * math.pow(costs.planned / (costs.failure * (shape - 1)), 1 / shape)
    cost = (costs.planned + costs.failure * (age / scale) ** shape) / age
    return ReplaceAt(age=age, cost=cost, n=n, says=_told(age, n))


def _never(scale: float, shape: float, n: int, *, dearer: bool = True) -> RunToFailure | None:
    if scale <= 0 or shape <= 0:
        raise ValueError("Scale and shape lie above zero.")
    if not dearer:
        return RunToFailure(n=n, says=_CHEAP)
    return RunToFailure(n=n, says=_LEVEL) if shape <= 1 else None


def _failed(x: float, shape: float) -> float:
    return -math.expm1(-(x**shape))


def _mean_survival(x: float, shape: float) -> float:
    """Return the integral of exp(-u^shape) from 0 to x."""
    from scipy.special import gammainc

    return float(gammainc(1 / shape, x**shape)) * math.gamma(1 + 1 / shape)


def _root(balance: Callable[[float], float], shape: float) -> float | None:
    from scipy.optimize import brentq

    # The balance rises with age from -k. Where hardly a part in a thousand million lives, an age is no advice any more;
    # with a hazard that hardly rises the root lies there, or beyond every number.
    oldest = math.pow(-math.log(_NOBODY), 1 / shape)
    if balance(oldest) < 0:
        return None
    return float(brentq(balance, 0.0, oldest, xtol=1e-14, rtol=1e-13))


def _told(age: float, n: int) -> str:
    return f"Least cost at {age:.4g}, from {count_of(n, 'failure')}; cost alone, not safety."
