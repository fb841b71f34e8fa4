"""How figures are shown, against Python's decimal (General Decimal Arithmetic, round-half-up) and ISO 80000-1."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.rounding import as_typed, decimals, grouped, resolution, rounded, shown, signed

numbers = st.decimals(min_value=-10_000, max_value=10_000, places=6, allow_nan=False, allow_infinity=False)
fractions = st.fractions(min_value=-10_000, max_value=10_000, max_denominator=9_999)
digits = st.integers(min_value=0, max_value=5)


@pytest.mark.parametrize(
    ("value", "places", "expected"),
    [
        # ISO 31-0 / ISO 80000-1, annex B, examples with a rounding range of 0.1; *from memory*.
        ("12.223", 1, "12.2"),
        ("12.251", 1, "12.3"),
        ("12.275", 1, "12.3"),
        # The same annex, rule B: of two equally near, the greater in magnitude; *from memory*.
        ("12.25", 1, "12.3"),
        ("12.35", 1, "12.4"),
    ],
)
def test_rounding_follows_the_annex(value: str, places: int, expected: str) -> None:
    assert shown(Decimal(value), places) == expected
    assert shown(-Decimal(value), places) == "\u2212" + expected


@given(numbers, digits)
def test_a_decimal_is_shown_as_the_decimal_module_rounds_it(value: Decimal, places: int) -> None:
    near = value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    expected = f"{abs(near):f}"
    assert shown(value, places) == ("\u2212" + expected if near < 0 else expected)


@given(fractions, digits)
def test_what_is_shown_is_never_further_than_half_a_step(value: Fraction, places: int) -> None:
    read_back = Fraction(shown(value, places).replace("\u2212", "-"))
    assert abs(read_back - value) <= Fraction(1, 2 * 10**places)


@given(fractions, digits)
def test_rounding_twice_is_rounding_once_and_the_sign_changes_nothing(value: Fraction, places: int) -> None:
    once = rounded(value, places)
    assert rounded(once, places) == once
    assert rounded(-value, places) == -once


def test_a_half_that_binary_floats_cannot_hold_goes_away_from_zero() -> None:
    # 2.675 as a double lies below the half (Python tutorial, "Floating-point arithmetic: issues and limitations").
    assert shown(Fraction("2.675"), 2) == "2.68"
    assert shown(Fraction("-0.1250"), 2) == "\u22120.13"


def test_what_rounds_to_nothing_carries_no_sign() -> None:
    assert shown(Fraction("-0.004"), 2) == "0.00"
    assert signed(Fraction("-0.004"), 2) == "0.00"
    assert signed(Fraction("0.004"), 2) == "0.00"


def test_an_error_carries_its_side_with_a_real_minus() -> None:
    assert signed(Fraction("0.0252"), 3) == "+0.025"
    assert signed(Fraction("-0.49"), 2) == "\u22120.49"


@pytest.mark.parametrize("places", [-1, -5])
def test_negative_decimals_are_refused(places: int) -> None:
    with pytest.raises(ValueError, match="0 is the least"):
        shown(Fraction(1), places)


@pytest.mark.parametrize("value", [Decimal("NaN"), Decimal("Infinity")])
def test_what_is_no_number_is_refused(value: Decimal) -> None:
    with pytest.raises(ValueError, match="not a number that can be shown"):
        shown(value, 2)


@pytest.mark.parametrize(
    ("count", "expected"),
    [
        (0, "0"),
        (999, "999"),
        (3600, "3600"),
        # ISO 80000-1, 7.3.1: groups of three from the decimal sign, a small space, neither comma nor point.
        (12_345, "12\u202f345"),
        (1_234_567, "1\u202f234\u202f567"),
        (-12_345, "\u221212\u202f345"),
    ],
)
def test_counts_stand_in_groups_without_comma_or_point(count: int, expected: str) -> None:
    assert grouped(count) == expected


@pytest.mark.parametrize(
    ("typed", "expected"), [("7.10", "7.10"), ("7,10", "7,10"), ("-8.60", "\u22128.60"), (" 007 ", "007"), ("+1", "+1")]
)
def test_typed_text_keeps_every_digit_and_its_mark(typed: str, expected: str) -> None:
    assert as_typed(typed) == expected


# Resolution of a typed number is that of its last digit: *common practice, no source*.
@pytest.mark.parametrize(
    ("typed", "places", "step"),
    [("7.10", 2, Fraction(1, 100)), ("7,1", 1, Fraction(1, 10)), ("7", 0, Fraction(1)), ("150", 0, Fraction(1))],
)
def test_resolution_is_that_of_the_last_digit(typed: str, places: int, step: Fraction) -> None:
    assert decimals(typed) == places
    assert resolution(typed) == step


@given(numbers)
def test_resolution_is_the_exponent_the_decimal_module_reads(value: Decimal) -> None:
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int)
    assert resolution(f"{value:f}") == Fraction(10) ** min(exponent, 0)
