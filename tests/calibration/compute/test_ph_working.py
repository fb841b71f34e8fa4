"""Each line of the working, read back from what it prints and worked out anew, gives the value it prints."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.compute.method import Band, Known, Line
from calibration.compute.methods import ph
from calibration.compute.verdict import Outcome
from tests.calibration.compute.conftest import COLD, THIRD

Check = Callable[..., Outcome]
ALLOWED = re.compile(r"[\d. ()+\-*/FQsqrt\"]*")
TENTH = Fraction(1, 10)


def by_hand(figures: str) -> Fraction:
    """Work the printed figures out with Python, every number exact."""
    text = figures.replace("−", "-").replace("×", "*").replace("²", "**2")
    text = re.sub(r"\d+(?:\.\d+)?(?<!\*\*2)", lambda number: f'F("{number.group()}")', text).replace("√", "sqrt")
    assert ALLOWED.fullmatch(text), text
    return Fraction(eval(text, {"__builtins__": {}}, {"F": Fraction, "sqrt": math.sqrt}))  # noqa: S307 (our own printed figures)


def assert_agrees(line: Line) -> None:
    places = len(line.value.partition(".")[2])
    printed = Fraction(line.value.replace("−", "-"))
    assert abs(by_hand(line.figures) - printed) <= Fraction(1, 2 * 10**places), line


def figured(outcome: Outcome) -> list[Line]:
    return [line for line in outcome.worked.lines if line.figures]


def test_the_reader_of_figures_knows_their_signs() -> None:
    assert by_hand("7.036 + (7.016 − 7.036) × (16.8 − 15) / 5") == Fraction("7.0288")
    assert by_hand("−8.6 + (−56.66) × (7 − 7.029)") == Fraction("-6.95686")
    assert by_hand("√((3² + (−4)²) / 1)") == 5
    assert by_hand("(1/3) × 3") == 1


POINT3 = {"point3_lot": "4", "point3_temperature": "13.0", "point3_shown": "4.05", "point3_mv": "168.2"} | {
    "point3_steady": "yes"
}
BAND = Band(low=-TENTH, high=TENTH, unit="pH", source="site", tag="site setting", uncertainty=Fraction("0.03"))
SETS: dict[str, tuple[dict[str, str | None], dict[str, Any]]] = {
    "two buffers": ({}, {}),
    "a failing one": ({"point1_shown": "7.20"}, {}),
    "two temperatures": ({"point1_temperature": "11.3", "point2_temperature": "12.9"}, {}),
    "a row of the table": ({"point1_temperature": "15", "point2_temperature": "15.0"}, {}),
    "three buffers": (POINT3, {}),
    "with an uncertainty": ({}, {"limits": {"error": BAND}}),
    "at the working pH": ({"process_shown": None}, {"settings": {"working_ph": "7.45"}}),
    "as left with a third buffer": (
        THIRD,
        {"kind": "as left", "last": {"process_ph": Fraction(7, 3) * 3 + Fraction(1, 7)}},
    ),
    "as left by the transmitter's own slope": (
        {"point1_mv": None, "point2_mv": None, "own_slope": "55.7", "own_slope_unit": "mV/pH"},
        {"kind": "as left"},
    ),
    "no millivolts": ({"point1_mv": None, "point2_mv": None}, {"last": {"slope_percent": Fraction(593, 6)}}),
}


@pytest.mark.parametrize(("changes", "facts"), SETS.values(), ids=SETS)
def test_every_line_can_be_checked_by_hand(check: Check, changes: dict[str, str | None], facts: dict[str, Any]) -> None:
    lines = figured(check(changes, **facts))
    assert len(lines) >= 4
    for line in lines:
        assert_agrees(line)


READ = st.decimals(min_value=0, max_value=14, places=2).map(str)
VOLTS = st.decimals(min_value=-500, max_value=500, places=1).map(str)
WARMTH = st.decimals(min_value=0, max_value=50, places=1).map(str)


@given(st.fixed_dictionaries({
    **{f"point{n}_shown": READ for n in (1, 2, 3)},
    **{f"point{n}_mv": VOLTS for n in (1, 2, 3)},
    **{f"point{n}_temperature": WARMTH for n in (1, 2, 3)},
    "process_shown": READ,
}), st.booleans(), st.sampled_from(["as found", "as left"]))  # fmt: skip
def test_whatever_is_typed_the_working_can_be_checked_by_hand(
    known: Known, typed: dict[str, str], three: bool, kind: ph.SetKind
) -> None:
    third = {"point3_lot": "4"} if three else dict.fromkeys(("point3_shown", "point3_mv", "point3_temperature"), "")
    for line in figured(ph.judge_set(ph.read(COLD | typed | third, kind=kind), known)):
        assert_agrees(line)


def test_the_lines_follow_the_order_of_thought(check: Check) -> None:
    texts = [line.text for line in check().worked.lines]
    order = ("Point 1", "Point 2", "What the display", "The process, shown as 7.80", "Error there", "Theoretical slope")
    order += ("Slope found", "Slope as a part", "Offset at pH 7", "Zero point")
    assert len(texts) == len(order)
    for text, start in zip(texts, order, strict=True):
        assert text.startswith(start)


def test_figures_are_put_in_as_they_were_typed(check: Check) -> None:
    lines = {line.text: line for line in check({"point1_shown": "7.080"}).worked.lines}
    assert lines["What the display makes of one pH"].figures == "(10.15 − 7.080) / (10.149 − 7.048)"
    assert lines["Slope found"].figures.startswith("((−178.6) − (−4.8)) /")


def test_limits_uncertainty_and_sources_are_said(check: Check) -> None:
    plain = {line.text: line for line in check().worked.lines}
    assert plain["Error there; limit ±0.10 pH, uncertainty not stated"].source.startswith("30 TAC 290.110")
    stated = [line.text for line in check(limits={"error": BAND}).worked.lines]
    assert "Error there; limit ±0.10 pH, uncertainty 0.03" in stated
    assert next(line for text, line in plain.items() if text.startswith("Point 1")).source == "a maker's manual"


def test_a_fail_by_a_hair_is_not_shown_as_the_limit(check: Check) -> None:
    # Shown 0.1000001 too high in both buffers, so everywhere; 0.100 would look like a pass.
    outcome = check({"point1_shown": "7.1475001", "point2_shown": "10.2485001", "process_shown": "8.0"})
    assert outcome.verdict == "fail"
    assert {figure.name: figure.shown for figure in outcome.worked.figures}["error"] == "+0.1000001"
