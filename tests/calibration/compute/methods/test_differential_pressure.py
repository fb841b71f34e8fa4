"""Differential pressure: zero and span, a strainer at one flow with the head taken off, roots, and what is caught."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import sqrt

import pytest

from assets.compute.units import convert
from calibration.compute.method import Answer
from calibration.compute.methods import differential_pressure
from calibration.compute.methods.differential_pressure import PSI
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured

GAUGE = make_standard("G", "gauge", "0", "kPa", is_lot=False, opened=None, uncertainty=Fraction("0.2"), k=Fraction(2))
SETTINGS = {"span": "100", "reference_flow": "50", "clean": "12"}
GOOD = {
    "hold": "on",
    "standard": "G",
    "way": "one",
    "zero": "0.1",
    "point1_reference": "50",
    "point1_shown": "50.2",
    "point2_reference": "100",
    "point2_shown": "100.1",
    "flow": "40",
    "across": "20",
    "root_at": "none",
    "root_too": "no",
}


def test_zero_and_points_are_judged_and_every_line_can_be_worked_out_by_hand(checked: Checked) -> None:
    bare = replace(GAUGE, uncertainty=None, k=None)
    outcome = checked(differential_pressure.METHOD, GOOD, bare, settings=SETTINGS | {"taps": "0.5"})
    assert outcome.verdict == "pass"
    assert [(one.name, one.value) for one, _ in outcome.judged] == [
        ("zero", Fraction("0.1")),
        ("error_1", Fraction("0.2")),
        ("error_2", Fraction("0.1")),
    ]
    lines = figured(outcome)
    assert len(lines) == 6
    for line in lines:
        assert_agrees(line)


@pytest.mark.parametrize(
    ("at", "beyond"),
    [
        ({"zero": "0.5"}, {"zero": "0.500001"}),
        ({"zero": "-0.5"}, {"zero": "-0.500001"}),
        ({"point1_shown": "49.5"}, {"point1_shown": "49.499999"}),
        ({"point2_shown": "100.5"}, {"point2_shown": "100.500001"}),
    ],
)
def test_half_a_per_cent_of_span_itself_passes(checked: Checked, at: dict[str, str], beyond: dict[str, str]) -> None:
    assert checked(differential_pressure.METHOD, GOOD | at, GAUGE, settings=SETTINGS).verdict == "pass"
    assert checked(differential_pressure.METHOD, GOOD | beyond, GAUGE, settings=SETTINGS).verdict == "fail"


def test_the_order_of_points_changes_no_verdict(checked: Checked) -> None:
    turned = {f"point{3 - n}_{name}": GOOD[f"point{n}_{name}"] for n in (1, 2) for name in ("reference", "shown")}
    one, other = (
        checked(differential_pressure.METHOD, typed, GAUGE, settings=SETTINGS) for typed in (GOOD, GOOD | turned)
    )
    assert one.verdict == other.verdict
    assert sorted(j.value for j, _ in one.judged) == sorted(j.value for j, _ in other.judged)


def test_the_head_of_the_tappings_comes_off_before_the_flow_is_put_in(checked: Checked) -> None:
    """1.8 m are 17.64 kPa (2.56 psi): of 37.64 kPa shown 20 are the strainer's, at 50 m³/h 20 x (50/40)² = 31.25."""
    worked = checked(
        differential_pressure.METHOD, GOOD | {"across": "37.64"}, GAUGE, settings=SETTINGS | {"taps": "1.8"}
    ).worked
    assert worked.figure("across") == 20
    assert worked.figure("strainer") == Fraction("31.25")
    assert worked.figure("over_clean") == Fraction("19.25")
    assert round(17.64 / 6.894757, 2) == 2.56
    plain = checked(differential_pressure.METHOD, GOOD, GAUGE, settings=SETTINGS).worked
    assert plain.figure("strainer") == Fraction("31.25")
    assert plain.figure("across") is None


@pytest.mark.parametrize(("flow", "said"), [("35", True), ("34.999", False)])
def test_seven_tenths_of_the_reference_flow_are_just_enough(checked: Checked, flow: str, said: bool) -> None:
    outcome = checked(differential_pressure.METHOD, GOOD | {"flow": flow}, GAUGE, settings=SETTINGS)
    assert (outcome.worked.figure("strainer") is not None) is said
    assert any("under 0.7" in line.text for line in outcome.worked.lines) is not said


def test_the_same_strainer_at_two_flows_says_the_same(checked: Checked) -> None:
    """Turbulent loss goes with the square of the flow: 31.25 at 50 m³/h is 20 at 40."""
    half = checked(differential_pressure.METHOD, GOOD, GAUGE, settings=SETTINGS)
    full = checked(differential_pressure.METHOD, GOOD | {"flow": "50", "across": "31.25"}, GAUGE, settings=SETTINGS)
    assert half.worked.figure("strainer") == full.worked.figure("strainer")


