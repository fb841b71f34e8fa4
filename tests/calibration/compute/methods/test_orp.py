"""ORP: the solution's value at temperature, the error, and what is caught."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from math import sqrt
from typing import Any

import pytest

from calibration.compute.methods import orp
from calibration.compute.table_files import read_redox
from calibration.compute.temperature_tables import table_from_rows
from calibration.compute.verdict import Outcome
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured
from tests.published import FIXTURES, Published, Reproduced, of_row, rows

ZOBELL = table_from_rows(
    code="zobell",
    name="ZoBell's solution",
    rows=[("1", "480.8"), ("25", "428"), ("30", "417")],  # 428 - 2.2 (t - 25), SM 2580 as reprinted
    source="SM 2580 as reprinted",
)
SOLUTION = make_standard("Z", "redox solution", "428", "mV", table=ZOBELL)
SETTINGS = {"reference": "agcl-3"}
GOOD = {"standard": "Z", "temperature": "12.0", "shown": "241", "minutes": "2", "hold": "on"}


def test_the_solution_at_12_degrees_against_a_3_molar_reference(checked: Checked) -> None:
    """456.6 mV against hydrogen by the line, 240.8 against the reference, which lies between its rows 217 and 214."""
    outcome = checked(orp.METHOD, GOOD, SOLUTION, settings=SETTINGS)
    assert outcome.worked.figure("hydrogen") == Fraction("456.6")
    assert outcome.worked.figure("true") == Fraction("240.8")
    assert outcome.verdict == "pass"


@pytest.mark.parametrize(
    ("shown", "verdict"),
    [("255.8", "pass"), ("255.9", "fail"), ("225.8", "pass"), ("225.7", "fail"), ("255.80001", "fail")],
)
def test_the_limit_itself_passes(checked: Checked, shown: str, verdict: str) -> None:
    assert checked(orp.METHOD, GOOD | {"shown": shown}, SOLUTION, settings=SETTINGS).verdict == verdict


@pytest.mark.parametrize(("again", "verdict"), [("251", "pass"), ("252", "fail"), ("231", "pass"), ("230", "fail")])
def test_a_second_dip_within_10_mv_passes(checked: Checked, again: str, verdict: str) -> None:
    assert checked(orp.METHOD, GOOD | {"again": again}, SOLUTION, settings=SETTINGS).verdict == verdict


@pytest.mark.parametrize(("shown", "verdict"), [("468", "pass"), ("483", "pass"), ("484", "fail")])
def test_a_second_solution_is_judged_like_the_first(checked: Checked, shown: str, verdict: str) -> None:
    """Light's solution, 675 mV against hydrogen at 25 degC: 468 mV against a 3 mol/L reference."""
    light = make_standard("L", "redox solution", "675", "mV")
    second = {"second": "L", "second_temperature": "25", "second_shown": shown}
    assert checked(orp.METHOD, GOOD | second, SOLUTION, light, settings=SETTINGS).verdict == verdict


@pytest.mark.parametrize(
    ("key", "bad"),
    [
        ("hydrogen", {"shown": "456"}),
        ("slow", {"minutes": "8"}),
        ("missing-shown", {"shown": ""}),
        ("no-hold", {"hold": "off"}),
        ("beyond-temperature", {"temperature": "3"}),  # the 3 mol/L table begins at 5 degC
        ("half-second", {"second_shown": "468"}),
    ],
)
def test_the_mistake_is_caught_and_its_neighbour_is_not(checked: Checked, key: str, bad: dict[str, str]) -> None:
    facts = {"settings": SETTINGS, "uses": ("paces P-41",)}
    assert caught(checked(orp.METHOD, GOOD | bad, SOLUTION, **facts), key)
    assert not caught(checked(orp.METHOD, GOOD, SOLUTION, **facts), key)


