"""A standard and a reading in another unit than a method works in: the same numbers, or a refusal."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

import pytest

from calibration.compute.asked import Record, standard
from calibration.compute.method import Known, Model, Typed, Worked
from calibration.compute.standard_units import correction, from_standard, in_unit, other_quantity, step_of
from calibration.compute.standards import Standard

GAUGE = Standard(
    id="G",
    label="PG-7",
    nominal=Fraction(0),
    nominal_text="",
    kind="gauge",
    unit="bar",
    uncertainty=Fraction("0.01"),
    k=Fraction(2),
    is_lot=False,
    corrections=((Fraction(1), Fraction("0.02")), (Fraction(2), Fraction("0.04"))),
)
FAHRENHEIT = replace(GAUGE, unit="°F", corrections=((Fraction(32), Fraction("1.8")),), nominal=Fraction(212))


def test_a_gauge_in_bar_is_a_gauge_in_kilopascal() -> None:
    """1 bar = 100 kPa, by definition."""
    there = in_unit(GAUGE, "kPa")
    assert there is not None
    assert (there.unit, there.uncertainty, there.k) == ("kPa", 1, 2)
    assert there.corrections == ((Fraction(100), Fraction(2)), (Fraction(200), Fraction(4)))
    assert correction(GAUGE, Fraction(150), "kPa") == 3
    part = from_standard(GAUGE, unit="kPa", sensitivity=Fraction(-1))
    assert part is not None
    assert part.contribution == -0.5


def test_a_difference_takes_the_scale_of_a_temperature_and_not_its_zero() -> None:
    """212 °F are 100 °C; a correction of 1.8 °F is one degree and an uncertainty of 0.018 °F is 0.01 °C."""
    there = in_unit(replace(FAHRENHEIT, uncertainty=Fraction("0.018")), "°C")
    assert there is not None
    assert there.nominal == 100
    assert there.corrections == ((Fraction(0), Fraction(1)),)
    assert there.uncertainty == Fraction("0.01")


def test_what_is_in_that_unit_already_or_in_none_stays_as_it_is() -> None:
    assert in_unit(GAUGE, "bar") is GAUGE
    assert in_unit(None, "bar") is None
    unnamed = replace(GAUGE, unit="")
    assert in_unit(unnamed, "kPa") is unnamed


@pytest.mark.parametrize("unit", ["mA", "kpa of sorts"])
def test_another_quantity_or_an_unknown_unit_gives_nothing(unit: str) -> None:
    other = replace(GAUGE, unit=unit)
    assert in_unit(other, "kPa") is None
    assert from_standard(other, unit="kPa") is None
    assert correction(other, Fraction(100), "kPa") == 0


@pytest.mark.parametrize("facts", [{"uncertainty": None}, {"k": None}, {"uncertainty": Fraction(0)}])
def test_a_standard_that_states_none_gives_no_component(facts: dict[str, Fraction | None]) -> None:
    assert from_standard(replace(GAUGE, **facts), unit="kPa") is None  # type: ignore[arg-type]


def test_the_last_digit_is_one_step_in_the_unit_it_is_kept_in() -> None:
    assert step_of(Typed(text="7.02", value=Fraction("7.02"), unit="kPa"), "kPa") == Fraction("0.01")
    assert step_of(Typed(text="5.02", value=Fraction(502), unit="bar", converted=True), "kPa") == 1
    assert step_of(Typed(text="0", value=Fraction(0), unit="bar", converted=True), "kPa") == 100
    assert step_of(Typed(text="7", value=Fraction(7)), "") == 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauged(Record):
    """A set that asks for a gauge."""

    gauge: str = standard("reference gauge", "gauge")


@pytest.mark.parametrize(
    ("unit", "refused"), [("bar", False), ("kPa", False), ("", False), ("mA", True), ("kpa", True)]
)
def test_a_standard_of_another_quantity_is_refused_at_its_field(unit: str, refused: bool) -> None:
    known = Known(day=date(2026, 11, 24), standards={"G": replace(GAUGE, unit=unit)})
    nothing = Worked(judged=(), lines=(), model=Model(kind="offset"))
    catch = other_quantity("gauge", "kPa")
    found = catch(Gauged(gauge="G"), known, nothing)
    assert [(one.weight, one.field) for one in found] == ([("refuse", "gauge")] if refused else [])
    assert catch(Gauged(gauge=""), known, nothing) == ()
    assert catch(Gauged(gauge="away"), known, nothing) == ()