def test_the_uncertainty_is_that_of_the_reference_and_of_both_last_digits(checked: Checked) -> None:
    """By hand in % of a span of 100 kPa: 0.2 / 2, 1 / sqrt(12) and 0.1 / sqrt(12)."""
    outcome = checked(differential_pressure.METHOD, GOOD, GAUGE, settings=SETTINGS)
    u = sqrt(0.1**2 + 1 / 12 + 0.01 / 12)
    assert set(outcome.budgets) == {"error_1", "error_2"}
    assert float(outcome.budgets["error_1"].expanded) == pytest.approx(2 * u, rel=1e-9)


def test_a_gauge_in_bar_and_readings_in_psi_count_in_their_own_units(checked: Checked) -> None:
    bar = replace(GAUGE, unit="bar", uncertainty=Fraction("0.002"), corrections=((Fraction("0.5"), Fraction("0.01")),))
    typed = GOOD | {"point1_reference": "0.50", "point1_reference_unit": "bar", "point1_shown": "51.0"}
    outcome = checked(differential_pressure.METHOD, typed, bar, settings=SETTINGS)
    assert outcome.worked.figure("error_1") == 0  # 50 kPa and 0.01 bar = 1 kPa
    u = sqrt(0.1**2 + 1 / 12 + 0.01 / 12)  # 0.002 bar / 2 = 0.1 kPa, one step of 0.50 bar = 1 kPa
    assert float(outcome.budgets["error_1"].expanded) == pytest.approx(2 * u, rel=1e-9)


def test_without_its_statement_or_with_two_gauges_there_is_none(checked: Checked) -> None:
    bare = replace(GAUGE, uncertainty=None, k=None)
    assert checked(differential_pressure.METHOD, GOOD, bare, settings=SETTINGS).budgets == {}
    assert checked(differential_pressure.METHOD, GOOD | {"way": "two"}, GAUGE, settings=SETTINGS).budgets == {}


NO_STRAINER = {"flow": "", "across": ""}
CATCHES: list[tuple[str, dict[str, str], dict[str, str], str]] = [
    ("no-span", {}, {"span": ""}, "incomplete"),
    ("no-span", {}, {"span": "0"}, "incomplete"),
    ("two-gauges", {"way": "two"}, {}, "asked"),
    ("no-flow", {"flow": "0"}, {}, "valid"),
    ("nought", {"across": "0"}, {}, "asked"),
    ("nought", {"across": "-20"}, {}, "asked"),
    ("nought", {"across": "17.64"}, {"taps": "1.8"}, "asked"),
    ("half", {"flow": ""}, {}, "incomplete"),
    ("half", {"across": ""}, {}, "incomplete"),
    ("no-clean", {}, {"clean": ""}, "valid"),
    ("no-clean", {}, {"reference_flow": ""}, "valid"),
    ("root-twice", {"root_at": "transmitter", "root_too": "yes"}, {}, "not valid"),
    ("root-twice", {"root_at": "", "root_too": "yes"}, {}, "not valid"),
    ("root-where", {"root_at": "none", "root_too": "yes"}, {}, "incomplete"),
    ("root-second", {"root_at": "plc", "root_too": ""}, {}, "valid"),
    ("rooted", {"point1_reference": "25", "point1_shown": "50"}, {}, "asked"),
    ("narrow", {"point1_reference": "0", "point1_shown": "0", "point2_reference": "", "point2_shown": ""}, {}, "asked"),
    ("narrow", {"point1_reference": "49.9", "point2_reference": "10", "point2_shown": "10"}, {}, "asked"),
    ("dirty", {"across": "40"}, {}, "valid"),
    ("missing-zero", {"zero": ""}, {}, "incomplete"),
]


@pytest.mark.parametrize(("key", "bad", "settings", "validity"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], settings: dict[str, str], validity: str
) -> None:
    outcome = checked(differential_pressure.METHOD, GOOD | bad, GAUGE, settings=SETTINGS | settings)
    assert caught(outcome, key)
    assert outcome.validity == validity
    for changes in ({}, NO_STRAINER, {"point2_reference": "", "point2_shown": ""}):
        right = checked(
            differential_pressure.METHOD, GOOD | changes, GAUGE, settings=SETTINGS | {"reference_flow": "40"}
        )
        assert right.verdict == "pass"
        assert not caught(right, key)


def test_a_display_that_takes_the_root_is_no_fail_of_the_instrument(checked: Checked) -> None:
    """sqrt(25 %) = 50 % and sqrt(100 %) = 100 %: worked by hand."""
    typed = GOOD | {"point1_reference": "25", "point1_shown": "50"}
    answers = {"rooted": Answer(choice="root", reason="")}
    outcome = checked(differential_pressure.METHOD, typed, GAUGE, settings=SETTINGS, answers=answers)
    assert (outcome.validity, outcome.would_be) == ("not valid", "fail")


def test_a_reference_in_another_quantity_is_refused(checked: Checked) -> None:
    wrong = replace(GAUGE, unit="mA")
    assert caught(checked(differential_pressure.METHOD, GOOD, wrong, settings=SETTINGS), "other-unit-standard")
    psi = replace(GAUGE, unit="psi")
    assert not caught(checked(differential_pressure.METHOD, GOOD, psi, settings=SETTINGS), "other-unit-standard")


def test_the_pound_to_the_square_inch_is_the_one_of_the_units() -> None:
    assert convert(Fraction(1), "psi", "kPa") == PSI