def test_an_expired_lot_and_an_unknown_reference_make_it_not_valid(checked: Checked) -> None:
    old = make_standard("Z", "redox solution", "428", "mV", table=ZOBELL, expires=date(2026, 10, 1))
    assert checked(orp.METHOD, GOOD, old, settings=SETTINGS).validity == "not valid"
    assert checked(orp.METHOD, GOOD, SOLUTION).validity == "not valid"
    assert checked(orp.METHOD, GOOD, SOLUTION, settings=SETTINGS).validity == "valid"


FILE = "tables/orp.csv"
ITEMS = {
    "Ag/AgCl 3 M KCl reference vs SHE": "agcl-3",
    "Ag/AgCl 3.5 M KCl reference vs SHE": "agcl-3.5",
    "Ag/AgCl saturated KCl reference vs SHE": "agcl-sat",
    "SCE reference vs SHE": "calomel",
    "Ag/AgCl 1 M KCl reference vs SHE": "agcl-1",
    "Ag/AgCl 4 M KCl reference vs SHE": "agcl-4",
}


def test_every_printed_potential_of_a_reference_electrode(reproduced: Reproduced) -> None:
    tried = set()
    for row in rows(FILE):
        if row["item"] not in ITEMS:
            continue
        got = orp.reference_at(ITEMS[row["item"]], Fraction(row["temperature_c"]))
        assert got is not None, row
        name = f"{row['item']} {row['temperature_c']}"
        reproduced(got, Published(FILE, name, float(row["potential_mv"]), 0, row["source"], row["how_obtained"]))
        tried.add((ITEMS[row["item"]], int(row["temperature_c"])))
    assert tried == {(code, t) for code, (_, kept) in orp.REFERENCES.items() for t, _ in kept}


def test_a_reference_electrode_is_not_extended_beyond_what_is_known() -> None:
    assert orp.reference_at("agcl-3", Fraction(4)) is None
    assert orp.reference_at("agcl-4", Fraction(20)) == 200
    assert orp.reference_at("agcl-4", Fraction("19.9")) is None
    assert orp.reference_at("another", Fraction(25)) is None


def test_saturated_silver_chloride_is_printed_twice() -> None:
    """ORP-V1 of worked/electrochemistry.csv converts with +197; the table with the junction gives 199: not counted."""
    (row,) = [one for one in rows("worked/electrochemistry.csv") if one["id"] == "ORP-V1"]
    (other,) = [one for one in rows(FILE) if one["item"].endswith("(alt)")]
    assert 300 + Fraction(other["potential_mv"]) == Fraction(row["published_output"])
    assert orp.reference_at("agcl-sat", Fraction(25)) == Fraction(other["potential_mv"]) + 2


def test_zobells_table_and_lights_value(reproduced: Reproduced) -> None:
    """The table of ZoBell's solution is kept as printed, to whole mV."""
    kinds = {kind.code: kind for kind in read_redox((FIXTURES / FILE).read_text())}
    table = kinds["zobell"].table
    assert table is not None
    for row in rows(FILE):
        name = f"{row['item']} {row['temperature_c']}"
        if row["item"] == "ZoBell vs SHE":
            reproduced(table.value(Fraction(row["temperature_c"])), of_row(FILE, row | {"item": name}, key="item",
                       value="potential_mv", tolerance=0))  # fmt: skip
    assert table.value(Fraction(12)) == 457
    assert kinds["light"].nominal == "675"


STATED: dict[str, Any] = {"uncertainty": Fraction(5), "k": Fraction(2), "certificate": "label of the bottle"}
CERTIFIED = replace(SOLUTION, **STATED)
LIGHT = make_standard("L", "redox solution", "675", "mV", **STATED)
SECOND = {"second": "L", "second_temperature": "25.0", "second_shown": "468"}


def u_c(outcome: Outcome, name: str) -> float:
    combined = outcome.budgets[name].combined
    assert combined is not None
    return combined.u_c


