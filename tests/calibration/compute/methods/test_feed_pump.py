"""A feed pump by drawdown: what runs give, their spread, strength by its basis, the dose, and what is caught."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace
from fractions import Fraction
from math import sqrt

import pytest

from calibration.compute.coverage import TWO_SIGMA, coverage_factor
from calibration.compute.method import Answer
from calibration.compute.methods import feed_pump
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured
from tests.published import Reproduced, of_row, rows

FILE = "worked/plant_figures.csv"
ROWS = {row["id"]: row for row in rows(FILE)}


def runs(*volumes: str, seconds: str = "60", start: str = "500") -> dict[str, str]:
    """Runs out of a column that is full at `start` mL, each drawing the volume given."""
    typed: dict[str, str] = {}
    for number, volume in enumerate(volumes, 1):
        last = str(float(Fraction(start) - Fraction(volume)))
        typed |= {f"run{number}_first": start, f"run{number}_last": last, f"run{number}_seconds": seconds}
    return typed


GOOD = {"setting": "40", "commanded": "100", "pressure": "yes", **runs("100", "101", "99")}
DOSING = {"strength": "12.5", "basis": "trade", "measured_on": "2026-11-10", "water": "1000", "target": "12"}


def given(key: str) -> dict[str, str]:
    return {name: str(value) for name, value in json.loads(ROWS[key]["inputs"]).items()}


def test_a_run_gives_what_the_worked_example_says(checked: Checked, reproduced: Reproduced) -> None:
    row, of = ROWS["D27"], given("D27")
    one = {"run1_first": of["volume_start_mL"], "run1_last": of["volume_end_mL"], "run1_seconds": of["seconds"]}
    outcome = checked(feed_pump.METHOD, GOOD | one)
    rate = outcome.worked.figure("rate_1")
    assert rate is not None
    reproduced(Fraction(rate), of_row(FILE, row, key="id", value="expected", tolerance=row["tolerance"]))


def test_the_error_is_a_share_of_the_target(checked: Checked, reproduced: Reproduced) -> None:
    row, of = ROWS["D28"], given("D28")
    outcome = checked(
        feed_pump.METHOD,
        GOOD | {"commanded": of["target_mL_min"]} | runs(*[of["measured_mL_min"]] * 3, start="2000"),
    )
    error = outcome.worked.figure("error")
    assert error is not None
    reproduced(Fraction(error), of_row(FILE, row, key="id", value="expected", tolerance=row["tolerance"]))


def test_the_lines_can_be_worked_out_by_hand(checked: Checked) -> None:
    outcome = checked(feed_pump.METHOD, GOOD | DOSING | runs("33", "34", "34", seconds="19"))
    lines = figured(outcome)
    assert len(lines) == 8  # three runs, mean, error, spread, dose, feed for the target
    for line in lines:
        assert_agrees(line)


@pytest.mark.parametrize(("commanded", "verdict"), [("100", "pass"), ("99.9", "fail")])
def test_ten_per_cent_itself_passes(checked: Checked, commanded: str, verdict: str) -> None:
    assert checked(feed_pump.METHOD, GOOD | {"commanded": commanded} | runs("110", "110", "110")).verdict == verdict


@pytest.mark.parametrize(("volume", "advised"), [("105", False), ("105.1", True), ("94.9", True)])
def test_above_five_per_cent_it_is_looked_into_and_still_passes(checked: Checked, volume: str, advised: bool) -> None:
    outcome = checked(feed_pump.METHOD, GOOD | runs(volume, volume, volume))
    assert outcome.verdict == "pass"
    assert bool(outcome.worked.advice) == advised


@pytest.mark.parametrize(
    ("volumes", "validity"), [(("97.5", "100", "102.5"), "valid"), (("97", "100", "103"), "not valid")]
)
def test_runs_spread_by_five_per_cent_of_their_mean_at_most(
    checked: Checked, volumes: tuple[str, ...], validity: str
) -> None:
    for order in itertools.permutations(volumes):
        assert checked(feed_pump.METHOD, GOOD | runs(*order)).validity == validity


@pytest.mark.parametrize(
    ("strength", "grams"),
    [
        ({"strength": "125", "basis": "g/L"}, "125"),
        ({"strength": "12.5", "basis": "trade"}, "125"),
        ({"strength": "12.5", "basis": "wt", "gravity": "1.16"}, "145"),
    ],
)
def test_a_strength_is_taken_by_its_basis(checked: Checked, strength: dict[str, str], grams: str) -> None:
    """Grams in a litre by definition: 10 x % w/v, or 10 x % by weight x specific gravity."""
    outcome = checked(feed_pump.METHOD, GOOD | DOSING | {"gravity": ""} | strength)
    assert outcome.worked.figure("strength") == Fraction(grams)
    assert outcome.worked.figure("dose") == 100 * Fraction(grams) / 1000
    assert outcome.worked.figure("wanted") == 12 * 1000 / Fraction(grams)


def test_units_of_feed_and_water_change_nothing(checked: Checked) -> None:
    metric = checked(feed_pump.METHOD, GOOD | DOSING)
    other = checked(
        feed_pump.METHOD,
        GOOD | DOSING | {"commanded": "6", "commanded_unit": "L/h", "water": "60", "water_unit": "m³/h"},
    )
    assert [one.value for one, _ in metric.judged] == [one.value for one, _ in other.judged]
    assert metric.worked.figure("dose") == other.worked.figure("dose") == Fraction("12.5")


@pytest.mark.parametrize(("drop", "asked"), [("90", False), ("110", False), ("89.9", True), ("110.1", True)])
def test_the_dose_by_the_tank_stands_beside_that_by_drawdown(checked: Checked, drop: str, asked: bool) -> None:
    """12.5 mg/L by drawdown; 100 L of 125 g/L into 1000 m³ are the same."""
    tank = {"drop": drop, "treated": "1", "treated_unit": "ML"}
    outcome = checked(feed_pump.METHOD, GOOD | DOSING | tank)
    assert outcome.worked.figure("dose_by_tank") == Fraction(drop) * 125 / 1000
    assert bool(caught(outcome, "tank")) == asked
    for line in figured(outcome):
        if line.source != "converted":
            assert_agrees(line)


COLUMN = make_standard("K", "column", "0", "mL", is_lot=False, opened=None, uncertainty=Fraction("0.6"), k=Fraction(2))


def test_the_uncertainty_is_that_of_column_repeats_and_digits(checked: Checked) -> None:
    """By hand in mL of three runs of a minute, 100, 101 and 99: column 0.3, s / sqrt(3), digits 0.1 twice, 1 s."""
    typed = GOOD | {"column": "K"} | {f"run{n}_first": "500.0" for n in (1, 2, 3)}
    outcome = checked(feed_pump.METHOD, typed, COLUMN)
    column, repeats = 0.3**2, 1 / 3
    digits = 2 * 0.1**2 / 12 / 3
    time = sum((rate / 60) ** 2 / 12 for rate in (100, 101, 99)) / 9
    u = sqrt(column + repeats + digits + time)
    k = coverage_factor(TWO_SIGMA, u**4 / (repeats**2 / 2))
    assert float(outcome.budgets["error"].expanded) == pytest.approx(k * u, rel=1e-6)
    assert outcome.verdict == "pass"


def test_runs_of_other_lengths_and_a_column_in_litres_are_taken_as_they_are(checked: Checked) -> None:
    """By hand: 30 s make twice the error of a reading; 0.0006 L are 0.6 mL."""
    litres = replace(COLUMN, unit="L", uncertainty=Fraction("0.0006"))
    typed = (
        GOOD | {"column": "K"} | runs("50", "50", "50", seconds="30") | {f"run{n}_first": "500.0" for n in (1, 2, 3)}
    )
    outcome = checked(feed_pump.METHOD, typed, litres)
    u = sqrt((2 * 0.3) ** 2 + 2 * (2 * 0.1) ** 2 / 12 / 3 + (100 / 30) ** 2 / 12 / 3)
    assert float(outcome.budgets["error"].expanded) == pytest.approx(2 * u, rel=1e-9)


def test_what_the_certificate_adds_to_the_column_is_added_to_both_readings(checked: Checked) -> None:
    """By hand: 2 mL too little shown at 500, nothing at 300, so 1 mL at 400: (502 - 401) x 60 / 60."""
    off = replace(
        COLUMN, uncertainty=None, k=None, corrections=((Fraction(300), Fraction(0)), (Fraction(500), Fraction(2)))
    )
    outcome = checked(feed_pump.METHOD, GOOD | {"column": "K"} | runs("100", "100", "100"), off)
    assert outcome.worked.figure("rate_1") == 101
    assert outcome.worked.figure("error") == 1
    for line in figured(outcome):
        assert_agrees(line)
    litres = replace(off, unit="L", corrections=tuple((shown / 1000, added / 1000) for shown, added in off.corrections))
    again = checked(feed_pump.METHOD, GOOD | {"column": "K"} | runs("100", "100", "100"), litres)
    assert again.worked.figure("error") == 1


def test_without_a_column_that_states_one_there_is_none(checked: Checked) -> None:
    assert checked(feed_pump.METHOD, GOOD).budgets == {}
    bare = replace(COLUMN, uncertainty=None, k=None)
    assert checked(feed_pump.METHOD, GOOD | {"column": "K"}, bare).budgets == {}
    wrong = replace(COLUMN, unit="kPa")
    assert caught(checked(feed_pump.METHOD, GOOD | {"column": "K"}, wrong), "other-unit-column") == ["refuse"]


def test_guarded_a_feed_near_its_limit_is_conditional(checked: Checked) -> None:
    typed = GOOD | {"column": "K"} | runs("109.5", "109.5", "109.5")
    assert checked(feed_pump.METHOD, typed, COLUMN, guarded=True).verdict == "conditional pass"
    assert checked(feed_pump.METHOD, typed, COLUMN).verdict == "pass"


@pytest.mark.parametrize("choice", ["mend", "leak"])
def test_what_ran_with_the_pump_stopped_was_counted_as_delivered(checked: Checked, choice: str) -> None:
    answers = {"siphon": Answer(choice=choice, reason="seen at the valve")}
    assert checked(feed_pump.METHOD, GOOD | {"off_run": "4"}, answers=answers).validity == "not valid"
    assert checked(feed_pump.METHOD, GOOD | {"off_run": "0"}).verdict == "pass"


def test_columns_exchanged_in_every_run_never_pass(checked: Checked) -> None:
    """A spread of runs that all rose is below nought and so below its limit: the runs are caught one by one."""
    turned = {f"run{n}_{a}": GOOD[f"run{n}_{b}"] for n in (1, 2, 3) for a, b in (("first", "last"), ("last", "first"))}
    outcome = checked(feed_pump.METHOD, GOOD | turned)
    assert [bool(caught(outcome, f"rose-{n}")) for n in (1, 2, 3)] == [True] * 3
    assert outcome.verdict is None


CATCHES = [
    ("spread", runs("97", "100", "103")),
    ("rose-2", {"run2_last": "520"}),
    ("air", runs("0", "0", "0")),
    ("pressure", {"pressure": "no"}),
    ("siphon", {"off_run": "3"}),
    ("basis", {"basis": ""}),
    ("gravity", {"basis": "wt"}),
    ("aged", {"measured_on": "2026-10-01"}),
    ("aged", {"measured_on": ""}),
    ("measured-on", {"measured_on": "Monday"}),
    ("measured-on", {"measured_on": "2026-12-01"}),
    ("forced", {"substituted": "yes"}),
    ("missing-commanded", {"commanded": ""}),
    ("unread-commanded", {"commanded": "0"}),
    ("unread-strength", {"strength": "0"}),
    ("unread-water", {"water": "0"}),
]


@pytest.mark.parametrize(("key", "bad"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(checked: Checked, key: str, bad: dict[str, str]) -> None:
    settings = {"fades": "yes"}
    good = GOOD | DOSING | {"off_run": "0"}
    assert caught(checked(feed_pump.METHOD, good | bad, settings=settings), key)
    assert not caught(checked(feed_pump.METHOD, good, settings=settings), key)


@pytest.mark.parametrize(("measured", "asked"), [("2026-10-25", False), ("2026-10-24", True)])
def test_a_strength_of_thirty_days_is_not_yet_asked_about(checked: Checked, measured: str, asked: bool) -> None:
    typed = GOOD | DOSING | {"measured_on": measured}
    assert bool(caught(checked(feed_pump.METHOD, typed, settings={"fades": "yes"}), "aged")) == asked
    assert not caught(checked(feed_pump.METHOD, typed, settings={"fades": "no"}), "aged")
    unsaid = checked(feed_pump.METHOD, typed)
    assert caught(unsaid, "fades") == (["remind"] if asked else [])


@pytest.mark.parametrize("fades", ["", "no", "yes"])
def test_a_day_that_is_none_is_refused_whatever_the_chemical(checked: Checked, fades: str) -> None:
    for strength in ("12.5", ""):
        typed = GOOD | DOSING | {"measured_on": "Monday", "strength": strength}
        assert caught(checked(feed_pump.METHOD, typed, settings={"fades": fades}), "measured-on") == ["refuse"]
