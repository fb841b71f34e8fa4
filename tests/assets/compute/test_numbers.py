"""The one reader of typed numbers."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.numbers import NotANumber, decimals_typed, read_number


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("7.01", "7.01"),
        ("7,01", "7.01"),
        (" 7.01 ", "7.01"),
        ("-4.1", "-4.1"),
        ("\u22124.1", "-4.1"),
        ("+7", "7"),
        ("0", "0"),
        ("007", "7"),
        ("0,720", "0.72"),
        ("1234,5", "1234.5"),
        ("12,3456", "12.3456"),
    ],
)
def test_comma_and_point_mean_the_same(typed: str, value: str) -> None:
    assert read_number(typed) == Fraction(value)


@pytest.mark.parametrize(
    "typed",
    [
        "",
        " ",
        "seven",
        "7.0.1",
        "7,0,1",
        "1e3",
        "1 234",
        "1.234,5",
        "1,234.5",
        "٧",
        "７",
        "NaN",
        "inf",
        ".5",
        "5.",
        "--1",
        "0x1F",
        "1/2",
    ],
)
def test_what_is_no_single_number_is_refused_in_a_sentence(typed: str) -> None:
    with pytest.raises(NotANumber, match="write it like 7.01 or 7,01"):
        read_number(typed)


@pytest.mark.parametrize("typed", ["1,234", "-1,234", "12,345", "999,000"])
def test_thousands_or_decimals_is_asked_where_the_mark_is_the_point(typed: str) -> None:
    with pytest.raises(NotANumber, match="can mean two numbers"):
        read_number(typed)
    assert read_number(typed, decimal_mark=",") == Fraction(typed.replace(",", "."))


@given(st.decimals(min_value=-(10**9), max_value=10**9, places=4, allow_nan=False, allow_infinity=False))
def test_every_decimal_is_read_exactly_with_either_mark(number) -> None:
    text = f"{number:f}"
    assert read_number(text) == Fraction(text)
    assert read_number(text.replace(".", ","), decimal_mark=",") == Fraction(text)


def test_decimals_typed_are_counted() -> None:
    assert [decimals_typed(text) for text in ("7", "7.0", "7,03", "-4.10")] == [0, 1, 2, 2]
