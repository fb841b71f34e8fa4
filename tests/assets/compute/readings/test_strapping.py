"""Strapping tables: how they are typed, what they refuse, and volumes worked by hand. All figures are made up."""

from __future__ import annotations

from fractions import Fraction

import pytest

from assets.compute.readings.balance import rise_by_table
from assets.compute.readings.strapping import NotATable, OutOfTable, Strapping, as_lines, read_table, strapping

TYPED = "0.50  20\n1.00\t45\n\n2,5; 150"
TABLE = strapping(TYPED, "m", "m³")


def test_rows_are_kept_as_typed_apart_by_spaces_a_tab_or_a_semicolon() -> None:
    rows = read_table(TYPED)
    assert rows == (("0.50", "20"), ("1.00", "45"), ("2,5", "150"))
    assert as_lines(rows) == "0.50\t20\n1.00\t45\n2,5\t150"
    assert strapping(as_lines(rows), "m", "m³") == TABLE


@pytest.mark.parametrize(
    ("level", "unit", "volume"),
    [
        ("0.50", "m", "20"),  # the first row itself
        ("1.00", "m", "45"),  # a row between
        ("2.5", "m", "150"),  # the last row itself
        ("0.75", "m", "32.5"),  # half way: 20 + 25 / 2
        ("1300", "mm", "66"),  # 0.3 of 1.5 m further: 45 + 0.2 * 105
    ],
)
def test_between_two_rows_the_volume_lies_on_the_straight_line(level: str, unit: str, volume: str) -> None:
    assert TABLE.volume_of(Fraction(level), unit) == Fraction(volume)


@pytest.mark.parametrize(
    ("level", "says"),
    [
        ("0.4999", "0.4999 m is below the first row of the strapping table, 0.5 m; nothing is guessed beyond it."),
        ("2.5001", "2.5001 m is above the last row of the strapping table, 2.5 m; nothing is guessed beyond it."),
    ],
)
def test_beyond_its_ends_nothing_is_guessed(level: str, says: str) -> None:
    with pytest.raises(OutOfTable, match=says.replace(".", r"\.")):
        TABLE.volume_of(Fraction(level), "m")


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "at least two rows"),
        ("1 2", "at least two rows"),
        ("0 0\n0 5", "Line 2: level 0 is not above 0 before it"),
        ("1 0\n0.9 5", "Line 2: level 0.9 is not above 1 before it"),
        ("0 10\n\n1 9.9", "Line 3: volume 9.9 is less than 10 before it"),
        ("0 0\n1", "Line 2: write a level and a volume"),
        ("0 0\n1 2 3", "Line 2: write a level and a volume"),
        ("0 0\n1 many", "Line 2: “many” is not a number"),
    ],
)
def test_what_is_no_table_says_in_which_line(typed: str, says: str) -> None:
    with pytest.raises(NotATable, match=says):
        read_table(typed)


def test_a_comma_that_can_mean_two_things_is_asked_about_where_the_site_writes_a_point() -> None:
    with pytest.raises(NotATable, match="Line 2: “1,500” can mean two numbers"):
        read_table("0 0\n1 1,500", decimal_mark=".")
    assert read_table("0 0\n1 1,500", decimal_mark=",")[1] == ("1", "1,500")


def test_a_level_may_rise_where_the_volume_does_not() -> None:
    assert strapping("0 0\n1 0\n2 8", "m", "m³").volume_of(Fraction(1, 2), "m") == 0


def test_other_units_come_to_metres_and_cubic_metres_exactly_for_the_balance() -> None:
    table = Strapping(
        rows=((Fraction(0), Fraction(0)), (Fraction(10), Fraction(1000))), level_unit="ft", volume_unit="gal"
    )
    # 10 ft are 3.048 m; 1000 gal are 3.785411784 m³ (NIST SP 811, exact)
    assert table.in_metres[1] == (Fraction("3.048"), Fraction("3.785411784"))
    rise = rise_by_table("tank", (Fraction("0.3048"), Fraction("0.6096")), table.in_metres)
    assert rise.volume == Fraction("0.3785411784")
