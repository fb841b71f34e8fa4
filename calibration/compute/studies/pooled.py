"""The interval for a target reliability from the pooled as found results of like instruments.

Several models are fitted and shown with their AIC, since models that fit alike can differ by a factor in the interval.
For code that tasks run: imports scipy.optimize.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.coverage import normal_quantile
from calibration.compute.studies.intervals import interval_test
from calibration.compute.studies.likelihood import AgeGroup, Fitted, fit, log_age_error
from calibration.compute.studies.proposal import FEWEST, AsFound, Clamps, Proposal, not_enough, only_as_found
from calibration.compute.studies.reliability_models import EXPONENTIAL, WEIBULL, ReliabilityModel


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeAtTarget:
    """The age at which reliability falls to a target, with two-sided limits on the logarithmic scale where it has them.

    The unit of time is that of the data. `says` names an extrapolation beyond the oldest check.
    """

    fit: Fitted
    target: float
    age: float
    low: float | None
    high: float | None
    confidence: float
    extrapolated: bool
    says: str


def age_at_target(
    groups: Sequence[AgeGroup], model: ReliabilityModel, *, target: float, confidence: float = 0.95
) -> AgeAtTarget | None:
    """Return the age at which the fitted reliability falls to the target; None where nothing can be fitted."""
    if not 0 < target < 1:
        raise ValueError("A target reliability lies between 0 and 1.")
    found = fit(groups, model)
    if found is None:
        return None
    values = tuple(found.parameters[name] for name in model.parameters)
    try:
        age = model.age_at(target, values)
        spread = log_age_error(groups, model, found, target)
    except OverflowError:
        return None  # a fit without decline: reliability falls to the target at no age that could be named
    reach = None if spread is None else normal_quantile((1 + confidence) / 2) * spread
    oldest = max(group.age for group in groups if group.inside + group.outside)
    says = f"{found.model} model from {found.n} checks, AIC {found.aic:.1f}."
    if age > oldest:
        says += " That is an extrapolation: no check was made at so great an age."
    return AgeAtTarget(
        fit=found,
        target=target,
        age=age,
        low=None if reach is None else age * math.exp(-reach),
        high=None if reach is None else age * math.exp(reach),
        confidence=confidence,
        extrapolated=age > oldest,
        says=says,
    )


def compare(
    groups: Sequence[AgeGroup], *, target: float, models: Sequence[ReliabilityModel] = (EXPONENTIAL, WEIBULL)
) -> tuple[AgeAtTarget, ...]:
    """Return every model's answer, the smallest AIC first: models that fit alike can differ much in the interval."""
    answers = (age_at_target(groups, model, target=target) for model in models)
    return tuple(sorted((one for one in answers if one is not None), key=lambda one: one.fit.aic))


def advise_from_pool(
    results: Sequence[AsFound],
    *,
    current: Fraction,
    target: float,
    clamps: Clamps,
    models: Sequence[ReliabilityModel] = (EXPONENTIAL, WEIBULL),
) -> Proposal:
    """Propose the age, in days, at which like instruments fall to the target, where the interval test rejects it.

    The test counts the results whose age lies within a quarter of the current interval (own choice); the fit uses all.
    """
    found, method = only_as_found(results), "reliability target"
    n = len(found)
    if n < FEWEST:
        why = f"below {FEWEST} as found results only the staircase speaks; there are {n}."
        return not_enough(current=current, method=method, n=n, clamps=clamps, why=why)
    near = [one for one in found if abs(one.days - current) <= current / 4]
    if not near:
        why = "no as found result was taken near the present interval."
        return not_enough(current=current, method=method, n=n, clamps=clamps, why=why)
    test = interval_test(sum(one.inside for one in near), len(near), target=target)
    if not test.rejected:
        return Proposal(days=None, current=current, method=method, n=n, why=test.says, clamps=clamps)
    answers = compare(grouped_by_age(found), target=target, models=models)
    if not answers:
        why = "all results were alike, so no rate can be fitted."
        return not_enough(current=current, method=method, n=n, clamps=clamps, why=why)
    return _as_proposal(answers, why=test.says, current=current, clamps=clamps)


def _as_proposal(answers: Sequence[AgeAtTarget], *, why: str, current: Fraction, clamps: Clamps) -> Proposal:
    best = answers[0]
    others = "; ".join(f"{one.fit.model} {one.age:.4g} days, AIC {one.fit.aic:.1f}" for one in answers[1:])
    asked = Fraction(best.age)
    days = clamps.held(asked)
    return Proposal(
        days=days,
        current=current,
        method="reliability target",
        n=best.fit.n,
        why=f"{why} {best.says}" + (f" Other models: {others}." if others else ""),
        clamps=clamps,
        model=best.fit.model,
        low=best.low,
        high=best.high,
        confidence=best.confidence,
        aic=best.fit.aic,
        clamped=days != asked,
    )


def grouped_by_age(results: Sequence[AsFound]) -> tuple[AgeGroup, ...]:
    """Return as found results counted by age in days, youngest first."""
    found = only_as_found(results)
    return tuple(
        AgeGroup(
            age=float(days),
            inside=sum(one.inside for one in found if one.days == days),
            outside=sum(not one.inside for one in found if one.days == days),
        )
        for days in sorted({one.days for one in found})
    )
