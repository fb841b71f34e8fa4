"""Fits to current-status data against published estimates and a second program; advice from a pool."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.studies.likelihood import AgeGroup, Fitted, fit, log_likelihood
from calibration.compute.studies.pooled import AgeAtTarget, advise_from_pool, age_at_target, compare, grouped_by_age
from calibration.compute.studies.proposal import AsFound, AsLeft, Clamps
from calibration.compute.studies.reliability_models import (
    EXPONENTIAL,
    LOGNORMAL,
    MIXED,
    MODELS,
    RANDOM_WALK,
    WEIBULL,
    ReliabilityModel,
)
from tests.published import example

F = Fraction
CLAMPS = Clamps(shortest=F(7), longest=F(730))


def turbines() -> list[AgeGroup]:
    given = example("interval_mle_current_status").inputs
    return [
        AgeGroup(age=t, inside=g, outside=b)
        for t, g, b in zip(given["t"], given["passed"], given["failed"], strict=True)
    ]


def series() -> list[AgeGroup]:
    given = example("interval_rp1342_time_series").inputs
    return [
        AgeGroup(age=t, inside=g, outside=n - g)
        for t, n, g in zip(given["t_mid"], given["n"], given["in_tolerance"], strict=True)
    ]


def begun_outside() -> list[AgeGroup]:
    shares = ((5, 80), (10, 70), (20, 58), (40, 46))  # invented
    return [AgeGroup(age=age, inside=inside, outside=100 - inside) for age, inside in shares]


def fitted(groups: list[AgeGroup], model: ReliabilityModel) -> Fitted:
    found = fit(groups, model)
    assert found is not None
    return found


def at(groups: list[AgeGroup], model: ReliabilityModel, target: float) -> AgeAtTarget:
    found = age_at_target(groups, model, target=target)
    assert found is not None
    return found


def test_turbine_wheels(reproduced: Any) -> None:
    figures = example("interval_mle_current_status").figures
    lognormal, weibull, exponential = (fitted(turbines(), model) for model in (LOGNORMAL, WEIBULL, EXPONENTIAL))
    got = {
        "lognormal_mu": lognormal.parameters["mu"],
        "lognormal_sigma": lognormal.parameters["sigma"],
        "lognormal_loglik": lognormal.log_likelihood,
        "weibull_scale": 1 / weibull.parameters["rate"],
        "weibull_shape": weibull.parameters["shape"],
        "weibull_loglik": weibull.log_likelihood,
        "expon_scale": 1 / exponential.parameters["rate"],
        "expon_loglik": exponential.log_likelihood,
        "t_at_R_085_weibull": at(turbines(), WEIBULL, 0.85).age,
        "t_at_R_095_weibull": at(turbines(), WEIBULL, 0.95).age,
    }
    assert set(got) == set(figures)
    for name, value in got.items():
        reproduced(value, figures[name])
    assert lognormal.n == 432
    # Meeker & Escobar (1998), p. 135, *from memory*: standard errors 0.0708 and 0.0887.
    assert lognormal.errors is not None
    assert lognormal.errors["mu"] == pytest.approx(0.0708, abs=5e-5)
    assert lognormal.errors["sigma"] == pytest.approx(0.0887, abs=5e-5)


def test_a_series_of_out_of_tolerance_shares(reproduced: Any) -> None:
    # The data are *from memory*: a guard against change, not a published example.
    figures = example("interval_rp1342_time_series").figures
    models = {"expon": EXPONENTIAL, "weibull": WEIBULL, "mixed": MIXED, "walk": RANDOM_WALK}
    found = {name: at(series(), model, 0.85) for name, model in models.items()}
    got = {
        "expon_lambda": found["expon"].fit.parameters["rate"],
        "weibull_theta": found["weibull"].fit.parameters["rate"],
        "weibull_beta": found["weibull"].fit.parameters["shape"],
        "mixed_theta1": found["mixed"].fit.parameters["rate"],
        "mixed_theta2": found["mixed"].fit.parameters["shape"],
    }
    got |= {f"{name}_loglik": one.fit.log_likelihood for name, one in found.items()}
    got |= {f"t85_{name}_weeks": one.age for name, one in found.items()}
    assert set(got) == set(figures)
    for name, value in got.items():
        reproduced(value, figures[name])
    # The fixture's notes: AIC 177.544, 177.718, 177.166, 176.482.
    aic = [round(one.fit.aic, 3) for one in found.values()]
    assert aic == [177.544, 177.718, 177.166, 176.482]


def test_the_exponential_rate_solves_its_own_equation() -> None:
    # NASA RP-1342, appendix D: sum b t e^(-lt) / (1 - e^(-lt)) = sum g t.
    rate = fitted(series(), EXPONENTIAL).parameters["rate"]
    left = sum(one.outside * one.age / math.expm1(rate * one.age) for one in series())
    assert left == pytest.approx(sum(one.inside * one.age for one in series()), rel=1e-6)


def test_another_program_finds_the_same_weibull_with_the_same_error() -> None:
    import numpy as np
    from scipy.stats import CensoredData, weibull_min

    left = np.repeat([one.age for one in turbines()], [one.outside for one in turbines()])
    right = np.repeat([one.age for one in turbines()], [one.inside for one in turbines()])
    shape, _, scale = weibull_min.fit(CensoredData(left=left, right=right), 2.0, floc=0, scale=40)
    ours = fitted(turbines(), WEIBULL)
    assert ours.parameters["shape"] == pytest.approx(shape, rel=1e-4)
    assert 1 / ours.parameters["rate"] == pytest.approx(scale, rel=1e-4)


@pytest.mark.parametrize("model", MODELS.values(), ids=MODELS)
def test_the_unit_of_time_and_the_order_do_not_matter(model: ReliabilityModel) -> None:
    # A mixture loses less with age, and a walk begins with some outside; other data drive them to the edge.
    groups = {MIXED.name: series(), RANDOM_WALK.name: begun_outside()}.get(model.name, turbines())
    weeks = at(groups, model, 0.7)
    days = at([AgeGroup(age=7 * g.age, inside=g.inside, outside=g.outside) for g in reversed(groups)], model, 0.7)
    assert days.age == pytest.approx(7 * weeks.age, rel=1e-4)
    assert days.fit.log_likelihood == pytest.approx(weeks.fit.log_likelihood, abs=1e-6)
    assert weeks.low is not None and weeks.high is not None
    assert days.low == pytest.approx(7 * weeks.low, rel=1e-3)
    assert weeks.low < weeks.age < weeks.high
    # The age and the share are each other's inverse.
    values = [weeks.fit.parameters[name] for name in model.parameters]
    assert model.survival(weeks.age, values) == pytest.approx(0.7)
    # No neighbour fits better.
    for factor in (0.99, 1.01):
        assert log_likelihood(groups, model, [factor * values[0], *values[1:]]) < weeks.fit.log_likelihood


def test_the_limits_of_the_exponential_by_its_information() -> None:
    # Fisher's information of a rate from current status at one age t, by hand: n t^2 R / (1 - R).
    found = at([AgeGroup(age=10, inside=60, outside=40)], EXPONENTIAL, 0.9)
    rate = -math.log(0.6) / 10
    spread = 1 / math.sqrt(100 * 100 * 0.6 / 0.4) / rate
    assert found.fit.parameters["rate"] == pytest.approx(rate, rel=1e-7)
    assert found.low == pytest.approx(found.age * math.exp(-1.959964 * spread), rel=1e-4)
    assert found.high == pytest.approx(found.age * math.exp(1.959964 * spread), rel=1e-4)


@pytest.mark.parametrize(
    "groups",
    [
        [AgeGroup(age=9, inside=12, outside=0)],
        [AgeGroup(age=9, inside=0, outside=12)],
        [AgeGroup(age=3, inside=6, outside=0), AgeGroup(age=9, inside=0, outside=6)],
    ],
)
def test_no_maximum_no_fit(groups: list[AgeGroup]) -> None:
    assert fit(groups, WEIBULL) is None
    assert age_at_target(groups, WEIBULL, target=0.9) is None


def test_an_age_beyond_the_data_is_called_an_extrapolation() -> None:
    found = at([AgeGroup(age=10, inside=95, outside=5)], EXPONENTIAL, 0.8)
    assert found.extrapolated and "extrapolation" in found.says
    assert not at(turbines(), WEIBULL, 0.85).extrapolated


def test_a_model_driven_to_the_edge_of_its_range_has_no_limits() -> None:
    edge = at(turbines(), RANDOM_WALK, 0.85)
    assert edge.low is None and edge.high is None and edge.fit.errors is None
    # It fits worse than the one that can wear out, and comes after it.
    assert [one.fit.model for one in compare(turbines(), target=0.85, models=[RANDOM_WALK, WEIBULL])][0] == "Weibull"


def test_the_best_model_comes_first() -> None:
    ranked = compare(turbines(), target=0.85)
    assert [one.fit.model for one in ranked] == ["Weibull", "exponential"]


def results(inside: int, outside: int, days: int = 90) -> list[AsFound]:
    good = AsFound(days=F(days), error=F(0), limit=F(1))
    bad = AsFound(days=F(days), error=F(2), limit=F(1))
    return [good] * inside + [bad] * outside


def test_a_pool_speaks_only_where_the_test_rejects() -> None:
    quiet = advise_from_pool(results(17, 3), current=F(90), target=0.95, clamps=CLAMPS)
    assert quiet.days is None and quiet.why.startswith("Not enough evidence: 17 of 20")
    few = advise_from_pool(results(0, 4), current=F(90), target=0.95, clamps=CLAMPS)
    assert few.days is None and "only the staircase speaks" in few.why
    far = advise_from_pool(results(5, 15, days=300), current=F(90), target=0.95, clamps=CLAMPS)
    assert far.days is None and "near the present interval" in far.why
    none = advise_from_pool(results(0, 20), current=F(90), target=0.95, clamps=CLAMPS)
    assert none.days is None and "no rate can be fitted" in none.why
    left: Any = AsLeft(days=F(90), error=F(0), limit=F(1))
    with pytest.raises(TypeError, match="as left"):
        advise_from_pool([*results(9, 9), left], current=F(90), target=0.95, clamps=CLAMPS)


def test_a_pool_proposes_with_model_interval_and_clamp() -> None:
    pool = [*results(20, 2, days=30), *results(60, 40), *results(20, 40, days=180)]
    loud = advise_from_pool(pool, current=F(90), target=0.9, clamps=CLAMPS)
    assert loud.days is not None and loud.low is not None and loud.high is not None
    assert loud.low < loud.days < loud.high
    assert loud.n == 182 and loud.model and loud.aic is not None and "Other models: " in loud.why
    held = advise_from_pool(pool, current=F(90), target=0.9, clamps=Clamps(shortest=F(60), longest=F(730)))
    assert (held.days, held.clamped) == (60, True)


def test_results_are_counted_by_age() -> None:
    assert grouped_by_age([*results(1, 2, days=60), *results(3, 0, days=30)]) == (
        AgeGroup(age=30, inside=3, outside=0),
        AgeGroup(age=60, inside=1, outside=2),
    )
