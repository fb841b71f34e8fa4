"""Dosing in US customary and SI forms: the same plant gives the same dose, but for the rounded 8.34 of the US form."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.formulas import dosing
from assets.compute.units import convert
from tests.published import rows

ROWS = {row["id"]: row for row in rows("worked/plant_figures.csv")}
GALLON_LITRES, POUND_GRAMS = Fraction("3.785411784"), Fraction("453.59237")
"""By definition of the US gallon (231 cubic inches) and of the avoirdupois pound."""

EXACT = GALLON_LITRES * 1000 / POUND_GRAMS
"""Pounds in a million gallons at 1 mg/L: 8.3454, which training pages round to 8.34."""

POSITIVE = st.fractions(min_value=Fraction(1, 1000), max_value=10000, max_denominator=1000)


def inputs(key: str) -> dict[str, Fraction]:
    return {name: Fraction(str(value)) for name, value in json.loads(ROWS[key]["inputs"]).items()}


def pounds_in_si(flow: Fraction, unit: str, milligrams: Fraction) -> Fraction:
    """Pounds a day by litres a minute and grams: no factor of the US form is used."""
    grams_an_hour = convert(flow, unit, "L/min") * 60 * milligrams / 1000
    return convert(grams_an_hour, "g/h", "lb/d")


def dose_in_si(pounds: Fraction, flow: Fraction, unit: str) -> Fraction:
    return convert(pounds, "lb/d", "g/h") * 1000 / 60 / convert(flow, unit, "L/min")


IN_SI: Mapping[str, Callable[[dict[str, Fraction]], Fraction]] = {
    "D10": lambda i: pounds_in_si(i["flow_gpm"], "gal/min", i["dose_mg_L"]),
    "D19": lambda i: dose_in_si(i["feed_lb_day"], i["flow_gpm"], "gal/min"),
    "D21": lambda i: dose_in_si(i["feed_lb_day"], i["flow_MGD"], "Mgal/d"),
    "D24": lambda i: dosing.feed_for(i["dose_mg_L"], convert(i["flow_MGD"], "Mgal/d", "L/min"), i["solution_mg_mL"]),
    "D26": lambda i: convert(i["feed_mL_min"], "mL/min", "gal/h"),
    "D30": lambda i: dosing.feed_for(
        dosing.dose(i["feed_mL_min"], Fraction(125), convert(i["flow_old_gpm"], "gal/min", "L/min")),
        convert(i["flow_new_gpm"], "gal/min", "L/min"),
        Fraction(125),
    ),
}


@pytest.mark.parametrize("key", IN_SI)
def test_the_worked_example_comes_out_in_si_too(key: str) -> None:
    row = ROWS[key]
    assert abs(IN_SI[key](inputs(key)) - Fraction(row["expected"])) <= Fraction(row["tolerance"])


@pytest.mark.parametrize("key", ["D04", "D08"])
def test_exact_units_stand_off_the_printed_answer_by_the_rounding_of_8_34(key: str) -> None:
    """Printed to a digit that 8.34 does not carry: in exact units they differ by 0.065 %. Shown, not counted."""
    row, of = ROWS[key], inputs(key)
    exact = pounds_in_si(of["flow_MGD"], "Mgal/d", of["dose_mg_L"])
    assert abs(exact - Fraction(row["expected"])) > Fraction(row["tolerance"])
    assert abs(exact * Fraction("8.34") / EXACT - Fraction(row["expected"])) <= Fraction(row["tolerance"])


@given(POSITIVE, POSITIVE)
def test_the_us_form_and_si_differ_by_8_34_alone(flow: Fraction, milligrams: Fraction) -> None:
    assert dosing.pounds_a_day(flow, milligrams) * EXACT == pounds_in_si(flow, "Mgal/d", milligrams) * Fraction("8.34")


@given(POSITIVE, POSITIVE, POSITIVE)
def test_feed_and_dose_undo_each_other(target: Fraction, water: Fraction, strength: Fraction) -> None:
    assert dosing.dose(dosing.feed_for(target, water, strength), strength, water) == target
    assert dosing.dose_from_pounds(dosing.pounds_a_day(water, target), water) == target


@given(POSITIVE, POSITIVE)
def test_trade_per_cent_is_weight_per_cent_of_a_liquid_as_light_as_water(percent: Fraction, gravity: Fraction) -> None:
    assert dosing.from_weight_percent(percent, Fraction(1)) == dosing.from_trade_percent(percent)
    assert dosing.from_weight_percent(percent, gravity) == gravity * dosing.from_trade_percent(percent)
