"""ORP: the solution's value at temperature, the error, and what is caught."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest

from calibration.compute.methods import orp
from calibration.compute.temperature_tables import table_from_rows
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.published import rows

ZOBELL = table_from_rows(
    code="zobell",
    name="ZoBell's solution",
    rows=[("1", "480.8"), ("25", "428"), ("30", "417")],  # 428 - 2.2 (t - 25), SM 2580 as reprinted
    source="SM 2580 as reprinted",
)
SOLUTION = make_standard("Z", "redox solution", "428", "mV", table=ZOBELL)
SETTINGS = {"reference": "agcl-3"}
GOOD = {"standard": "Z", "temperature": "12.0", "shown": "246", "minutes": "2", "hold": "on"}


def test_the_solution_at_12_degrees_against_a_3_molar_reference(checked: Checked) -> None:
    """456.6 mV against hydrogen by the line; less the reference electrode."""
    outcome = checked(orp.METHOD, GOOD, SOLUTION, settings=SETTINGS)
    assert outcome.worked.figure("hydrogen") == Fraction("456.6")
    assert outcome.verdict == "pass"


@pytest.mark.parametrize(("shown", "verdict"), [("252.3", "pass"), ("252.4", "fail")])
def test_the_limit_itself_passes(checked: Checked, shown: str, verdict: str) -> None:
    outcome = checked(orp.METHOD, GOOD | {"shown": shown, "temperature": "12"}, SOLUTION, settings=SETTINGS)
    true = Fraction(outcome.worked.figure("true") or 0)
    edge = true + 15
    typed = {"252.3": edge, "252.4": edge + Fraction(1, 10)}[shown]
    again = checked(orp.METHOD, GOOD | {"shown": f"{float(typed):.4f}".rstrip("0")}, SOLUTION, settings=SETTINGS)
    assert again.verdict == verdict


@pytest.mark.parametrize(
    ("key", "bad"),
    [
        ("hydrogen", {"shown": "456"}),
        ("slow", {"minutes": "8"}),
        ("missing-shown", {"shown": ""}),
        ("no-hold", {"hold": "off"}),
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


def test_the_tables_hold_rows() -> None:
    assert {"item", "temperature_c", "potential_mv", "source"} <= set(rows("tables/orp.csv")[0])
