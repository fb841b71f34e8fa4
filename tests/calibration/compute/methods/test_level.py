"""A level beside a tape: errors at both faces, depth and ullage, the uncertainty of a tape, and what is caught."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import sqrt

import pytest

from calibration.compute.coverage import TWO_SIGMA, coverage_factor
from calibration.compute.method import Answer
from calibration.compute.methods import level
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured
from tests.published import Reproduced, of_row, rows

FILE = "worked/plant_figures.csv"
TAPE = make_standard("L", "length", "0", "mm", is_lot=False, opened=None, uncertainty=Fraction(2), k=Fraction(2))
BARE = replace(TAPE, uncertainty=None, k=None)
SETTINGS = {"span": "6", "mark": "6.5"}
GOOD = {
    "hold": "on",
    "standard": "L",
    "way": "level",
    "point1_tape": "1.502",
    "point1_again": "1.504",
    "point1_shown": "1.51",
    "point1_hmi": "1.51",
    "point2_tape": "4.010",
    "point2_again": "4.010",
    "point2_shown": "4.02",
    "point2_hmi": "4.01",
    "foam": "no",
    "floats": "yes",
}
ULLAGE = GOOD | {
    "way": "ullage",
    "point1_tape": "4.998",
    "point1_again": "4.996",
    "point2_tape": "2.490",
    "point2_again": "2.490",
}
"""The same two levels, 6.5 m less the tape."""


def test_depth_and_ullage_of_one_level_give_the_same_errors_and_every_line_can_be_worked_out(checked: Checked) -> None:
    depth, ullage = (checked(level.METHOD, typed, BARE, settings=SETTINGS) for typed in (GOOD, ULLAGE))
    for outcome in (depth, ullage):
        assert outcome.verdict == "pass"
        for line in figured(outcome):
            assert_agrees(line)
    values = [[(one.name, one.value, one.face) for one, _ in outcome.judged] for outcome in (depth, ullage)]
    assert values[0] == values[1]
    assert values[0][:2] == [("error_1", Fraction("0.007"), "display"), ("error_1_hmi", Fraction("0.007"), "HMI")]
    assert depth.worked.figure("error_1_percent") == 100 * Fraction("0.007") / 6


@pytest.mark.parametrize(
    ("span", "shown", "verdict"),
    [
        ("6", "1.533", "pass"),
        ("6", "1.473", "pass"),
        ("6", "1.533001", "fail"),
        ("6", "1.472999", "fail"),
        ("1.5", "1.513", "pass"),
        ("1.5", "1.513001", "fail"),
    ],
)
def test_the_larger_of_ten_millimetres_and_half_a_per_cent_of_span_passes_itself(
    checked: Checked, span: str, shown: str, verdict: str
) -> None:
    typed = GOOD | {"point1_shown": shown, "point1_hmi": ""}
    assert checked(level.METHOD, typed, TAPE, settings={"span": span, "mark": "6.5"}).verdict == verdict


def test_one_face_that_is_wrong_fails_alone(checked: Checked) -> None:
    outcome = checked(level.METHOD, GOOD | {"point2_hmi": "4.05"}, TAPE, settings=SETTINGS)
    assert [(one.name, one.face) for one, verdict in outcome.judged if verdict == "fail"] == [("error_2_hmi", "HMI")]


def test_the_order_of_levels_and_of_tape_readings_changes_no_verdict(checked: Checked) -> None:
    turned = {f"point{3 - n}_{name}": GOOD[f"point{n}_{name}"] for n in (1, 2) for name in ("shown", "hmi")}
    turned |= {
        f"point{3 - n}_{a}": GOOD[f"point{n}_{b}"] for n in (1, 2) for a, b in (("tape", "again"), ("again", "tape"))
    }
    one, other = (checked(level.METHOD, typed, TAPE, settings=SETTINGS) for typed in (GOOD, GOOD | turned))
    assert one.verdict == other.verdict
    assert sorted(j.value for j, _ in one.judged) == sorted(j.value for j, _ in other.judged)


def test_a_stretched_tape_is_corrected_as_published(checked: Checked, reproduced: Reproduced) -> None:
    """A tape of 100 ft that is 102 ft long: true = read x 102 / 100, so the published factor of its marks is 0.98."""
    stretched = replace(BARE, unit="m", corrections=((Fraction(0), Fraction(0)), (Fraction(100), Fraction(2))))
    typed = GOOD | {"point1_tape": "50", "point1_again": "50", "point1_shown": "51", "point1_hmi": ""}
    outcome = checked(level.METHOD, typed, stretched, settings=SETTINGS)
    assert outcome.worked.figure("corrected_1") == 51
    assert outcome.worked.figure("error_1") == 0
    row = next(one for one in rows(FILE) if one["id"] == "L02")
    reproduced(Fraction(50) / 51, of_row(FILE, row, key="id", value="expected", tolerance=row["tolerance"]))
    for line in figured(outcome):
        assert_agrees(line)


@pytest.mark.parametrize("typed", [GOOD, ULLAGE])
def test_the_uncertainty_is_that_of_tape_repeats_and_digits(checked: Checked, typed: dict[str, str]) -> None:
    """By hand in mm: tape 2 / 2; 1.502 and 1.504 repeat by 1.414 / sqrt(2) = 1; digits 1 and 10, / sqrt(12)."""
    outcome = checked(level.METHOD, typed, TAPE, settings=SETTINGS)
    u = sqrt(1 + 1 + 1 / 12 + 100 / 12)
    k = coverage_factor(TWO_SIGMA, u**4 / 1)
    assert float(outcome.budgets["error_1"].expanded) == pytest.approx(k * u / 1000, rel=1e-6)
    assert float(outcome.budgets["error_2"].expanded) == pytest.approx(2 * sqrt(u**2 - 1) / 1000, rel=1e-6)
    assert set(outcome.budgets) == {"error_1", "error_1_hmi", "error_2", "error_2_hmi"}


def test_without_a_tape_that_states_one_there_is_none(checked: Checked) -> None:
    assert checked(level.METHOD, GOOD, BARE, settings=SETTINGS).budgets == {}
    unnamed = checked(level.METHOD, GOOD | {"standard": ""}, settings=SETTINGS)
    assert unnamed.budgets == {}
    assert caught(unnamed, "tape") == ["remind"]
    assert unnamed.verdict == "pass"


DENSE = SETTINGS | {"density": "1000", "liquid": "1330"}
CATCHES: list[tuple[str, dict[str, str], dict[str, str], str]] = [
    ("no-mark", {"way": "ullage"}, {"span": "6"}, "incomplete"),
    ("no-span", {}, {"mark": "6.5"}, "incomplete"),
    ("no-span", {}, {"span": "0"}, "incomplete"),
    ("tape-1", {"point1_again": "1.513"}, SETTINGS, "asked"),
    ("tape-2", {"point2_again": "4.021"}, SETTINGS, "asked"),
    ("exchanged", {"point1_tape": "5.000", "point1_again": "5.000", "point1_shown": "1.50"}, SETTINGS, "asked"),
    ("exchanged", {"way": "ullage"}, SETTINGS, "asked"),
    ("near", {name: "" for name in GOOD if name.startswith("point2")}, SETTINGS, "asked"),
    (
        "near",
        {f"point2_{name}": GOOD[f"point1_{name}"] for name in ("tape", "again", "shown", "hmi")},
        SETTINGS,
        "asked",
    ),
    ("near", {"point2_tape": "3.302", "point2_again": "3.302", "point2_shown": "3.30"}, SETTINGS, "asked"),
    ("datum", {"point1_shown": "1.803", "point2_shown": "4.32"}, SETTINGS, "asked"),
    ("datum", {"point1_shown": "1.20", "point2_shown": "3.71"}, SETTINGS, "asked"),
    ("density", {}, DENSE, "asked"),
    ("foam", {"foam": "yes"}, SETTINGS, "not valid"),
    ("missing-point1_again", {"point1_again": ""}, SETTINGS, "incomplete"),
    ("missing-way", {"way": ""}, SETTINGS, "incomplete"),
    ("unread-point1_tape", {"point1_tape": "-1"}, SETTINGS, "incomplete"),
]


@pytest.mark.parametrize(("key", "bad", "settings", "validity"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], settings: dict[str, str], validity: str
) -> None:
    outcome = checked(level.METHOD, GOOD | bad, TAPE, settings=settings)
    assert caught(outcome, key)
    assert outcome.validity == validity
    edge = {"point1_again": "1.512", "point2_tape": "3.308", "point2_again": "3.308", "point2_shown": "3.30"}
    same = SETTINGS | {"density": "1000", "liquid": "1005"}
    for neighbour in (GOOD, GOOD | edge | {"point2_hmi": ""}, ULLAGE):
        right = checked(level.METHOD, neighbour, TAPE, settings=same)
        assert right.validity == "valid"
        assert not caught(right, key)


def test_levels_off_by_more_and_less_are_no_question_of_the_datum(checked: Checked) -> None:
    typed = GOOD | {"point1_shown": "1.80", "point2_shown": "4.33"}
    outcome = checked(level.METHOD, typed, TAPE, settings=SETTINGS)
    assert outcome.verdict == "fail"
    assert not caught(outcome, "datum")


def test_an_answer_for_one_level_does_not_silence_the_other(checked: Checked) -> None:
    typed = GOOD | {"point1_again": "1.520", "point2_again": "4.030", "point2_hmi": "", "point1_hmi": ""}
    answers = {"tape-1": Answer(choice="waves", reason="pumps ran")}
    outcome = checked(level.METHOD, typed, TAPE, settings=SETTINGS, answers=answers)
    assert [one.key for one in outcome.unanswered] == ["tape-2"]


def test_a_tape_given_in_another_quantity_is_refused(checked: Checked) -> None:
    assert caught(checked(level.METHOD, GOOD, replace(TAPE, unit="kPa"), settings=SETTINGS), "other-unit-standard")
    assert not caught(checked(level.METHOD, GOOD, replace(TAPE, unit="ft"), settings=SETTINGS), "other-unit-standard")
