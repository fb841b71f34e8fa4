"""Fits of a reliability model to what was found at each check, by maximum likelihood.

A check tells only whether the instrument had left its tolerance by that age, so the data are current status: the
likelihood is the product of R(t) over those in tolerance and 1 - R(t) over those outside. Method: Nelson (1982),
Applied Life Data Analysis, chapter 9; NASA RP-1342 (1994), appendix D. For code that tasks run: imports scipy.optimize.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from calibration.compute.studies.reliability_models import Numbers, ReliabilityModel


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeGroup:
    """Checks at one age, in any unit of time: how many were found in tolerance and how many outside."""

    age: float
    inside: int
    outside: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A fitted model: parameters by name, n checks, log-likelihood and AIC = 2 parameters - 2 log-likelihood.

    `errors` are standard errors from the curvature at the optimum; None where the curvature gives none.
    """

    model: str
    n: int
    parameters: Mapping[str, float]
    errors: Mapping[str, float] | None
    log_likelihood: float
    aic: float


_TINY = 1e-300


def log_likelihood(groups: Sequence[AgeGroup], model: ReliabilityModel, by: Numbers) -> float:
    """Return the sum of inside ln R(t) + outside ln(1 - R(t)) over the groups."""
    total = 0.0
    for group in groups:
        share = model.survival(group.age, by)
        total += group.inside * math.log(max(share, _TINY)) if group.inside else 0.0
        total += group.outside * math.log(max(1 - share, _TINY)) if group.outside else 0.0
    return total


def fit(groups: Sequence[AgeGroup], model: ReliabilityModel) -> Fitted | None:
    """Fit one model; None where the likelihood has no maximum: all in tolerance, none, or an age that parts them.

    Raises ValueError for an age that is not above zero or a count below zero.
    """
    if any(group.age <= 0 or min(group.inside, group.outside) < 0 for group in groups):
        raise ValueError("An age is above zero and a count is not negative.")
    inside, outside = sum(group.inside for group in groups), sum(group.outside for group in groups)
    if not inside or not outside:
        return None
    best, value = _search(groups, model)
    if value > -1e-6:
        return None
    errors = _errors(groups, model, best)
    return Fitted(
        model=model.name,
        n=inside + outside,
        parameters=MappingProxyType(dict(zip(model.parameters, _natural(model, best), strict=True))),
        errors=None if errors is None else MappingProxyType(errors),
        log_likelihood=value,
        aic=2 * len(best) - 2 * value,
    )


def log_age_error(groups: Sequence[AgeGroup], model: ReliabilityModel, found: Fitted, target: float) -> float | None:
    """Return the standard error of the logarithm of the age at a target, by the delta method; None without one."""
    import numpy as np

    best = _inner(model, tuple(found.parameters[name] for name in model.parameters))
    covariance = _covariance(groups, model, best)
    if covariance is None:
        return None
    gradient = []
    for at in range(len(best)):
        ages = [model.age_at(target, _natural(model, _moved(best, at, step))) for step in (-_STEP, _STEP)]
        if min(ages) <= 0:
            return None
        gradient.append((math.log(ages[1]) - math.log(ages[0])) / (2 * _STEP))
    return float(np.sqrt(np.array(gradient) @ covariance @ np.array(gradient)))


# The search runs on logarithms of the parameters that lie above zero, so that none can leave its range.
_STEP = 1e-4


def _inner(model: ReliabilityModel, values: Numbers) -> tuple[float, ...]:
    pairs = zip(model.parameters, values, strict=True)
    return tuple(value if name in model.signed else math.log(value) for name, value in pairs)


def _natural(model: ReliabilityModel, inner: Numbers) -> tuple[float, ...]:
    pairs = zip(model.parameters, inner, strict=True)
    return tuple(float(value) if name in model.signed else math.exp(value) for name, value in pairs)


def _moved(inner: Numbers, at: int, by: float) -> tuple[float, ...]:
    return tuple(value + (by if place == at else 0.0) for place, value in enumerate(inner))


def _loss(groups: Sequence[AgeGroup], model: ReliabilityModel, inner: Numbers) -> float:
    try:
        return -log_likelihood(groups, model, _natural(model, inner))
    except (OverflowError, ZeroDivisionError):
        return math.inf  # far outside anything the data could mean


def _search(groups: Sequence[AgeGroup], model: ReliabilityModel) -> tuple[tuple[float, ...], float]:
    from scipy.optimize import minimize

    outside = sum(group.outside for group in groups)
    scale = sum(group.age * (group.inside + group.outside) for group in groups) / outside
    options = {"xatol": 1e-10, "fatol": 1e-13, "maxiter": 4000, "maxfev": 8000}
    found = minimize(
        lambda inner: _loss(groups, model, inner),
        _inner(model, model.start(scale)),
        method="Nelder-Mead",
        options=options,
    )
    return tuple(float(one) for one in found.x), -float(found.fun)


def _covariance(groups: Sequence[AgeGroup], model: ReliabilityModel, best: Numbers) -> Any:
    """Return the inverse of the curvature on the inner scale; None where it is not a maximum with curvature."""
    import numpy as np

    size, step = len(best), 1e-3
    curvature = np.empty((size, size))
    for row in range(size):
        for column in range(size):
            corners = [
                sign_a * sign_b * _loss(groups, model, _moved(_moved(best, row, sign_a * step), column, sign_b * step))
                for sign_a in (1, -1)
                for sign_b in (1, -1)
            ]
            curvature[row, column] = sum(corners) / (4 * step * step)
    if not np.all(np.isfinite(curvature)) or np.min(np.linalg.eigvalsh(curvature)) < 1e-3:
        return None
    return np.linalg.inv(curvature)


def _errors(groups: Sequence[AgeGroup], model: ReliabilityModel, best: Numbers) -> dict[str, float] | None:
    covariance = _covariance(groups, model, best)
    if covariance is None:
        return None
    natural = _natural(model, best)
    return {
        name: math.sqrt(covariance[at, at]) * (1.0 if name in model.signed else natural[at])
        for at, name in enumerate(model.parameters)
    }
