"""Drift against worked examples: the line and its bound, Sen's slope with limits, and how the unit of time enters."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.compute.studies.drift import Drift, DriftPoint, MedianDrift, TooFew, drift, median_drift
from calibration.compute.studies.drift_advice import advise_from_drift
from calibration.compute.studies.proposal import AsLeft, Clamps
from tests.published import example

F = Fraction


def history(days: Any, errors: Any) -> list[DriftPoint]:
    return [DriftPoint(days=F(str(x)), error=F(str(y))) for x, y in zip(days, errors, strict=True)]


def constructed() -> list[DriftPoint]:
    given_ = example("drift_to_guarded_limit").inputs
    return history(given_["t_months"], given_["as_found_error"])


def test_the_line_and_its_bound_meet_the_guarded_limit(reproduced: Any) -> None:
    case = example("drift_to_guarded_limit")
    found = drift(constructed(), limit=F(str(case.inputs["mpe"])), expanded=F(str(case.inputs["U"])))
    assert isinstance(found, Drift) and found.meets is not None and found.mean_meets is not None
    reproduced(found.slope, case.figures["slope_per_month"])
    reproduced(found.residual_sd, case.figures["resid_sd"])
    reproduced(found.mean_meets, case.figures["t_cross_mean"])
    reproduced(found.meets, case.figures["t_cross_pred95"])
    assert found.extrapolated and "That is an extrapolation: no check was made later than day 30." in found.says


def test_a_second_program_puts_the_bound_on_the_limit_that_day(reproduced: Any) -> None:
    import statsmodels.api as sm

    case = example("drift_to_guarded_limit")
    found = drift(constructed(), limit=F("0.5"), expanded=F("0.06"))
    assert isinstance(found, Drift) and found.meets is not None
    fit = sm.OLS(case.inputs["as_found_error"], sm.add_constant(case.inputs["t_months"])).fit()
    frame = fit.get_prediction([[1.0, found.meets]]).summary_frame(alpha=0.10)
    reproduced(float(frame["obs_ci_upper"].iloc[0]), case.figures["statsmodels_obs_ci_upper_at_tu"])


@pytest.mark.parametrize("joint", [False, True])
def test_median_slope_of_sen(joint: bool, reproduced: Any) -> None:
    case = example("theil_sen_sen1968")
    found = median_drift(history(case.inputs["x"], case.inputs["y"]), confidence=1 - case.inputs["alpha"], joint=joint)
    assert isinstance(found, MedianDrift)
    reproduced(found.slope, case.figures["slope"])
    reproduced(found.low, case.figures["low"])
    reproduced(found.high, case.figures["high"])
    reproduced(found.intercept, case.figures["intercept_joint" if joint else "intercept_separate"])
    # Every later value is higher: all 21 pairs rise, and of 7! orders one rises and one falls throughout.
    assert found.score == 21
    assert found.p == pytest.approx(2 / 5040)


@pytest.mark.parametrize("n", range(5))
def test_below_five_checks_nothing_is_said(n: int) -> None:
    points = history(range(n), range(n))
    for found in (drift(points, limit=F(9)), median_drift(points)):
        assert isinstance(found, TooFew) and found.n == n
        assert found.says.startswith("Too few checks to say")


def test_checks_on_two_days_are_no_line_either() -> None:
    assert isinstance(drift(history([1, 1, 1, 2, 2], [0, 1, 2, 3, 4]), limit=F(9)), TooFew)


def test_a_crossing_inside_the_data_is_no_extrapolation() -> None:
    found = drift(history(range(0, 100, 10), [0, 1, 2, 3, 4, 5, 6, 7, 8, 9]), limit=F("4.5"))
    assert isinstance(found, Drift)
    # A perfect line has no spread, so bound and line meet the limit on one day.
    assert found.meets == pytest.approx(45) and found.mean_meets == pytest.approx(45)
    assert not found.extrapolated and "extrapolation" not in found.says


def test_level_errors_meet_no_limit() -> None:
    found = drift(history(range(6), [1] * 6), limit=F(2))
    assert isinstance(found, Drift) and found.meets is None
    level = median_drift(history(range(6), [1] * 6))
    assert isinstance(level, MedianDrift) and level.p == 1 and level.score == 0


def test_an_error_beyond_the_limit_from_the_first_day() -> None:
    found = drift(history(range(6), [3, 3, 3, 3, 3, 3]), limit=F(2))
    assert isinstance(found, Drift) and found.meets == 0


def test_an_uncertainty_as_large_as_the_limit_is_refused() -> None:
    with pytest.raises(ValueError, match="leaves nothing"):
        drift(constructed(), limit=F("0.06"), expanded=F("0.06"))


def test_advice_from_drift_is_held_and_says_that_it_extrapolates() -> None:
    wide, narrow = Clamps(shortest=F(1), longest=F(99)), Clamps(shortest=F(6), longest=F(36))
    asked: dict[str, Any] = {"limit": F("0.5"), "expanded": F("0.06"), "current": F(30)}
    free = advise_from_drift(constructed(), clamps=wide, **asked)
    assert (free.days, free.clamped, free.n, free.model) == (51, False, 6, "straight line")
    assert "That is an extrapolation" in free.why
    held = advise_from_drift(constructed(), clamps=narrow, **asked)
    assert (held.days, held.clamped) == (36, True)
    few = advise_from_drift(constructed()[:4], clamps=wide, **asked)
    assert few.days is None and few.why.startswith("Too few checks to say")
    level = advise_from_drift(history(range(6), [0] * 6), clamps=wide, **asked)
    assert level.days is None and "does not reach" in level.why
    left: Any = AsLeft(days=F(1), error=F(0), limit=F(1))
    with pytest.raises(TypeError, match="as left results are refused"):
        advise_from_drift([*constructed(), left], clamps=wide, **asked)


errors = st.lists(st.fractions(min_value=-2, max_value=2, max_denominator=50), min_size=6, max_size=9)


@settings(deadline=None)
@given(errors, st.randoms(use_true_random=False))
def test_order_and_side_do_not_matter_and_days_scale(drawn: list[Fraction], chance: Any) -> None:
    points = history(range(0, 30 * len(drawn), 30), drawn)
    mixed = points[:]
    chance.shuffle(mixed)
    first = drift(points, limit=F(3))
    assert isinstance(first, Drift)
    assert drift(mixed, limit=F(3)) == first
    other = drift([DriftPoint(days=p.days, error=-p.error) for p in points], limit=F(3))
    hours = drift([DriftPoint(days=24 * p.days, error=p.error) for p in points], limit=F(3))
    assert isinstance(other, Drift) and isinstance(hours, Drift)
    assert hours.slope == first.slope / 24
    if first.meets is None:
        assert other.meets is None and hours.meets is None
    else:
        assert first.mean_meets is None or first.meets <= first.mean_meets + 1e-9
        assert other.meets == pytest.approx(first.meets)
        assert hours.meets == pytest.approx(24 * first.meets)
