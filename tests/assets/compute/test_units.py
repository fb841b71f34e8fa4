"""Units: exact factors against published ones, spellings, and what does not convert."""

from __future__ import annotations

from fractions import Fraction

import pytest

from assets.compute.units import (
    BY_CODE,
    UNITS,
    OtherQuantity,
    UnknownUnit,
    canonical_code,
    codes_for,
    convert,
    unit_of,
)

# Exact factors, from memory: international yard and pound (1959), NIST SP 811 appendix B.8 (US gallon of 231 cubic
# inches, inch of 25.4 mm, pound of 0.453 592 37 kg), SI Brochure 9th edition tables 8 (litre, hour, day, bar) and 2.3.1
# (Celsius scale); degree Fahrenheit: NIST SP 811, B.8.
PUBLISHED = [
    ("gal", "L", "1", "3.785411784"),
    ("gal/min", "L/min", "1", "3.785411784"),
    ("Mgal/d", "m³/d", "1", "3785.411784"),
    ("in", "mm", "1", "25.4"),
    ("ft", "m", "1", "0.3048"),
    ("lb", "kg", "1", "0.45359237"),
    ("lb/d", "kg/d", "1", "0.45359237"),
    ("bar", "kPa", "1", "100"),
    ("m³/h", "L/h", "1", "1000"),
    ("ML/d", "m³/d", "1", "1000"),
    ("g/L", "mg/L", "1", "1000"),
    ("µg/L", "mg/L", "1", "0.001"),
    ("mS/cm", "µS/cm", "1", "1000"),
    ("S/m", "µS/cm", "1", "10000"),
    ("°C", "K", "0", "273.15"),
    ("°F", "°C", "32", "0"),
    ("°F", "°C", "212", "100"),
    ("°C", "°F", "25", "77"),
    ("°C", "°F", "-40", "-40"),
    ("J/m²", "mJ/cm²", "400", "40"),
    ("Hz", "1/min", "1", "60"),
    # Per cent as sold is grams in 100 mL; common practice, no source.
    ("% w/v", "mg/L", "12.5", "125000"),
]


@pytest.mark.parametrize(("unit", "other", "value", "expected"), PUBLISHED)
def test_published_factors_come_out_exactly(unit: str, other: str, value: str, expected: str) -> None:
    assert convert(Fraction(value), unit, other) == Fraction(expected)


def test_psi_is_a_pound_force_on_a_square_inch() -> None:
    # Standard gravity 9.806 65 m/s², NIST SP 811 B.8, from memory; 6.894 757 E+03 Pa is its rounded factor.
    exact = Fraction("0.45359237") * Fraction("9.80665") / Fraction("0.0254") ** 2 / 1000
    assert convert(Fraction(1), "psi", "kPa") == exact
    assert round(float(exact), 6) == 6.894757


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.code)
def test_every_unit_goes_to_its_canonical_one_and_back_exactly(unit) -> None:
    there = canonical_code(unit.code)
    for value in (Fraction(0), Fraction(1), Fraction("-7.03"), Fraction("1234.5678")):
        assert convert(convert(value, unit.code, there), there, unit.code) == value


@pytest.mark.parametrize(("one", "other"), [("NTU", "FNU"), ("mg/L", "mg/L CaCO₃"), ("pH", "mV"), ("%", "% w/v")])
def test_different_things_do_not_convert(one: str, other: str) -> None:
    with pytest.raises(OtherQuantity, match="no factor leads"):
        convert(Fraction(1), one, other)


def test_spellings_are_known_and_letters_size_counts() -> None:
    assert unit_of(" mg/l ").code == "mg/L"
    assert unit_of("uS/cm").code == unit_of("µS/cm").code == unit_of("μS/cm").code == "µS/cm"
    assert (unit_of("mL").code, unit_of("ML").code) == ("mL", "ML")
    assert unit_of("degC").code == "°C"


@pytest.mark.parametrize(
    ("typed", "near"), [("l/m", "L/min"), ("NTUs", "NTU"), ("ms/cm", "mS/cm"), ("Ml/D", "ML/d"), ("mg / L", "mg/L")]
)
def test_a_misspelt_unit_is_refused_with_what_is_near(typed: str, near: str) -> None:
    with pytest.raises(UnknownUnit, match="did you mean") as refused:
        unit_of(typed)
    assert near in str(refused.value)


def test_no_spelling_means_two_units_and_every_code_fits_its_column() -> None:
    spelled = [word for unit in UNITS for word in (unit.code, *unit.also)]
    assert len(spelled) == len(set(spelled))
    assert max(map(len, BY_CODE)) <= 12


def test_the_codes_of_a_quantity_begin_with_the_asked_one() -> None:
    assert codes_for("°F") == ["°F", "°C", "K"]
    assert "FNU" not in codes_for("NTU")
