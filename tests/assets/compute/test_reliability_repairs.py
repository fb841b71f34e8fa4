"""Repairs and replacement against the NIST/SEMATECH e-Handbook and the closed forms of Barlow and Hunter."""

from __future__ import annotations

import math
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.reliability.repairs import (
    PowerLaw,
    Repairs,
    TooFewRepairs,
    Trend,
    laplace,
    military_handbook,
    power_law,
    reverse_arrangements,
)
from assets.compute.reliability.replacement import (
    Costs,
    ReplaceAt,
    RunToFailure,
    age_replacement_uniform,
    age_replacement_weibull,
    periodic_replacement,
)
from tests.published import example


def history(name: str) -> Repairs:
    given_ = example(name).inputs
    return Repairs(times=tuple(given_["t"]), end=given_["T"])


def test_power_law(reproduced: Any) -> None:
    case = example("nist_power_law_repairs")
    found = power_law(history("nist_power_law_repairs"), confidence=1 - case.inputs["alpha"])
    assert isinstance(found, PowerLaw) and found.high is not None and found.n == 10
    got = {
        "beta_growth": found.growth,
        "a": found.a,
        "b": found.b,
        "MTBF_end": found.mean_time,
        "lower": found.low,
        "upper": found.high,
        "b_plain_mle": found.plain_b,
    }
    assert set(got) == set(case.figures)
    for name, value in got.items():
        reproduced(value, case.figures[name])
    assert found.says == "From 10 repairs; on this fit the machine fails more seldom as it runs."


def test_trend_tests(reproduced: Any) -> None:
    figures = example("trend_tests").figures
    repairs = history("trend_tests")
    reverse, military, score = reverse_arrangements(repairs), military_handbook(repairs), laplace(repairs)
    assert isinstance(reverse, Trend) and isinstance(military, Trend) and isinstance(score, Trend)
    assert reverse.n == military.n == score.n == 10
    reproduced(reverse.statistic, figures["R"])
    reproduced(reverse.n * (reverse.n - 1) / 2, figures["R_max"])
    reproduced(reverse.improving, figures["R_exact_p"])
    reproduced(military.statistic, figures["chi2_mil"])
    reproduced(military.worsening, figures["chi2_cdf_20"])
    reproduced(score.statistic, figures["laplace_U"])
    reproduced(score.improving, figures["laplace_p_one_sided"])


def test_a_tie_is_why_another_program_gives_another_probability() -> None:
    # Two times between failures are 35: scipy takes a normal approximation, NIST takes the table without ties.
    from scipy.stats import kendalltau

    times = history("trend_tests").times
    gaps = [later - earlier for earlier, later in zip((0.0, *times), times, strict=False)]
    other = kendalltau(range(10), gaps, alternative="greater").pvalue
    assert other == pytest.approx(example("trend_tests").figures["kendall_auto_p_with_tie"].value, abs=1e-8)
    reverse = reverse_arrangements(history("trend_tests"))
    assert isinstance(reverse, Trend) and reverse.improving - other > 0.01


@pytest.mark.parametrize("gaps", [(1, 2, 3, 4, 5), (5, 1, 4, 2, 3), (5, 4, 3, 2, 1)])
def test_the_chances_of_an_arrangement_by_counting_all_orders(gaps: tuple[int, ...]) -> None:
    def rising(order: tuple[int, ...]) -> int:
        return sum(later > one for at, one in enumerate(order) for later in order[at + 1 :])

    found = reverse_arrangements(Repairs(times=tuple(float(sum(gaps[: at + 1])) for at in range(len(gaps))), end=99.0))
    assert isinstance(found, Trend) and found.statistic == rising(gaps)
    every = [rising(order) for order in permutations(gaps)]
    assert found.improving == pytest.approx(sum(one >= rising(gaps) for one in every) / len(every))
    assert found.worsening == pytest.approx(sum(one <= rising(gaps) for one in every) / len(every))


def test_wear_shows_on_the_other_side() -> None:
    worn = Repairs(times=(1000.0, 1300.0, 1420.0, 1450.0, 1470.0, 1490.0), end=1500.0)
    found = power_law(worn)
    assert isinstance(found, PowerLaw) and found.b > 1 and "more often" in found.says
    for test in (reverse_arrangements(worn), military_handbook(worn), laplace(worn)):
        assert isinstance(test, Trend) and test.worsening < 0.05 < test.improving


def test_too_few_repairs_to_say() -> None:
    two, none = Repairs(times=(3.0, 8.0), end=10.0), Repairs(times=(), end=10.0)
    for found in (power_law(two), laplace(two), reverse_arrangements(two), military_handbook(none)):
        assert isinstance(found, TooFewRepairs) and found.says.startswith("Too few repairs to say")
    # At 99 % three repairs leave the upper bound open.
    three = power_law(Repairs(times=(3.0, 5.0, 8.0), end=10.0), confidence=0.99)
    assert isinstance(three, PowerLaw) and three.high is None


