"""The line with uncertainties in both directions, against the benchmark of Pearson's data with York's weights."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.compute.errors_in_both import TwoWayLine, UncertainPoint, two_way_line
from calibration.compute.line_fit import fit
from tests.calibration.compute.test_line_fit import points_of
from tests.published import example


def benchmark() -> list[UncertainPoint]:
    i = example("york_errors_in_both").inputs
    return [
        UncertainPoint(x=x, y=y, u_x=wx**-0.5, u_y=wy**-0.5)
        for x, y, wx, wy in zip(i["x"], i["y"], i["wx"], i["wy"], strict=True)
    ]


def drawn(points: list[UncertainPoint]) -> TwoWayLine:
    line = two_way_line(points)
    assert line is not None
    return line


def test_the_benchmark_line(reproduced: Any) -> None:
    case = example("york_errors_in_both")
    line = drawn(benchmark())
    reproduced(line.intercept, case.figures["intercept"])
    reproduced(line.slope, case.figures["slope"])
    reproduced(line.chi_squared, case.figures["chi2"])
    assert line.dof == 8


def test_the_uncertainties_of_the_benchmark_line() -> None:
    """As the tests of two public programs of the 2004 formulas have them, one in R and one in Python."""
    line = drawn(benchmark())
    assert line.u_intercept == pytest.approx(0.294970735, abs=5e-10)
    assert line.u_slope == pytest.approx(0.0579850090, abs=5e-11)


@pytest.mark.parametrize("r", [0.0, 0.7, -0.6])
def test_no_line_near_it_fits_better(r: float) -> None:
    """The sum of squares, written anew, has its least value at the line."""
    points = [replace(one, r=r) for one in benchmark()]
    line = drawn(points)

    def misfit(a: float, b: float) -> float:
        return sum(
            (one.y - a - b * one.x) ** 2 / (one.u_y**2 + b**2 * one.u_x**2 - 2 * b * r * one.u_x * one.u_y)
            for one in points
        )

    best = misfit(line.intercept, line.slope)
    assert best == pytest.approx(line.chi_squared, rel=1e-12)
    for da, db in ((1e-4, 0), (-1e-4, 0), (0, 1e-4), (0, -1e-4), (1e-4, -1e-4)):
        assert misfit(line.intercept + da, line.slope + db) > best


def test_turned_round_it_is_the_same_line() -> None:
    line = drawn(benchmark())
    turned = drawn([UncertainPoint(x=one.y, y=one.x, u_x=one.u_y, u_y=one.u_x) for one in benchmark()])
    assert turned.slope == pytest.approx(1 / line.slope, rel=1e-10)
    assert turned.intercept == pytest.approx(-line.intercept / line.slope, rel=1e-10)
    assert turned.chi_squared == pytest.approx(line.chi_squared, rel=1e-10)


def test_with_a_sure_reference_it_is_the_weighted_line() -> None:
    i = example("nist_strd_norris").inputs
    plain = fit(points_of(i["x"], i["y"]))
    assert plain is not None
    known = plain.with_point_u(0.9)
    line = drawn([UncertainPoint(x=x, y=y, u_x=1e-9, u_y=0.9) for x, y in zip(i["x"], i["y"], strict=True)])
    assert line.slope == pytest.approx(float(plain.slope), rel=1e-9)
    assert line.intercept == pytest.approx(float(plain.coefficients[0]), rel=1e-7)
    assert known.uncertainties is not None and known.covariance is not None
    assert (line.u_intercept, line.u_slope) == pytest.approx(known.uncertainties, rel=1e-6)
    assert line.covariance == pytest.approx(known.covariance[0][1], rel=1e-6)


@given(st.lists(st.tuples(st.floats(-1, 1), st.floats(-1, 1)), min_size=4, max_size=8), st.sampled_from([25.4, 1e-3]))
@settings(max_examples=40)
def test_another_unit_scales_the_slope(offs: list[tuple[float, float]], scale: float) -> None:
    points = [
        UncertainPoint(x=10.0 * n + dx, y=20.0 * n + dy, u_x=0.5, u_y=0.8, r=0.3) for n, (dx, dy) in enumerate(offs)
    ]
    other = [
        UncertainPoint(x=scale * one.x, y=one.y, u_x=scale * one.u_x, u_y=one.u_y, r=one.r) for one in reversed(points)
    ]
    here, there = drawn(points), drawn(other)
    assert there.slope * scale == pytest.approx(here.slope, rel=1e-9)
    assert there.intercept == pytest.approx(here.intercept, rel=1e-7, abs=1e-7)
    assert there.chi_squared == pytest.approx(here.chi_squared, rel=1e-6, abs=1e-9)


def test_correlated_errors_along_the_line_do_no_harm() -> None:
    """Errors that move a point along the line leave nothing to see; against it they count twice."""

    def at(r: float) -> float:
        return drawn([UncertainPoint(x=n, y=n + 0.1 * (-1) ** n, u_x=0.2, u_y=0.2, r=r) for n in range(5)]).chi_squared

    assert at(0.9) > at(0.0) > at(-0.9) and math.isfinite(at(0.9))


def test_what_gives_no_line() -> None:
    point = UncertainPoint(x=1, y=1, u_x=0.1, u_y=0.1)
    assert two_way_line([point, UncertainPoint(x=1, y=2, u_x=0.1, u_y=0.1)]) is None
    wrong = ({"u_x": 0.0, "u_y": 0.1}, {"u_x": 0.1, "u_y": -1.0}, {"u_x": 0.1, "u_y": 0.1, "r": 1.0})
    for one in wrong:
        with pytest.raises(ValueError, match="above 0"):
            two_way_line([point, UncertainPoint(x=2, y=2, **one)])
