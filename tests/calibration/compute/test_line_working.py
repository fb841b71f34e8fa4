"""The line of a set: published figures, lines that can be worked out again by hand, and where it has nothing to say."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.compute.inverse_prediction import NO_SLOPE, OUTSIDE
from calibration.compute.line_working import LEVEL, ON_THE_LINE, TOO_FEW, LineOfPoints, line_of, says_of, worth_a_line
from calibration.compute.method import Line
from tests.calibration.compute.test_line_fit import points_of, uncertainties
from tests.calibration.compute.test_ph_working import assert_agrees
from tests.published import example

F = Fraction


def line(points: Any, *, at: str = "", unit: str = "kPa") -> LineOfPoints:
    found = line_of([(F(x), F(y)) for x, y in points], unit=unit, at=F(at) if at else None)
    assert found is not None
    return found


def published(name: str, at: str, x: str = "x", y: str = "y") -> LineOfPoints:
    i = example(name).inputs
    found = line_of(points_of(i[x], i[y]), unit="", at=F(at))
    assert found is not None
    return found


def printed(found: LineOfPoints, begins: str) -> Line:
    return next(one for one in found.lines if one.text.startswith(begins))


def test_what_a_shown_value_really_is_by_a_book(reproduced: Any) -> None:
    """Graybill and Iyer, the thermostat: 104 shown, 95 %."""
    figures = example("inverse_prediction_thermostat").figures
    found = published("inverse_prediction_thermostat", "104")
    assert found.back is not None and found.limits is not None
    reproduced(found.back.x, figures["x0_104"])
    reproduced(found.limits[0], figures["lo_104"])
    reproduced(found.limits[1], figures["hi_104"])
    assert "reads it back as 103.995, between 103.404 and 104.589 at 95 %" in " ".join(says_of(found))


def test_the_correction_of_a_thermometer_with_its_covariance(reproduced: Any) -> None:
    """JCGM 100 H.3: the curve at 30 degrees, slope and scatter; here counted from 0 instead of 20 degrees."""
    figures = example("gum_h3_thermometer").figures
    found = published("gum_h3_thermometer", "30", "t", "b")
    assert found.u is not None
    for name, got in (
        ("b_30C", found.fit.at(F(30))),
        ("u_b_30C", found.u),
        ("y2", found.fit.slope),
        ("s_y2", uncertainties(found.fit)[1]),
        ("s", found.fit.residual_sd),
        ("t_bar_min_u", found.fit.mean_x),
    ):
        assert got is not None
        reproduced(got, figures[name])
    assert OUTSIDE in says_of(found)  # nothing was measured above 26.5 degrees
    # The lines say the same as the fit.
    assert F(printed(found, "Its standard uncertainty").value) == pytest.approx(found.u, rel=5e-3)


def test_ozone_monitors_by_the_certified_line(reproduced: Any) -> None:
    case = example("nist_strd_norris")
    found = line_of(points_of(case.inputs["x"], case.inputs["y"]), unit="")
    assert found is not None
    u = uncertainties(found.fit)
    for name, got in (("B0", found.fit.coefficients[0]), ("B1", found.fit.slope), ("se_B0", u[0]), ("se_B1", u[1])):
        reproduced(got, case.figures[name])


SETS: dict[str, list[tuple[str, str]]] = {
    "up and down": [("0", "0.3"), ("100", "100.2"), ("200", "200.9"), ("100", "100.6"), ("0", "0.1")],
    "three": [("4.01", "4.05"), ("7", "7.02"), ("10.01", "9.9")],
    "falling": [("1", "-4.05"), ("2", "-7.02"), ("3", "-9.9"), ("4", "-14")],
    "about nought": [("-20", "-20.4"), ("0", "0.3"), ("20", "19.9"), ("1/3", "0.4")],
    "steep scatter": [("1", "1"), ("2", "3"), ("3", "0"), ("4", "2.5")],
    "far from nought": [("300", "300.02"), ("301", "301.05"), ("302", "301.98"), ("303", "303.01")],
    "on the line": [("1", "2"), ("2", "4"), ("3", "6"), ("4", "8")],
}


@pytest.mark.parametrize("points", SETS.values(), ids=SETS)
def test_every_line_can_be_checked_by_hand(points: list[tuple[str, str]]) -> None:
    lines = [one for one in line(points).lines if one.figures]
    assert len(lines) >= 6
    for one in lines:
        assert_agrees(one)


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(st.integers(-500, 500), st.integers(-5, 5)), min_size=3, max_size=8))
def test_the_lines_say_what_the_functions_say(drawn: list[tuple[int, int]]) -> None:
    found = line_of([(F(x), F(x) + F(off, 10)) for x, off in drawn], unit="m")
    assert (found is None) == (len({x for x, _ in drawn}) < 3)
    if found is None:
        return
    for one in found.lines:
        if one.figures:
            assert_agrees(one)
    if found.limits is not None:
        for edge, word in zip(found.limits, ("lower", "upper"), strict=True):
            value = printed(found, f"Its {word} limit").value
            half = F(1, 2 * 10 ** len(value.partition(".")[2]))
            assert abs(F(value.replace("−", "-")) - F(edge)) <= half + F(1, 10**6)


def test_two_values_make_no_line_however_often_they_are_read() -> None:
    assert line_of([(F(0), F(0)), (F(10), F(10)), (F(0), F("0.1")), (F(10), F("9.9"))], unit="kPa") is None


def test_three_points_are_too_few_for_limits_and_four_give_them() -> None:
    three = line(SETS["three"])
    assert TOO_FEW in says_of(three) and three.limits is None and three.u is not None
    assert not [one for one in three.lines if "limit" in one.text]
    four = line([*SETS["three"], ("6.86", "6.88")])
    assert TOO_FEW not in says_of(four) and four.limits is not None


def test_a_slope_lost_in_the_scatter_gives_no_limits_and_says_so() -> None:
    lost = line(SETS["steep scatter"])
    assert lost.back is not None and lost.back.g is not None and lost.back.g >= 1
    assert NO_SLOPE in says_of(lost) and lost.limits is None and "between" not in " ".join(says_of(lost))
    assert not [one for one in lost.lines if one.text.startswith("Its lower")]


def test_a_level_line_and_one_without_scatter_say_so() -> None:
    level = line([("1", "1"), ("2", "3"), ("3", "0"), ("4", "2")])
    assert level.back is None and LEVEL in says_of(level)
    exact = line(SETS["on the line"])
    assert ON_THE_LINE in says_of(exact) and exact.u is None and exact.limits is None
    assert exact.correction == F("-2.5")  # at 2.5, where 5 is shown


def test_the_middle_is_taken_where_no_working_value_is_written() -> None:
    assert line(SETS["up and down"]).at == 100 and line(SETS["up and down"], at="150").at == 150


@pytest.mark.parametrize(
    ("true", "worth"),
    [
        (("0", "500", "1000"), True),
        (("0", "500", "1000", "500", "0"), True),
        (("0", "20", "1000"), False),  # 2 % of the range on: the same place again
        (("0", "20.1", "1000"), True),
        (("0", "1000", "980"), False),
        (("0.90", "0.95", "1.00"), True),  # a tenth of the largest
        (("0.91", "0.95", "1.00"), False),  # three grabs of one water
        (("-1.00", "-0.95", "-0.91"), False),
        (("-0.5", "0", "0.5"), True),
        (("0", "0", "0"), False),
        (("5", "5", "5"), False),
        ((), False),
    ],
)
def test_true_values_at_three_places_are_worth_a_line(true: tuple[str, ...], worth: bool) -> None:
    assert worth_a_line([(F(x), F(x)) for x in true]) is worth