def test_the_uncertainty_of_both_solutions_by_hand(checked: Checked) -> None:
    """At 12 degC the solution falls 2.2 mV a degree and the reference 0.6 (217 to 214 in 5 degrees): together 1.6.

    At 25 degC the second one has a value at any temperature alike, and the reference falls from 210 to 203 in ten.
    """
    outcome = checked(orp.METHOD, GOOD | SECOND, CERTIFIED, LIGHT, settings=SETTINGS)
    digits = (1**2 + 1**2) / 12  # of the display and of the reference electrode, each in whole mV
    assert u_c(outcome, "error") == pytest.approx(sqrt(2.5**2 + digits + (1.6 * 0.1) ** 2 / 12), rel=1e-9)
    assert u_c(outcome, "error_second") == pytest.approx(sqrt(2.5**2 + digits + (0.7 * 0.1) ** 2 / 12), rel=1e-9)


def test_what_the_site_states_of_electrode_and_thermometer_counts(checked: Checked) -> None:
    settings = SETTINGS | {"reference_u": "6", "temperature_u": "0.4"}
    outcome = checked(orp.METHOD, GOOD, CERTIFIED, settings=settings)
    parts = 2.5**2 + 2 / 12 + (1.6 * 0.1) ** 2 / 12 + 3**2 + (1.6 * 0.2) ** 2
    assert u_c(outcome, "error") == pytest.approx(sqrt(parts), rel=1e-9)
    assert set(outcome.budgets) == {"error"}


def test_how_much_a_degree_moves_it_at_the_ends_of_a_table() -> None:
    """The 3 mol/L reference: 221 at 5, 217 at 10, 207 at 25, 203 at 30 degC; the solution 2.2 mV a degree."""
    assert orp.a_degree(SOLUTION, "agcl-3", Fraction(5)) == Fraction("-2.2") + Fraction(4, 5)
    assert orp.a_degree(SOLUTION, "agcl-3", Fraction(30)) == Fraction("-2.2") + Fraction(4, 5)  # 417 at 30 is the end
    assert orp.a_degree(SOLUTION, "agcl-4", Fraction(25)) == Fraction("-2.2")  # known at 25 degC alone
    assert orp.a_degree(SOLUTION, "another", Fraction(25)) == 0


def test_without_a_certificate_neither_has_one(checked: Checked) -> None:
    plain_light = make_standard("L", "redox solution", "675", "mV")
    outcome = checked(orp.METHOD, GOOD | SECOND, CERTIFIED, plain_light, settings=SETTINGS, guarded=True)
    assert set(outcome.budgets) == {"error"}
    assert checked(orp.METHOD, GOOD, SOLUTION, settings=SETTINGS).budgets == {}


@pytest.mark.parametrize(
    ("second", "verdict"), [("468", "pass"), ("479", "conditional pass"), ("487", "conditional fail"), ("489", "fail")]
)
def test_guarded_the_second_solution_counts_with_its_own(checked: Checked, second: str, verdict: str) -> None:
    typed = GOOD | SECOND | {"second_shown": second}
    assert checked(orp.METHOD, typed, CERTIFIED, LIGHT, settings=SETTINGS, guarded=True).verdict == verdict


def test_the_first_solution_once_more_is_no_second_one(checked: Checked) -> None:
    again = {"second": "Z", "second_temperature": "12.0", "second_shown": "241"}
    assert caught(checked(orp.METHOD, GOOD | again, SOLUTION, settings=SETTINGS), "same-solution") == ["refuse"]
    assert not caught(checked(orp.METHOD, GOOD | SECOND, SOLUTION, LIGHT, settings=SETTINGS), "same-solution")


def test_a_reference_electrode_nobody_knows_is_as_good_as_none(checked: Checked) -> None:
    outcome = checked(orp.METHOD, GOOD, SOLUTION, settings={"reference": "agcl-2"})
    assert caught(outcome, "no-reference") == ["not valid"]


def test_every_line_can_be_worked_out_by_hand(checked: Checked) -> None:
    light = replace(LIGHT, uncertainty=None)
    lines = figured(checked(orp.METHOD, GOOD | SECOND | {"again": "238"}, SOLUTION, light, settings=SETTINGS))
    assert len(lines) == 5
    for line in lines:
        assert_agrees(line)
