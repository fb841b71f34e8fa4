from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.compute.figures import plain, rounded, shown, shown_beside
from calibration.compute.method import Band, Typed
from calibration.compute.working import Entry, band_text, put_in, typed

TENTH = Fraction(1, 10)


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        ("7.0475", 3, "7.048"),
        ("-56.046", 2, "−56.05"),
        ("0.04", 1, "0.0"),
        ("-0.04", 1, "0.0"),
        ("25", 0, "25"),
        ("2.5", 0, "3"),
    ],
)
def test_numbers_are_rounded_as_by_hand(value: str, places: int, text: str) -> None:
    # Halves away from nought: common practice of hand calculation, no source.
    assert shown(Fraction(value), places) == text


def test_a_plus_is_written_where_the_sign_matters() -> None:
    assert shown(Fraction("0.025"), 3, plus=True) == "+0.025"
    assert shown(Fraction("-0.025"), 3, plus=True) == "−0.025"


@given(st.fractions(), st.integers(min_value=0, max_value=8))
def test_rounding_moves_a_number_by_at_most_half_a_unit(value: Fraction, places: int) -> None:
    assert abs(rounded(value, places) - value) <= Fraction(1, 2 * 10**places)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("0.1004", "+0.1004"),
        ("0.1", "+0.100"),
        ("0.0999", "+0.0999"),
        ("0.05", "+0.050"),
        ("0.10000004", "+0.10000004"),
    ],
)
def test_rounding_never_carries_a_value_over_its_limit(value: str, text: str) -> None:
    assert shown_beside(Fraction(value), edges=(-TENTH, TENTH), places=3) == text


@given(st.fractions(min_value=-1, max_value=1, max_denominator=10**6))
def test_what_is_shown_lies_on_the_same_side_of_the_limit(value: Fraction) -> None:
    near = Fraction(shown_beside(value, edges=(-TENTH, TENTH), places=3).replace("−", "-"))
    assert (near <= TENTH) == (value <= TENTH)
    assert (near >= -TENTH) == (value >= -TENTH)


@pytest.mark.parametrize(("value", "text"), [("25", "25"), ("12.50", "12.5"), ("-3", "−3"), ("0", "0")])
def test_plain_numbers_have_no_idle_noughts(value: str, text: str) -> None:
    assert plain(Fraction(value)) == text


@pytest.mark.parametrize(
    ("low", "high", "unit", "text"),
    [
        ("-0.10", "0.10", "pH", "±0.10 pH"),
        ("-0.05", "0.10", "pH", "−0.05 to 0.10 pH"),
        ("92", "102", "%", "92 to 102 %"),
        (None, "30", "mV", "at most 30 mV"),
        ("4", None, "pH", "at least 4.00 pH"),
        (None, None, "pH", "no limit"),
    ],
)
def test_limits_are_written_as_people_say_them(low: str | None, high: str | None, unit: str, text: str) -> None:
    band = Band(
        low=None if low is None else Fraction(low),
        high=None if high is None else Fraction(high),
        unit=unit,
        source="",
        tag="site setting",
    )
    assert band_text(band) == text


def test_a_line_gets_the_digits_it_takes_to_be_checked_by_hand() -> None:
    # 2/3 shown with one place would give 0.7 x 100 = 70, not 67.
    line = put_in(
        "share",
        "{share} × 100",
        lambda share: share * 100,
        {"share": Entry(Fraction(2, 3), 1)},
        write=lambda value: shown(value, 0),
        unit="%",
    )
    assert (line.figures, line.value) == ("0.67 × 100", "67")


def test_a_value_on_the_half_of_its_last_place_is_printed_as_a_ratio() -> None:
    line = put_in(
        "half",
        "{third} × 3 / 2",
        lambda third: third * 3 / 2,
        {"third": Entry(Fraction(1, 3), 2)},
        write=lambda value: shown(value, 0),
        unit="",
    )
    assert (line.figures, line.value) == ("(1/3) × 3 / 2", "1")


def test_a_typed_number_keeps_its_digits_and_negative_ones_get_brackets() -> None:
    entry = typed(Typed(text="-8.60", value=Fraction("-8.6")))
    assert entry.text(0) == "(−8.60)"


@pytest.mark.parametrize(
    ("value", "places", "written"), [("100400", 0, "100400"), ("100400.02", 0, "100400.02"), ("7.50", 1, "7.5")]
)
def test_more_places_than_usual_leave_no_point_behind(value: str, places: int, written: str) -> None:
    assert Entry(Fraction(value), places).text(2) == written
