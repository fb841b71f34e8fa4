"""From reading to true value against books, a standard and an article; and the answer that there are no limits."""

from __future__ import annotations

import math
from fractions import Fraction
from statistics import mean, stdev
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from calibration.compute.coverage import student_quantile
from calibration.compute.inverse_prediction import (
    NO_SLOPE,
    OUTSIDE,
    TWO_POINTS,
    decision_limit,
    true_value,
)
from calibration.compute.line_fit import Fit, fit
from tests.calibration.compute.test_line_fit import F, fitted, points_of
from tests.published import example


def line_of(name: str) -> Fit:
    i = example(name).inputs
    return fitted(points_of(i["x"], i["y"]))


def test_a_thermostat(reproduced: Any) -> None:
    case = example("inverse_prediction_thermostat")
    for asked in case.inputs["cases"]:
        found = true_value(line_of("inverse_prediction_thermostat"), F(asked["y0"]), probability=asked["level"])
        assert found.low is not None and found.high is not None and not found.says
        reproduced(found.x, case.figures[f"x0_{asked['y0']}"])
        reproduced(found.low, case.figures[f"lo_{asked['y0']}"])
        reproduced(found.high, case.figures[f"hi_{asked['y0']}"])


def test_where_the_line_itself_has_a_value(reproduced: Any) -> None:
    case = example("inverse_prediction_chamber")
    i = case.inputs
    found = true_value(
        line_of("inverse_prediction_chamber"),
        F(i["y0"]),
        probability=i["level"],
        mean_response=i["mean_response"],
    )
    assert found.low is not None and found.high is not None
    for name, got in (("x0", found.x), ("lo", found.low), ("hi", found.high)):
        reproduced(got, case.figures[name])


def test_arsenic_in_water(reproduced: Any) -> None:
    case = example("inverse_prediction_arsenic_water")
    found = true_value(line_of("inverse_prediction_arsenic_water"), F(3), probability=case.inputs["level"])
    assert found.low is not None and found.high is not None and found.u is not None and found.half_width is not None
    for name, got in (
        ("x0", found.x),
        ("lo", found.low),
        ("hi", found.high),
        ("wald_lo", float(found.x) - found.half_width),
        ("wald_hi", float(found.x) + found.half_width),
        ("se", found.u),
    ):
        reproduced(got, case.figures[name])


def test_one_reading_and_the_mean_of_five(reproduced: Any) -> None:
    case = example("inverse_prediction_massart")
    line = line_of("inverse_prediction_massart")
    for number, asked in enumerate(case.inputs["cases"], start=1):
        found = true_value(line, F(asked["y"]), readings=asked["m"], probability=case.inputs["level"])
        reproduce_massart(reproduced, f"c{number}", found)


def reproduce_massart(reproduced: Any, key: str, found: Any) -> None:
    figures = example("inverse_prediction_massart").figures
    for name, got in (
        (f"{key}_x_book", found.x),
        (f"{key}_half_book", found.half_width),
        (f"{key}_x", found.x),
        (f"{key}_se", found.u),
        (f"{key}_half", found.half_width),
    ):
        reproduced(got, figures[name])


def test_weighted_by_the_scatter_at_each_content(reproduced: Any) -> None:
    """The book fits the means of five, each weighted by 1 / s^2 with s at two digits and the weight at three."""
    i = example("inverse_prediction_massart").inputs["weighted"]
    points = [(F(x), F(str(mean(ys)))) for x, ys in i["groups"].items()]
    weights = [F(str(round(1 / round(stdev(ys), i["sd_round"]) ** 2, i["w_round"]))) for ys in i["groups"].values()]
    line = fitted(points, weights=weights)
    for number, asked in enumerate(i["cases"], start=1):
        reproduce_massart(reproduced, f"w{number}", true_value(line, F(asked["y"]), weight=F(str(asked["ws"]))))


def test_a_standard_for_the_limit_of_a_calibration(reproduced: Any) -> None:
    case = example("din32645")
    line = line_of("din32645")
    found = true_value(line, F(case.inputs["y0"]), probability=case.inputs["level"])
    assert found.half_width is not None
    reproduced(found.half_width, case.figures["half_width_99"])
    limit = decision_limit(line, alpha=0.01)
    assert limit is not None
    reproduced(limit, case.figures["decision_limit_alpha01"])