@pytest.mark.parametrize("times", [(0.0, 3.0), (5.0, 4.0), (4.0, 4.0), (3.0, 10.0)])
def test_times_that_are_no_history_are_refused(times: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="follow each other"):
        Repairs(times=times, end=10.0)


def test_best_age_of_replacement(reproduced: Any) -> None:
    case = example("age_replacement")
    costs = Costs(planned=case.inputs["Cp"], failure=case.inputs["Cf"])
    longest, weibull = case.inputs["uniform_b"], case.inputs["weibull"]
    even = age_replacement_uniform(longest=longest, costs=costs, n=6)
    assert isinstance(even, ReplaceAt) and even.n == 6
    reproduced(even.age, case.figures["uniform_Tstar"])
    reproduced(even.cost, case.figures["uniform_cost"])
    reproduced(even.age / longest, case.figures["uniform_closed_form"])
    old = age_replacement_weibull(scale=weibull["alpha"], shape=weibull["beta"], costs=costs, n=6)
    assert isinstance(old, ReplaceAt)
    reproduced(old.age, case.figures["weibull_Tstar_exact"])
    reproduced(old.age, case.figures["weibull_Tstar_library_doc"])
    reproduced(old.cost, case.figures["weibull_cost"])
    reproduced(old.cost, case.figures["weibull_cost_7"])
    mended = periodic_replacement(scale=weibull["alpha"], shape=weibull["beta"], costs=costs, n=6)
    assert isinstance(mended, ReplaceAt)
    reproduced(mended.age, case.figures["minimal_repair_Tstar_closed_form"])


def test_run_to_failure_where_nothing_is_gained() -> None:
    costs, alike = Costs(planned=1, failure=5), Costs(planned=5, failure=5)
    level = [
        age_replacement_weibull(scale=1000, shape=1, costs=costs, n=4),
        age_replacement_weibull(scale=1000, shape=0.7, costs=costs, n=4),
        periodic_replacement(scale=1000, shape=1, costs=costs, n=4),
    ]
    for found in level:
        assert isinstance(found, RunToFailure) and found.n == 4
        assert found.says.startswith("Run to failure: the rate of failure does not rise")
    for found in (
        age_replacement_weibull(scale=1000, shape=3, costs=alike, n=4),
        age_replacement_uniform(longest=1000, costs=alike, n=4),
    ):
        assert isinstance(found, RunToFailure) and "costs no more" in found.says
    for shape in (1.000001, 1.01):
        far = age_replacement_weibull(scale=1000, shape=shape, costs=costs, n=4)
        assert isinstance(far, RunToFailure) and "beyond any that a part reaches" in far.says
    # A repair that leaves the part as old as it was can pay even when it costs no more than a new part.
    assert isinstance(periodic_replacement(scale=1000, shape=3, costs=alike, n=4), ReplaceAt)
    with pytest.raises(ValueError, match="above zero"):
        Costs(planned=0, failure=1)
    with pytest.raises(ValueError, match="above zero"):
        age_replacement_weibull(scale=0, shape=2, costs=costs, n=4)


def rate_of_cost(age: float, *, scale: float, shape: float, costs: Costs) -> float:
    """C(T) by the trapezium rule, written anew."""
    steps = 2000
    alive = [math.exp(-((age * at / steps / scale) ** shape)) for at in range(steps + 1)]
    lived = (math.fsum(alive) - (alive[0] + alive[-1]) / 2) * age / steps
    return (costs.planned * alive[-1] + costs.failure * (1 - alive[-1])) / lived


@given(st.floats(1.3, 5), st.floats(1.5, 40), st.floats(10, 1e4))
def test_no_neighbour_is_cheaper_and_time_scales(shape: float, dear: float, scale: float) -> None:
    costs = Costs(planned=1, failure=dear)
    best = age_replacement_weibull(scale=scale, shape=shape, costs=costs, n=9)
    days = age_replacement_weibull(scale=scale / 24, shape=shape, costs=costs, n=9)
    if isinstance(best, RunToFailure):
        assert isinstance(days, RunToFailure)
        return
    assert isinstance(days, ReplaceAt)
    assert days.age == pytest.approx(best.age / 24, rel=1e-9)
    assert days.cost == pytest.approx(24 * best.cost, rel=1e-9)
    at_best = rate_of_cost(best.age, scale=scale, shape=shape, costs=costs)
    assert best.cost == pytest.approx(at_best, rel=1e-4)
    for factor in (0.8, 1.25):
        assert rate_of_cost(factor * best.age, scale=scale, shape=shape, costs=costs) > at_best * (1 - 1e-6)
