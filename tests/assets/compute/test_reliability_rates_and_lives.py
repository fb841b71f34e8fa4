"""Rates and lifetimes against the NIST/SEMATECH e-Handbook and a second program."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.reliability.lifetimes import (
    Lifetime,
    TooFewFailures,
    WeibullLife,
    survival_curve,
    weibull_life,
)
from assets.compute.reliability.rates import mean_time_between_failures
from tests.published import example


def lives(failures: list[float], censored_at: float, censored: int) -> list[Lifetime]:
    return [*(Lifetime(age=age) for age in failures), *[Lifetime(age=censored_at, failed=False)] * censored]


def test_mean_time_between_failures(reproduced: Any) -> None:
    case = example("nist_mtbf_exponential")
    running, failures = case.inputs["T"], case.inputs["r"]
    found = mean_time_between_failures(failures, running, confidence=case.inputs["level"])
    assert found.mean is not None and found.high is not None and found.n == failures
    reproduced(found.mean, case.figures["MTBF"])
    reproduced(found.low, case.figures["lower"])
    reproduced(found.high, case.figures["upper"])
    reproduced(found.low / found.mean, case.figures["factor_lo"])
    reproduced(found.high / found.mean, case.figures["factor_hi"])
    none = mean_time_between_failures(0, running, confidence=0.9)
    reproduced(none.low, case.figures["zero_fail_lower_90"])
    assert none.mean is None and none.high is None and none.n == 0
    assert none.says == "No failure yet: only a lower bound can be told."


def test_a_rate_from_nothing_is_refused() -> None:
    for failures, running in ((-1, 10.0), (0, 0.0)):
        with pytest.raises(ValueError, match="counted from 0"):
            mean_time_between_failures(failures, running)


def test_weibull_with_parts_still_running(reproduced: Any) -> None:
    case = example("nist_weibull_censored")
    found = weibull_life(lives(case.inputs["failures"], case.inputs["censored_at"], case.inputs["n_censored"]))
    assert isinstance(found, WeibullLife)
    reproduced(found.shape.value, case.figures["shape"])
    reproduced(found.scale.value, case.figures["scale"])
    reproduced(found.log_likelihood, case.figures["loglik"])
    assert (found.n, found.failures) == (20, 10)
    # The package `reliability` 0.9.0 on the same data, bounds on the logarithmic scale, as the fixture's notes keep it.
    assert found.scale.value == pytest.approx(606.52755, abs=1e-5)  # printed cut off, not rounded
    assert found.scale.error == pytest.approx(124.911, abs=5e-4)
    assert (found.scale.low, found.scale.high) == pytest.approx((405.089, 908.135), abs=5e-4)
    assert (found.shape.value, found.shape.error) == pytest.approx((1.720797, 0.50215), abs=1e-6)
    assert (found.shape.low, found.shape.high) == pytest.approx((0.97127, 3.04875), abs=5e-6)


def test_another_program_finds_the_same_weibull() -> None:
    from scipy.stats import CensoredData, weibull_min

    failed, running = [120.0, 300.0, 310.0, 700.0], [50.0, 400.0, 900.0]
    shape, _, scale = weibull_min.fit(CensoredData(uncensored=failed, right=running), 2.0, floc=0, scale=500)
    found = weibull_life(made(failed, running))
    assert isinstance(found, WeibullLife)
    assert found.shape.value == pytest.approx(shape, rel=1e-4)
    assert found.scale.value == pytest.approx(scale, rel=1e-4)


def made(failed: list[float], running: list[float]) -> list[Lifetime]:
    return [Lifetime(age=age) for age in failed] + [Lifetime(age=age, failed=False) for age in running]


@pytest.mark.parametrize("failed", [[], [100.0], [100.0, 100.0]])
def test_too_few_failures_to_say(failed: list[float]) -> None:
    found = weibull_life(made(failed, [200.0]))
    assert isinstance(found, TooFewFailures) and found.failures == len(failed) and found.n == len(failed) + 1
    assert found.says.startswith("Too few failures to say")


def test_an_age_of_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="above zero"):
        weibull_life(made([0.0, 3.0], []))


def test_survival_with_parts_still_running(reproduced: Any) -> None:
    case = example("nist_kaplan_meier")
    failures = case.inputs["failures"]
    steps = survival_curve(lives(failures, case.inputs["censored_at"], case.inputs["n"] - len(failures)))
    for step in steps[:3]:
        reproduced(step.survival, case.figures[f"S_{step.age}"])
        reproduced(step.error, case.figures[f"se_{step.age}"])
        if (lower := case.figures.get(f"lo_{step.age}")) is not None:
            assert step.low is not None
            reproduced(step.low, lower)
    assert (steps[0].at_risk, steps[0].high) == (20, 1.0)
    assert steps[-1].survival == pytest.approx(0.5)


def test_the_curve_ends_at_nothing_and_claims_no_bounds_there() -> None:
    last = survival_curve(made([1.0, 2.0, 2.0], []))[-1]
    assert (last.survival, last.error, last.low, last.high, last.failed) == (0, 0, None, None, 2)
    assert survival_curve(made([], [4.0])) == ()


ages = st.lists(st.floats(min_value=1, max_value=1e4), min_size=3, max_size=12, unique=True)


@given(ages, st.lists(st.floats(min_value=1, max_value=1e4), max_size=6), st.randoms(use_true_random=False))
def test_unit_of_time_and_order_do_not_matter(failed: list[float], running: list[float], chance: Any) -> None:
    # Lives that differ by less than a part in a thousand give a shape beyond any use.
    if max(failed) < 1.001 * min(failed):
        return
    first = weibull_life(made(failed, running))
    days = made([24 * age for age in failed], [24 * age for age in running])
    chance.shuffle(days)
    second = weibull_life(days)
    assert isinstance(first, WeibullLife) and isinstance(second, WeibullLife)
    assert second.shape.value == pytest.approx(first.shape.value, rel=1e-6)
    assert second.scale.value == pytest.approx(24 * first.scale.value, rel=1e-6)
    assert second.shape.error == pytest.approx(first.shape.error, rel=1e-4)
    # A density over a unit 24 times as fine.
    assert second.log_likelihood == pytest.approx(first.log_likelihood - len(failed) * math.log(24), abs=1e-6)
    # Without censoring the curve is the share still alive.
    for step in survival_curve(made(failed, [])):
        assert step.survival == pytest.approx(sum(age > step.age for age in failed) / len(failed))
