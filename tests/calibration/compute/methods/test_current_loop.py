"""A current loop: what a current stands for, a verdict for each face, the open loop, and what is caught."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from math import sqrt

import pytest

from calibration.compute.method import Answer
from calibration.compute.methods import current_loop
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured
from tests.published import Reproduced, of_row, rows

FILE = "worked/plant_figures.csv"
ROWS = {row["id"]: row for row in rows(FILE)}
SOURCE = make_standard("S", "source", "20", "mA", is_lot=False)
RANGE = {"lower": "0", "upper": "10"}
GOOD = {
    "standard": "S",
    "hold": "on",
    "opened": "alarm",
    **{f"point{n}_current": current for n, current in enumerate(("4", "12", "20"), 1)},
    **{f"point{n}_hmi": shown for n, shown in enumerate(("0", "5", "10"), 1)},
    **{f"point{n}_plc": shown for n, shown in enumerate(("0.01", "5.02", "9.99"), 1)},
}


def test_a_good_loop_passes_at_every_face(checked: Checked) -> None:
    outcome = checked(current_loop.METHOD, GOOD, SOURCE, settings=RANGE, uses=("paces P-41",))
    assert outcome.verdict == "pass"
    assert {one.face for one, _ in outcome.judged} == {"HMI", "PLC"}
    for line in figured(outcome):
        assert_agrees(line)


@pytest.mark.parametrize("key", [key for key, row in ROWS.items() if key in {"T01", "T03"}])
def test_a_current_stands_for_what_the_worked_example_says(checked: Checked, reproduced: Reproduced, key: str) -> None:
    """T01 gives the current and asks the value; T03 gives the value and asks the current, here put in backwards."""
    row = ROWS[key]
    given = {name: str(value) for name, value in json.loads(row["inputs"]).items()}
    current = given.get("mA", row["expected"])
    typed = GOOD | {"point1_current": current}
    outcome = checked(current_loop.METHOD, typed, SOURCE, settings={"lower": given["lrv"], "upper": given["urv"]})
    expected = outcome.worked.figure("expected_1")
    assert expected is not None
    if key == "T01":
        reproduced(Fraction(expected), of_row(FILE, row, key="id", value="expected", tolerance=row["tolerance"]))
    else:
        per_milliampere = (Fraction(given["urv"]) - Fraction(given["lrv"])) / 16
        assert abs(Fraction(expected) - Fraction(given["value"])) <= Fraction(row["tolerance"]) * abs(per_milliampere)


@pytest.mark.parametrize(("hmi", "verdict"), [("5.05", "pass"), ("4.95", "pass"), ("5.051", "fail"), ("4.949", "fail")])
def test_half_a_per_cent_of_span_itself_passes(checked: Checked, hmi: str, verdict: str) -> None:
    assert checked(current_loop.METHOD, GOOD | {"point2_hmi": hmi}, SOURCE, settings=RANGE).verdict == verdict


@pytest.mark.parametrize("ends", [("0", "10"), ("10", "0"), ("-5", "5")])
def test_the_error_keeps_its_sign_whichever_way_the_range_runs(checked: Checked, ends: tuple[str, str]) -> None:
    lower, upper = Fraction(ends[0]), Fraction(ends[1])
    shown = {f"point{n}_hmi": str(float(lower + share * (upper - lower))) for n, share in ((1, 0), (3, 1))}
    middle = {"point2_hmi": str(float((lower + upper) / 2 + Fraction(4, 100)))}
    only_hmi = {f"point{n}_plc": "" for n in (1, 2, 3)}
    outcome = checked(
        current_loop.METHOD, GOOD | shown | middle | only_hmi, SOURCE, settings=dict(zip(RANGE, ends, strict=True))
    )
    assert outcome.worked.figure("error_2_hmi") == Fraction(4, 10)
    assert outcome.verdict == "pass"


def test_one_bad_face_fails_alone(checked: Checked) -> None:
    outcome = checked(current_loop.METHOD, GOOD | {"point3_plc": "9.9"}, SOURCE, settings=RANGE)
    assert {(one.face, verdict) for one, verdict in outcome.judged} >= {("PLC", "fail"), ("HMI", "pass")}
    assert {one.face for one, verdict in outcome.judged if verdict == "fail"} == {"PLC"}


@pytest.mark.parametrize(("opened", "verdict"), [("alarm", "pass"), ("low", "fail"), ("last", "fail"), ("not", "pass")])
def test_a_broken_loop_must_alarm(checked: Checked, opened: str, verdict: str) -> None:
    assert checked(current_loop.METHOD, GOOD | {"opened": opened}, SOURCE, settings=RANGE).verdict == verdict


@pytest.mark.parametrize(
    ("current", "judged"), [("3.8", True), ("20.5", True), ("3.79", False), ("20.51", False), ("21", False)]
)
def test_a_face_is_judged_by_a_signal_of_a_measurement_only(checked: Checked, current: str, judged: bool) -> None:
    """3.8 to 20.5 mA are a measurement by NE 43, the edges included; a failed signal has no value to compare."""
    typed = GOOD | {"point4_current": current, "point4_hmi": "77"}
    outcome = checked(current_loop.METHOD, typed, SOURCE, settings=RANGE)
    assert any(one.name == "error_4_hmi" for one, _ in outcome.judged) == judged


def test_the_order_of_the_currents_changes_no_verdict(checked: Checked) -> None:
    turned = {
        f"point{to}_{name}": GOOD[f"point{n}_{name}"]
        for n, to in ((1, 3), (2, 1), (3, 2))
        for name in ("current", "hmi", "plc")
    }
    one, other = (checked(current_loop.METHOD, typed, SOURCE, settings=RANGE) for typed in (GOOD, GOOD | turned))
    assert one.verdict == other.verdict
    assert sorted(j.value for j, _ in one.judged) == sorted(j.value for j, _ in other.judged)


CATCHES = [
    ("no-range", {}, {"upper": "0"}),
    ("narrow", {"point1_current": "11", "point3_current": "13"}, {}),
    ("no-measurement", {f"point{n}_current": "3" for n in (1, 2, 3)}, {}),
    ("scale-plc", {}, {"plc_lower": "0", "plc_upper": "12"}),
    ("scale-hmi", {}, {"hmi_lower": "0", "hmi_upper": "12"}),
    ("silent", {"opened": "not"}, {}),
    ("clamped", {"clamped": "yes"}, {}),
    ("zero-based", {"point1_hmi": "2.0"}, {}),
    ("no-hold", {"hold": "off"}, {}),
    ("missing-opened", {"opened": ""}, {}),
    ("missing-point2_hmi", {"point2_hmi": ""}, {}),
]


@pytest.mark.parametrize(("key", "bad", "settings"), CATCHES, ids=[key for key, _, _ in CATCHES])
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], settings: dict[str, str]
) -> None:
    uses = ("paces P-41",)
    assert caught(checked(current_loop.METHOD, GOOD | bad, SOURCE, settings=RANGE | settings, uses=uses), key)
    same = {"plc_lower": "0", "plc_upper": "10", "hmi_lower": "0", "hmi_upper": "10"}
    assert not caught(checked(current_loop.METHOD, GOOD, SOURCE, settings=RANGE | same, uses=uses), key)


TWICE: tuple[dict[str, str], ...] = (
    {"point2_current": "20", "point2_hmi": "10", "point2_plc": "10"},
    {"point2_current": "4.1", "point2_hmi": "0.06", "point2_plc": "0.06"},
    {f"point{n}_{name}": text for n in (1, 2, 3) for name, text in (("current", "12"), ("hmi", "5"), ("plc", "5"))},
)


@pytest.mark.parametrize("typed", TWICE)
def test_one_current_injected_twice_is_no_second_point(checked: Checked, typed: dict[str, str]) -> None:
    outcome = checked(current_loop.METHOD, GOOD | typed, SOURCE, settings=RANGE)
    assert caught(outcome, "narrow")
    assert outcome.verdict is None
    near = {"point2_current": "4.5", "point2_hmi": "0.31", "point2_plc": "0.31"}
    assert not caught(checked(current_loop.METHOD, GOOD | near, SOURCE, settings=RANGE), "narrow")


def test_the_correction_of_the_source_is_added_to_its_display(checked: Checked) -> None:
    """0.032 mA of 16 are 0.2 % of span; where the source shows 12 it gives 12.032, which stand for 5.02."""
    off = replace(SOURCE, corrections=((Fraction(4), Fraction("0.032")), (Fraction(20), Fraction("0.032"))))
    outcome = checked(current_loop.METHOD, GOOD, off, settings=RANGE)
    assert outcome.worked.figure("expected_2") == Fraction("5.02")
    assert outcome.worked.figure("error_2_hmi") == Fraction("-0.2")
    assert outcome.worked.figure("error_2_plc") == 0
    for line in figured(outcome):
        assert_agrees(line)
    ampere = replace(off, unit="A", corrections=((Fraction(0), Fraction("0.000032")),))
    again = checked(current_loop.METHOD, GOOD, ampere, settings=RANGE)
    assert again.worked.figure("expected_2") == Fraction("5.02")


def test_every_face_states_its_uncertainty_by_its_own_digits(checked: Checked) -> None:
    """By hand in % of span: 0.01 / 2 mA of 16, and one step of 1 (HMI) or 0.01 (PLC) of 10, over sqrt(12)."""
    certified = replace(SOURCE, uncertainty=Fraction("0.01"), k=Fraction(2))
    budgets = checked(current_loop.METHOD, GOOD, certified, settings=RANGE).budgets
    for face, step in (("hmi", 1), ("plc", 0.01)):
        u = sqrt((100 * 0.005 / 16) ** 2 + (100 * step / 10) ** 2 / 12)
        assert float(budgets[f"error_2_{face}"].expanded) == pytest.approx(2 * u, rel=1e-9)
    assert checked(current_loop.METHOD, GOOD, SOURCE, settings=RANGE).budgets == {}


def test_a_source_in_another_quantity_is_refused(checked: Checked) -> None:
    wrong = replace(SOURCE, unit="mV")
    assert caught(checked(current_loop.METHOD, GOOD, wrong, settings=RANGE), "other-unit-standard") == ["refuse"]
    assert not caught(checked(current_loop.METHOD, GOOD, SOURCE, settings=RANGE), "other-unit-standard")


@pytest.mark.parametrize(("most", "asked"), [("16", False), ("15.9", True)])
def test_three_quarters_of_the_range_are_enough_of_it(checked: Checked, most: str, asked: bool) -> None:
    outcome = checked(current_loop.METHOD, GOOD | {"point3_current": most}, SOURCE, settings=RANGE)
    assert bool(caught(outcome, "narrow")) == asked


def test_20_milliamperes_tell_nothing_of_a_range_from_nought(checked: Checked) -> None:
    """At 20 mA both ranges stand for the same, so a good face is not suspected."""
    turned = GOOD | {"point1_current": "20", "point1_hmi": "10", "point3_current": "4", "point3_hmi": "0"}
    assert not caught(checked(current_loop.METHOD, turned, SOURCE, settings=RANGE), "zero-based")


def test_a_face_set_otherwise_fails_when_it_is_so(checked: Checked) -> None:
    settings = RANGE | {"plc_lower": "0", "plc_upper": "12"}
    answers = {"scale-plc": Answer(choice="so", reason="read in the program")}
    outcome = checked(current_loop.METHOD, GOOD, SOURCE, settings=settings, answers=answers)
    assert outcome.verdict == "fail"
