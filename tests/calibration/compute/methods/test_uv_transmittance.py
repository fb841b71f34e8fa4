"""UV transmittance: % and absorbance, cells of other lengths, pure water, the offset that is carried back, catches."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.method import Answer, Band
from calibration.compute.methods import uv_transmittance
from calibration.compute.methods.uv_transmittance import absorbance, transmittance
from calibration.compute.standards import Standard
from calibration.compute.verdict import Outcome
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured
from tests.published import Reproduced, of_row, rows

METER = make_standard("M", "bench meter", "0", "%", is_lot=False, opened=None)
STATED = make_standard("M", "bench meter", "0", "%", is_lot=False, uncertainty=Fraction("0.4"), k=Fraction(2))
IN_ABSORBANCE = make_standard("M", "bench meter", "0", "", is_lot=False, uncertainty=Fraction("0.004"), k=Fraction(2))
GOOD = {
    "hold": "on",
    "meter": "M",
    "read_as": "absorbance",
    "bench": "0.060",
    "path": "1",
    "shown": "88.0",
    "same": "yes",
}
PERCENT = {"read_as": "percent", "bench": "87.1"}


def tried(checked: Checked, changes: dict[str, str], meter: Standard = METER, **facts: Any) -> Outcome:
    typed = {name: text for name, text in (GOOD | changes).items() if text}
    return checked(uv_transmittance.METHOD, typed, meter, **facts)


def test_absorbance_and_transmittance_as_published(reproduced: Reproduced) -> None:
    file = "worked/photometry.csv"
    for row in rows(file):
        of = {"absorbance": absorbance, "transmittance": transmittance}[row["topic"].split(" ")[0]]
        got = of(Fraction(row["given"]))
        assert got is not None
        reproduced(got, of_row(file, row, key="id", value="expected", tolerance=row["tolerance"]))


def test_what_is_typed_as_absorbance_is_compared_as_the_published_per_cent(
    checked: Checked, reproduced: Reproduced
) -> None:
    file = "worked/photometry.csv"
    row = next(one for one in rows(file) if one["unit"] == "%")
    outcome = tried(checked, {"bench": row["given"]})
    true = outcome.worked.figure("true")
    assert true is not None
    reproduced(true, of_row(file, row, key="id", value="expected", tolerance=row["tolerance"]))
    assert outcome.verdict == "pass"
    for line in figured(outcome):
        assert_agrees(line)


@pytest.mark.parametrize("changes", [{"zero": "99.3"}, PERCENT, {"bench": "0.241", "path": "4"}, {"zero": "101.3"}])
def test_every_line_can_be_worked_out_by_hand(checked: Checked, changes: dict[str, str]) -> None:
    lines = figured(tried(checked, changes))
    assert lines
    for line in lines:
        assert_agrees(line)


@pytest.mark.parametrize(
    ("shown", "verdict"), [("89.1", "pass"), ("85.1", "pass"), ("89.11", "fail"), ("85.09", "fail")]
)
def test_two_points_of_per_cent_pass_and_not_two_per_cent(checked: Checked, shown: str, verdict: str) -> None:
    """Two points of %: from memory. Two per cent of 50 would be one point; 52 beside 50 passes all the same."""
    assert tried(checked, PERCENT | {"shown": shown}).verdict == verdict
    assert tried(checked, {"read_as": "percent", "bench": "50", "shown": "52"}).verdict == "pass"
    assert tried(checked, {"read_as": "percent", "bench": "50", "shown": "52.01"}).verdict == "fail"


@pytest.mark.parametrize(
    ("zero", "verdict"), [("98", "pass"), ("102", "pass"), ("97.9", "fail"), ("102.1", "fail"), ("90", "fail")]
)
def test_pure_water_is_judged(checked: Checked, zero: str, verdict: str) -> None:
    outcome = tried(checked, {"zero": zero})
    assert outcome.verdict == verdict
    assert {one.name for one, _ in outcome.judged} == {"error", "zero"}


def test_pure_water_is_judged_where_the_sample_agrees_only_because_both_are_off(checked: Checked) -> None:
    assert tried(checked, PERCENT | {"shown": "87.1", "zero": "90"}).verdict == "fail"


@pytest.mark.parametrize(("bench", "path"), [("0.060", "1"), ("0.240", "4"), ("0.300", "5")])
def test_a_longer_cell_gives_the_same_per_cent(checked: Checked, bench: str, path: str) -> None:
    outcome = tried(checked, {"bench": bench, "path": path})
    assert outcome.worked.figure("true") == transmittance(Fraction("0.06"))
    assert outcome.verdict == "pass"


def test_ten_millimetres_are_one_centimetre_on_the_form() -> None:
    path = next(ask for ask in uv_transmittance.METHOD.asks if ask.name == "path")
    assert dict(path.choices)["1"] == "1 cm (10 mm)"


@pytest.mark.parametrize("changes", [{}, PERCENT, {"bench": "0.240", "path": "4"}])
def test_the_offset_is_in_absorbance_and_carries_a_window_s_film_to_every_water(
    checked: Checked, changes: dict[str, str]
) -> None:
    """By hand: 88.0 % is 0.0555; beside 0.060 it reads 0.0045 too little, whatever the water absorbs."""
    outcome = tried(checked, changes)
    assert outcome.worked.model.kind == "offset"
    ((true, read),) = outcome.worked.model.points
    assert float(true) == pytest.approx(0.060, abs=1e-4)
    assert float(read) == pytest.approx(-math.log10(0.88), abs=1e-11)
    other_water = transmittance(Fraction("0.200") - (read - true))  # what shows 0.200 is 0.2045
    assert float(other_water) == pytest.approx(100 * 10 ** -(0.2 + 0.0045), abs=0.02)


def test_what_the_charts_keep_and_the_verdict_says_stays_in_points_of_per_cent(checked: Checked) -> None:
    outcome = tried(checked, PERCENT)
    assert outcome.worked.next_value == {"error": Fraction("0.9")}
    judged = next(one for one, _ in outcome.judged if one.name == "error")
    assert (judged.unit, judged.standard, judged.shown) == ("%", Fraction("87.1"), Fraction(88))
    assert {one.unit for one in outcome.worked.figures if one.name.startswith("absorbance")} == {"1/cm"}


CATCHES = [
    ("absorbance", {"read_as": "percent"}, PERCENT, "asked"),
    (
        "absorbance",
        {"read_as": "percent", "bench": "1.99"},
        {"read_as": "percent", "bench": "2", "shown": "2"},
        "asked",
    ),
    ("percent", {"bench": "87.1"}, {"bench": "0.060"}, "incomplete"),
    ("percent", {"bench": "87.1", "path": "4"}, {"bench": "0.240", "path": "4"}, "incomplete"),
    ("percent", {"bench": "4.1"}, {"bench": "4"}, "incomplete"),
    ("black", {"bench": "3.5"}, {"bench": "1.6", "shown": "2.5"}, "asked"),
    ("another-way", {"bench": "0.871"}, {"bench": "0.871", "shown": "13.5"}, "asked"),  # a share of 1
    ("another-way", {"bench": "0.240"}, {"bench": "0.240", "path": "4"}, "asked"),  # the cell forgotten
    ("another-way", {"path": "4"}, {"path": "4", "shown": "96.6"}, "asked"),  # of 1 cm already
    (
        "another-way",
        {"bench": "3.0", "path": "5", "shown": "3.0"},
        {"bench": "3.0", "path": "5", "shown": "25"},
        "asked",
    ),
    ("dark", {"shown": "0"}, {}, "asked"),
    ("dark", {"shown": "0.060"}, {"bench": "1.7", "shown": "2.0"}, "asked"),
    ("over", {"shown": "100.1", "bench": "0.005"}, {"shown": "100", "bench": "0.005"}, "asked"),
    ("blanked", {"bench": "0.000", "shown": "99.5"}, {"bench": "0.001", "shown": "99.5"}, "asked"),
    ("blanked", {"read_as": "percent", "bench": "100", "shown": "99"}, PERCENT, "asked"),
    ("long-cell", PERCENT | {"path": "4"}, PERCENT, "not valid"),
    ("other-sample", {"same": "no"}, {}, "not valid"),
    ("filtered", {"filtered": "filtered"}, {"filtered": "as is"}, "asked"),
    ("unread-shown", {"shown": "111"}, {}, "incomplete"),
    ("unread-bench", PERCENT | {"bench": "100.1"}, PERCENT, "incomplete"),
]


@pytest.mark.parametrize(("key", "bad", "neighbour", "validity"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], neighbour: dict[str, str], validity: str
) -> None:
    outcome = tried(checked, bad)
    assert caught(outcome, key)
    assert outcome.validity == validity
    assert not caught(tried(checked, neighbour), key)


def test_a_transmittance_under_absorbance_is_told_what_it_would_be(checked: Checked) -> None:
    refused = next(one for one in tried(checked, {"bench": "87.1"}).found if one.key == "percent")
    assert refused.field == "bench"
    assert "87.1 %" in refused.sentence
    assert "0.060" in refused.sentence


def test_a_cell_forgotten_can_be_signed_as_it_is_written_and_fails(checked: Checked) -> None:
    answers = {"another-way": Answer(choice="as written", reason="1 cm cell, read twice")}
    assert tried(checked, {"bench": "0.240"}, answers=answers).verdict == "fail"


def test_the_limit_of_the_site_decides_what_agrees(checked: Checked) -> None:
    wide = Band(low=Fraction(-45), high=Fraction(45), unit="%", source="site", tag="site setting")
    assert not caught(tried(checked, {"bench": "0.240"}, limits={"error": wide}), "another-way")


LN10 = math.log(10)
T = 100 * 10**-0.060


@pytest.mark.parametrize(
    ("changes", "meter", "parts"),
    [
        # U of the meter in % / 2, last digit of the bench, last digit of the analyzer
        (PERCENT, STATED, (0.2, 0.1 / 12**0.5, 0.1 / 12**0.5)),
        ({}, STATED, (0.2, LN10 * T * 0.001 / 12**0.5, 0.1 / 12**0.5)),
        # 4 cm: the cell lets 57.5 % through; 1 cm is its fourth root, so that 0.2 of it are 0.2 x 87.1 / (4 x 57.5)
        (
            {"bench": "0.240", "path": "4"},
            STATED,
            (0.2 * T / (4 * 100 * 10**-0.240), LN10 * T / 4 * 0.001 / 12**0.5, 0.1 / 12**0.5),
        ),
        # stated as absorbance: 0.002 are 0.4 points of % near 87 %
        ({}, IN_ABSORBANCE, (LN10 * T * 0.002, LN10 * T * 0.001 / 12**0.5, 0.1 / 12**0.5)),
    ],
)
def test_the_uncertainty_by_hand(
    checked: Checked, changes: dict[str, str], meter: Standard, parts: tuple[float, ...]
) -> None:
    budget = tried(checked, changes, meter).budgets["error"]
    assert float(budget.expanded) == pytest.approx(2 * math.sqrt(sum(one**2 for one in parts)), rel=1e-9)


def test_a_finite_step_in_the_bench_value_moves_the_error_as_its_sensitivity_says(checked: Checked) -> None:
    errors = [tried(checked, {"bench": bench}).worked.figure("error") for bench in ("0.0599", "0.0601")]
    assert errors[0] is not None
    assert errors[1] is not None
    assert float(errors[1] - errors[0]) / 0.0002 == pytest.approx(LN10 * T, rel=1e-5)


def test_a_photometer_that_states_none_or_one_of_something_else_gives_no_budget(checked: Checked) -> None:
    other = make_standard("M", "bench meter", "0", "mg/L", is_lot=False, uncertainty=Fraction("0.05"), k=Fraction(2))
    assert tried(checked, {}, METER).budgets == {}
    assert tried(checked, {}, other).budgets == {}
    assert tried(checked, {}, other).verdict == "pass"


def test_guarded_a_result_near_its_limit_is_conditional(checked: Checked) -> None:
    near = PERCENT | {"shown": "88.9"}  # 1.8 of 2, with 0.41
    assert tried(checked, near, STATED, guarded=True).verdict == "conditional pass"
    assert tried(checked, near, STATED).verdict == "pass"