def test_a_second_way_to_the_limits() -> None:
    """Fieller's limits are where the band of one more reading meets the reading: both ends lie on its edges."""
    line = line_of("inverse_prediction_arsenic_water")
    found = true_value(line, F(3), probability=0.9)
    t = student_quantile(0.95, line.dof)
    assert line.residual_sd is not None and found.low is not None and found.high is not None
    for end in (found.low, found.high):
        x = F(end)
        u = line.u_at(x)
        assert u is not None
        assert abs(float(line.at(x)) - 3) == pytest.approx(t * math.hypot(u, line.residual_sd), rel=1e-9)


def test_a_slope_that_may_be_none_gives_no_limits() -> None:
    loose = fitted([(F(0), F(5)), (F(1), F(8)), (F(2), F(4)), (F(3), F(7))])
    found = true_value(loose, F(6))
    assert found.g is not None and found.g >= 1
    assert found.low is None and found.high is None and found.says == (NO_SLOPE,)


def test_two_points_give_a_value_and_no_limits() -> None:
    two = fitted([(F(4), F("4.1")), (F(10), F("9.8"))])
    found = true_value(two, F(7))
    assert (found.low, found.u, found.g, found.half_width) == (None, None, None, None)
    assert found.says == (TWO_POINTS,) and 4 < found.x < 10
    assert decision_limit(two) is None
    known = true_value(two.with_point_u(0.02), F(7))
    assert known.low is not None and not known.says


def test_outside_the_points_it_says_so() -> None:
    line = line_of("inverse_prediction_thermostat")
    edge = line.at(F(110))
    assert not true_value(line, edge).extrapolated
    beyond = true_value(line, edge + F(1, 1000))
    assert beyond.extrapolated and beyond.says == (OUTSIDE,)


LINES = st.lists(
    st.tuples(st.integers(0, 100), st.fractions(min_value=-2, max_value=2, max_denominator=50)),
    min_size=3,
    max_size=10,
    unique_by=lambda one: one[0],
)


@given(LINES, st.integers(-20, 220), st.sampled_from([F(254, 10), F(1, 1000)]))
@settings(max_examples=60)
def test_units_of_both_axes_and_the_origin_leave_the_answer(lines: Any, y: int, scale: Fraction) -> None:
    points = [(F(x), 2 * F(x) + off) for x, off in lines]
    line = fitted(points)
    other = fitted([(scale * x, 7 * y) for x, y in points], origin=F(50))
    assume(line.slope != 0)
    here, there = true_value(line, F(y)), true_value(other, F(7 * y))
    assert there.x == scale * here.x
    if here.low is not None and here.high is not None:
        assert there.low == pytest.approx(float(scale) * here.low, rel=1e-9, abs=1e-9)
        assert here.low <= here.x <= here.high


@given(LINES, st.integers(-20, 220))
@settings(max_examples=60)
def test_more_readings_never_widen_the_limits(lines: Any, y: int) -> None:
    line = fitted([(F(x), 2 * F(x) + off) for x, off in lines])
    assume(line.slope != 0)
    one, five = true_value(line, F(y)), true_value(line, F(y), readings=5)
    band = true_value(line, F(y), mean_response=True)
    assert one.u is not None and five.u is not None and band.u is not None
    assert band.u <= five.u <= one.u and (one.low is None) == (five.low is None)


def test_what_is_no_question_is_refused() -> None:
    line = line_of("inverse_prediction_thermostat")
    with pytest.raises(ValueError, match="one reading or more"):
        true_value(line, F(100), readings=0)
    with pytest.raises(ValueError, match="one reading or more"):
        true_value(line, F(100), weight=F(0))
    curve = fit(line.points, degree=2)
    assert curve is not None
    for ask in (lambda: true_value(curve, F(100)), lambda: decision_limit(curve)):
        with pytest.raises(ValueError, match="straight line"):
            ask()
    with pytest.raises(ZeroDivisionError):
        true_value(fitted([(F(n), F(5)) for n in range(3)]), F(6))
