from __future__ import annotations

from fractions import Fraction

import pytest

from calibration.compute.method import Known
from calibration.compute.methods import ph
from calibration.compute.ph_chart import PhChart, chart_of, line_against_theory
from tests.calibration.compute.conftest import COLD


@pytest.fixture
def chart(known: Known) -> PhChart:
    drawn = chart_of(ph.read(COLD, kind="as found"), known)
    assert drawn is not None
    return drawn


def test_the_table_under_the_picture_gives_theory_beside_the_reading(chart: PhChart) -> None:
    # Theory by hand: -56.679082 x (7.0475 - 7) and -56.679082 x (10.1485 - 7).
    rows = [(row.number, row.ph, row.mv, round(row.theory, 2)) for row in chart.rows]
    assert rows == [(1, 7.0475, -4.8, -2.69), (2, 10.1485, -178.6, -178.45)]


def test_the_line_goes_through_the_points_and_across_the_picture(chart: PhChart) -> None:
    (left, at_left), (right, at_right) = chart.line
    assert (left, right) == chart.ph_range
    for row in chart.rows:
        on_line = at_left + (at_right - at_left) * (row.ph - left) / (right - left)
        assert on_line == pytest.approx(row.mv, abs=1e-9)


def test_theory_has_nothing_at_ph_7(chart: PhChart) -> None:
    (left, at_left), (right, at_right) = chart.theory
    assert at_left + (at_right - at_left) * (7 - left) / (right - left) == pytest.approx(0, abs=1e-9)


def test_everything_drawn_lies_inside_the_picture(chart: PhChart) -> None:
    drawn = [*chart.line, *chart.theory, *chart.band_low, *chart.band_high, *((row.ph, row.mv) for row in chart.rows)]
    for ph_value, mv in drawn:
        across, down = chart.place(ph_value, mv)
        assert 0 <= across <= 100
        assert 0 <= down <= 100
    assert chart.process is not None
    assert chart.ph_range[0] < chart.process < chart.ph_range[1]


def test_up_is_more_millivolts(chart: PhChart) -> None:
    assert chart.place(7, 100)[1] < chart.place(7, -100)[1]


def test_ticks_are_whole_ph_and_every_50_millivolts(chart: PhChart) -> None:
    assert chart.ph_ticks == (6, 7, 8, 9, 10, 11)
    assert chart.mv_ticks[0] == chart.mv_range[0]
    assert {later - earlier for earlier, later in zip(chart.mv_ticks, chart.mv_ticks[1:], strict=False)} == {50}


@pytest.mark.parametrize(("percent", "offset"), [("95", "30"), ("102", "-30"), ("98", "0")])
def test_a_healthy_probe_lies_in_the_band(percent: str, offset: str) -> None:
    slope = -Fraction(percent) / 100 * ph.nernst_slope(Fraction(25))
    points = tuple(
        (value, Fraction(offset) + slope * (value - 7)) for value in (Fraction(4), Fraction(7), Fraction(10))
    )
    probe = ph.electrode(points, Fraction(25))
    assert probe is not None
    chart = line_against_theory(probe)
    for corner, (low, high) in enumerate(zip(chart.band_low, chart.band_high, strict=True)):
        assert low[0] == high[0], corner
        assert low[1] - 1e-9 <= float(probe.line.at(Fraction(low[0]))) <= high[1] + 1e-9


def test_a_probe_outside_its_offset_leaves_the_band() -> None:
    slope = -ph.nernst_slope(Fraction(25))
    points = tuple((value, 31 + slope * (value - 7)) for value in (Fraction(4), Fraction(7)))
    probe = ph.electrode(points, Fraction(25))
    assert probe is not None
    chart = line_against_theory(probe)
    at_seven = next(high for ph_value, high in chart.band_high if ph_value == 7)
    assert float(probe.line.at(Fraction(7))) > at_seven


def test_without_millivolts_there_is_no_picture(known: Known) -> None:
    typed = {name: text for name, text in COLD.items() if not name.endswith("_mv")}
    assert chart_of(ph.read(typed, kind="as found"), known) is None
