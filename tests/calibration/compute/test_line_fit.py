"""Lines of least squares against certified and printed figures, and against a second program."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.compute.line_fit import Fit, Point, fit
from calibration.compute.straight_line import line_through
from tests.published import example

F = Fraction


def points_of(xs: Any, ys: Any) -> list[Point]:
    return [(F(str(x)), F(str(y))) for x, y in zip(xs, ys, strict=True)]


def fitted(points: list[Point], **how: Any) -> Fit:
    found = fit(points, **how)
    assert found is not None
    return found


def uncertainties(line: Fit) -> tuple[float, ...]:
    found = line.uncertainties
    assert found is not None
    return found


def thermometer(**how: Any) -> Fit:
    i = example("gum_h3_thermometer").inputs
    return fitted(points_of(i["t"], i["b"]), **how)


def test_ozone_monitors_to_the_certified_digits(reproduced: Any) -> None:
    case = example("nist_strd_norris")
    line = fitted(points_of(case.inputs["x"], case.inputs["y"]))
    for name, got in (
        ("B0", line.coefficients[0]),
        ("B1", line.slope),
        ("se_B0", uncertainties(line)[0]),
        ("se_B1", uncertainties(line)[1]),
        ("resid_sd", line.residual_sd),
        ("R2", line.r_squared),
        ("SSR", line.explained_squares),
        ("SSE", line.residual_squares),
        ("MSE", line.residual_variance),
        ("F", line.f_ratio),
    ):
        assert got is not None
        reproduced(got, case.figures[name])


def test_a_thermometers_correction_curve(reproduced: Any) -> None:
    case = example("gum_h3_thermometer")
    line = thermometer(origin=F(str(case.inputs["t0"])))
    query = F(str(case.inputs["t_query"]))
    for name, got in (
        ("y1", line.coefficients[0]),
        ("y2", line.slope),
        ("s_y1", uncertainties(line)[0]),
        ("s_y2", uncertainties(line)[1]),
        ("r_y1y2", line.correlation(0, 1)),
        ("s", line.residual_sd),
        ("b_30C", line.at(query)),
        ("u_b_30C", line.u_at(query)),
        ("dof", line.dof),
        ("t_bar_min_u", line.mean_x),
    ):
        assert got is not None
        reproduced(got, case.figures[name])
    for number, ((t, _), off) in enumerate(zip(line.points, line.residuals, strict=True), start=1):
        reproduced(line.at(t), case.figures[f"pred_{number}"])
        reproduced(off, case.figures[f"resid_{number}"])
    # The guide works its example out at 30 degrees; nothing was measured above 26.5.
    assert not line.inside(query) and line.inside(F("21.521")) and line.inside(F("26.511"))


def test_counted_from_the_mean_intercept_and_slope_are_not_related(reproduced: Any) -> None:
    case = example("gum_h3_thermometer")
    line = thermometer(origin=thermometer().mean_x)
    reproduced(line.coefficients[0], case.figures["y1_centred"])
    reproduced(uncertainties(line)[0], case.figures["s_y1_centred"])
    assert line.correlation(0, 1) == 0
    assert line.u_at(F(30)) == pytest.approx(thermometer(origin=F(20)).u_at(F(30)), rel=1e-12)


def test_without_the_covariance_the_correction_would_be_twice_as_doubtful() -> None:
    line = thermometer(origin=F(20))
    u = uncertainties(line)
    assert math.hypot(u[0], 10 * u[1]) == pytest.approx(0.0073, abs=5e-5)
    assert line.u_at(F(30)) == pytest.approx(0.0041, abs=5e-5)


def test_what_all_points_share_moves_the_line_and_does_not_tilt_it() -> None:
    """JCGM 100 H.3.6: a reference wrong by the same everywhere adds u_a^2 to the variance of the intercept alone."""
    line = thermometer(origin=F(20))
    found, u = line.covariance, 0.01
    assert found is not None
    for x in (F(20), F(24), F(30)):
        t = float(x) - 20
        by_hand = found[0][0] + u**2 + t**2 * found[1][1] + 2 * t * found[0][1]
        assert line.u_at(x, common_u=u) == pytest.approx(math.sqrt(by_hand), rel=1e-9)


def test_points_known_beforehand_replace_the_scatter() -> None:
    """JCGM 100 H.3.6: with u_0 of each point in place of s every uncertainty of the line scales by u_0 / s."""
    line = thermometer(origin=F(20))
    assert line.residual_sd is not None
    known = line.with_point_u(2 * line.residual_sd)
    assert uncertainties(known) == pytest.approx([2 * one for one in uncertainties(line)], rel=1e-12)
    assert known.coefficients == line.coefficients and math.isinf(known.known_dof) and line.known_dof == 9
    for wrong in (0.0, -1.0, math.inf):
        with pytest.raises(ValueError, match="above 0"):
            line.with_point_u(wrong)


def test_a_load_cells_curve(reproduced: Any) -> None:
    case = example("nist_loadcell_quadratic")
    curve = fitted(points_of(case.inputs["load"], case.inputs["response"]), degree=2)
    for name, got in zip("abc", curve.coefficients, strict=True):
        reproduced(got, case.figures[name])
    for name, u in zip(("se_a", "se_b", "se_c"), uncertainties(curve), strict=True):
        reproduced(u, case.figures[name])
    assert curve.residual_sd is not None
    reproduced(curve.residual_sd, case.figures["resid_sd"])
    reproduced(curve.dof, case.figures["dof"])


def test_a_second_program_agrees_on_weights_and_curves() -> None:
    import statsmodels.api as sm

    i = example("nist_loadcell_quadratic").inputs
    points = points_of(i["load"], i["response"])
    weights = [1 + F(n % 5, 3) for n in range(len(points))]
    own = fitted(points, degree=2, weights=weights)
    design = [[1.0, x, x * x] for x in i["load"]]
    other = sm.WLS(i["response"], design, weights=[float(w) for w in weights]).fit()
    assert [float(one) for one in own.coefficients] == pytest.approx(list(other.params), rel=1e-8)
    assert uncertainties(own) == pytest.approx(list(other.bse), rel=1e-8)
    assert own.r_squared == pytest.approx(other.rsquared, rel=1e-12)
    assert own.f_ratio == pytest.approx(other.fvalue, rel=1e-8)
    assert own.residual_variance == pytest.approx(other.scale, rel=1e-8)


NUMBER = st.fractions(min_value=-1000, max_value=1000, max_denominator=100)
POINTS = st.lists(st.tuples(NUMBER, NUMBER), min_size=3, max_size=12, unique_by=lambda point: point[0])


@given(POINTS, st.randoms())
@settings(max_examples=50)
def test_the_order_of_the_points_changes_no_digit(points: list[Point], chance: Any) -> None:
    mixed = points[:]
    chance.shuffle(mixed)
    one, two = fitted(points), fitted(mixed)
    assert one.coefficients == two.coefficients and one.inverse == two.inverse
    assert one.residual_sd == two.residual_sd


@given(POINTS, st.sampled_from([F(254, 10), F(1, 1000), F(9, 5)]), NUMBER)
@settings(max_examples=50)
def test_another_unit_and_another_zero_say_the_same(points: list[Point], scale: Fraction, zero: Fraction) -> None:
    plain, other = fitted(points), fitted([(scale * x + zero, y) for x, y in points])
    assert other.slope == plain.slope / scale
    assert other.at(scale * F(3) + zero) == plain.at(F(3))
    assert other.r_squared == plain.r_squared


@given(POINTS)
@settings(max_examples=50)
def test_both_lines_of_the_project_are_the_same_line(points: list[Point]) -> None:
    plain, other = line_through(tuple(points)), fitted(points)
    assert plain is not None
    assert (plain.intercept, plain.slope) == other.coefficients
    assert plain.se_slope == pytest.approx(uncertainties(other)[1], rel=1e-12)
    assert plain.se_intercept == pytest.approx(uncertainties(other)[0], rel=1e-12)


@given(POINTS, st.fractions(min_value=F(1, 50), max_value=50, max_denominator=50))
@settings(max_examples=50)
def test_only_the_ratios_of_weights_count_for_the_line(points: list[Point], w: Fraction) -> None:
    same, heavier = fitted(points), fitted(points, weights=[w] * len(points))
    assert heavier.coefficients == same.coefficients
    assert uncertainties(heavier) == pytest.approx(uncertainties(same), rel=1e-12)
    twice = fitted([*points, points[0]])
    assert twice.coefficients == fitted(points, weights=[F(2), *[F(1)] * (len(points) - 1)]).coefficients


def test_a_perfect_line_two_points_and_no_line() -> None:
    perfect = fitted([(F(n), F(2 * n + 1)) for n in range(4)])
    assert perfect.f_ratio == math.inf and perfect.r_squared == 1 and perfect.residual_sd == 0
    two = fitted([(F(0), F(1)), (F(1), F(4))])
    assert two.residual_sd is None and two.uncertainties is None and two.u_at(F(0)) is None and two.f_ratio is None
    assert two.with_point_u(0.1).uncertainties == pytest.approx((0.1, 0.1 * math.sqrt(2)))
    level = fitted([(F(n), F(5)) for n in range(3)])
    assert level.r_squared is None and level.slope == 0
    assert fit([(F(1), F(1)), (F(1), F(2)), (F(1), F(3))]) is None
    assert fit([(F(1), F(1)), (F(2), F(2)), (F(2), F(3))], degree=2) is None and fit([]) is None


def test_what_is_no_weight_and_no_degree_is_refused() -> None:
    points = [(F(0), F(0)), (F(1), F(1))]
    for weights in ([F(1)], [F(1), F(0)], [F(1), F(-2)]):
        with pytest.raises(ValueError, match="one weight, above 0"):
            fit(points, weights=weights)
    with pytest.raises(ValueError, match="1 or more"):
        fit(points, degree=0)
