"""Where a chart draws things, against numpy's linear interpolation and what a straight line must pass through."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.chart import Axis, Drawing, axis_down, ticks
from assets.compute.chart_line import LineFigures, Point, Straight, line_picture
from assets.compute.chart_time import Limit, Result, TimeFigures, time_picture

PIXEL = 0.11  # coordinates carry one decimal of a pixel; the two ends of a line are rounded too


def percent(text: str) -> float:
    assert text.endswith("%")
    return float(text[:-1])


def numbers_of(path: str) -> list[float]:
    return [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", path)]


def make_line(**changes: object) -> LineFigures:
    """Two points of a pH electrode at 16.8 °C on their own line, against the Nernst line through pH 7 and 0 mV."""
    low, high = (3.999, 163.1), (7.029, -8.6)
    slope = (low[1] - high[1]) / (low[0] - high[0])
    given_figures: dict[str, object] = {
        "name": "line",
        "caption": "The line through two points",
        "points": (
            Point(x=high[0], y=high[1], x_shown="pH 7.029", y_shown="\u22128.6 mV", theory_shown="\u22121.7 mV"),
            Point(x=low[0], y=low[1], x_shown="pH 3.999", y_shown="+163.1 mV", theory_shown="+172.6 mV"),
        ),
        "found": Straight(slope=slope, offset=low[1] - slope * low[0]),
        "theory": Straight(slope=-57.53, offset=57.53 * 7),
        "upright": 6.42,
        "upright_word": "process",
        "y_unit": "mV",
        "x_before": "pH",
    }
    return LineFigures(**{**given_figures, **changes})  # type: ignore[arg-type]


def make_results(*values: float, shape: str = "pass", step_days: int = 30) -> tuple[Result, ...]:
    start = dt.date(2026, 2, 19)
    return tuple(
        Result(
            at=start + dt.timedelta(days=step_days * n),
            value=value,
            shown=f"{value:+.2f}",
            when=f"check {n}",
            shape=shape,
        )
        for n, value in enumerate(values)
    )


def make_time(results: tuple[Result, ...], *limits: Limit) -> TimeFigures:
    return TimeFigures(name="err", caption="Error at the process", figure="Error", results=results, limits=limits)


def drawn_y(path: str, x_percent: float) -> float:
    x0, y0, x1, y1 = numbers_of(path)
    return float(np.interp(x_percent * 10, [x0, x1], [y0, y1]))


@given(st.floats(-50, 50), st.floats(0.1, 100), st.floats(0, 1), st.booleans())
def test_an_axis_places_values_as_linear_interpolation_does(low: float, span: float, part: float, up: bool) -> None:
    axis = Axis(low=low, high=low + span, length=230, up=up)
    value = low + part * span
    ends = [230.0, 0.0] if up else [0.0, 230.0]
    assert axis.at(value) == pytest.approx(np.interp(value, [low, low + span], ends), abs=1e-6)


def test_ticks_take_the_published_step() -> None:
    # P. Heckbert, "Nice numbers for graph labels", Graphics Gems (1990): 105 to 543 is labelled in hundreds
    # (loosely from 100 to 600; here only what lies inside). *From memory.*
    assert ticks(105, 543) == (200, 300, 400, 500)


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_ticks_lie_inside_at_even_steps_of_one_two_or_five(low: float, span: float) -> None:
    high = low + span
    found = ticks(low, high)
    assert 1 <= len(found) <= 6
    slack = span * 1e-6
    assert all(low - slack <= tick <= high + slack for tick in found)
    if len(found) > 1:
        steps = np.diff(found)
        assert np.allclose(steps, steps[0], rtol=1e-3)
        # The difference of two numbers near a million keeps ten digits less of a step of a thousandth.
        mantissa = steps[0] / 10 ** np.floor(np.log10(steps[0]) + 1e-5)
        assert min(abs(mantissa - nice) for nice in (1, 2, 5)) < 1e-3


def test_no_span_has_no_ticks() -> None:
    with pytest.raises(ValueError, match="no span"):
        ticks(7, 7)


def test_the_found_line_passes_through_the_marks_of_its_points() -> None:
    drawing = line_picture(make_line()).drawing
    trace = next(path for path in drawing.paths if path.kind == "trace")
    assert len(drawing.marks) == 2
    for mark in drawing.marks:
        assert drawn_y(trace.d, percent(mark.x)) == pytest.approx(float(mark.y), abs=PIXEL)


def test_the_theory_line_crosses_zero_volts_at_ph_7() -> None:
    # Glass electrodes are made for 0 mV at pH 7 (zero point of the cell, IEC 60746-2); *from memory*.
    figures = make_line(points=(Point(x=7.0, y=0.0, x_shown="pH 7", y_shown="0 mV"), *make_line().points))
    drawing = line_picture(figures).drawing
    theory = next(path for path in drawing.paths if path.kind == "theory")
    at_seven = drawing.marks[0]
    assert drawn_y(theory.d, percent(at_seven.x)) == pytest.approx(float(at_seven.y), abs=PIXEL)


def test_a_band_lies_between_its_two_lines() -> None:
    line = make_line().theory
    over, under = (
        Straight(slope=line.slope, offset=line.offset + 30),
        Straight(slope=line.slope, offset=line.offset - 30),
    )
    drawing = line_picture(make_line(band=(over, under), band_word="a healthy probe")).drawing
    area = next(path for path in drawing.paths if path.kind == "area")
    theory = numbers_of(next(path for path in drawing.paths if path.kind == "theory").d)
    upper_left, upper_right, lower_right, lower_left = numbers_of(area.d)[1::2]
    assert upper_left < theory[1] < lower_left
    assert upper_right < theory[3] < lower_right
    assert theory[1] - upper_left == pytest.approx(lower_left - theory[1], abs=2 * PIXEL)


def test_the_process_is_marked_where_it_lies_among_the_points() -> None:
    drawing = line_picture(make_line()).drawing
    seven, four = (percent(mark.x) for mark in drawing.marks)
    expected = np.interp(6.42, [3.999, 7.029], [four, seven])
    assert percent(drawing.marked[0]) == pytest.approx(expected, abs=0.02)


def test_a_line_without_a_point_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one point"):
        line_picture(make_line(points=()))


def test_the_table_under_the_line_says_the_same_points() -> None:
    assert line_picture(make_line()).rows == (
        ("1", "pH 7.029", "\u22128.6 mV", "\u22121.7 mV"),
        ("2", "pH 3.999", "+163.1 mV", "+172.6 mV"),
    )


def marks_inside(drawing: Drawing) -> bool:
    return all(0 <= percent(mark.x) <= 100 and 0 <= float(mark.y) <= drawing.height for mark in drawing.marks)


@given(st.lists(st.floats(-20, 20), min_size=1, max_size=20), st.lists(st.floats(-30, 30), max_size=3))
def test_every_result_and_every_limit_lies_on_the_paper(values: list[float], limits: list[float]) -> None:
    figures = make_time(make_results(*values), *(Limit(value=value, name=f"limit {value}") for value in limits))
    drawing = time_picture(figures).drawing
    assert marks_inside(drawing)
    lines = [numbers_of(path.d)[1] for path in drawing.paths if path.kind == "limit"]
    assert len(lines) == len(limits)
    assert all(0 <= y <= drawing.height for y in lines)


@given(st.lists(st.floats(-20, 20), min_size=3, max_size=20))
def test_a_greater_value_never_lies_lower(values: list[float]) -> None:
    marks = time_picture(make_time(make_results(*values))).drawing.marks
    by_value = sorted(zip(values, marks, strict=True), key=lambda pair: pair[0])
    heights = [float(mark.y) for _value, mark in by_value]
    assert heights == sorted(heights, reverse=True)


def test_equal_times_take_equal_widths() -> None:
    marks = time_picture(make_time(make_results(0.0, 0.1, 0.2, 0.3, step_days=17))).drawing.marks
    assert np.allclose(np.diff([percent(mark.x) for mark in marks]), (100 - 2 * percent(marks[0].x)) / 3, atol=0.02)


def test_a_time_of_day_counts() -> None:
    noon = Result(at=dt.datetime(2026, 11, 24, 12, 0, tzinfo=dt.UTC), value=1, shown="1", when="noon")
    ends = [
        Result(at=dt.datetime(2026, 11, day, 0, 0, tzinfo=dt.UTC), value=1, shown="1", when=str(day))
        for day in (24, 25)
    ]
    marks = time_picture(make_time((ends[0], noon, ends[1]))).drawing.marks
    assert percent(marks[1].x) == pytest.approx((percent(marks[0].x) + percent(marks[2].x)) / 2, abs=0.02)


def test_nothing_is_joined_across_another_probe() -> None:
    first, second = make_results(0.0, 0.01), make_results(0.2, 0.3, 0.25)
    later = [
        Result(at=result.at + dt.timedelta(days=90), value=result.value, shown=result.shown, when=result.when,
               anew="probe 40-7718 fitted" if n == 0 else "")
        for n, result in enumerate(second)
    ]  # fmt: skip
    picture = time_picture(make_time((*first, *later)))
    traces = [path.d for path in picture.drawing.paths if path.kind == "trace thin"]
    assert [len(numbers_of(d)) // 2 for d in traces] == [2, 3]
    assert len(picture.drawing.marked) == 1
    assert "probe 40-7718 fitted" in picture.rows[2][2]
    assert "probe 40-7718 fitted" in [key.word for key in picture.keys]


def test_a_single_result_is_a_mark_without_a_line() -> None:
    drawing = time_picture(make_time(make_results(0.02))).drawing
    assert len(drawing.marks) == 1
    assert not [path for path in drawing.paths if path.kind.startswith("trace")]


def test_no_result_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one result"):
        time_picture(make_time(()))


@given(st.lists(st.floats(-1, 1), min_size=2, max_size=3, unique=True))
def test_names_of_limits_never_lie_on_one_another(values: list[float]) -> None:
    figures = make_time(make_results(-2.0, 2.0), *(Limit(value=value, name=f"limit {value}") for value in values))
    names = sorted(float(text.y) for text in time_picture(figures).drawing.texts if text.words.startswith("limit "))
    assert min(np.diff(names)) >= 14 - PIXEL  # the height of a line of text


def test_each_result_keeps_its_shape_and_its_word() -> None:
    shapes = ("pass", "cpass", "cfail", "fail", "notvalid")
    results = tuple(
        Result(at=dt.date(2026, month, 1), value=month, shown=str(month), when=f"month {month}", shape=shape)
        for month, shape in enumerate(shapes, 1)
    )
    picture = time_picture(make_time(results))
    assert [mark.shape for mark in picture.drawing.marks] == list(shapes)
    # Words of ILAC-G8:09/2019, 4.2.3 (binary and non-binary statements with guard bands), and ours for "not valid".
    assert [row[2] for row in picture.rows] == ["Pass", "Conditional pass", "Conditional fail", "Fail", "Not valid"]
    assert "n = 5" in picture.told


@pytest.mark.parametrize("other", [0.0, 5e-324])
def test_values_all_the_same_still_have_a_span(other: float) -> None:
    axis = axis_down([0.0, other], height=150)
    assert axis.high > axis.low
    assert axis.at(0.0) == pytest.approx(75)
