from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import pytest

from calibration.compute.temperature_tables import OutsideTable, TemperatureTable, read_buffer_tables, table_from_rows

TABLE = Path(__file__).parents[3] / "fixtures" / "tables" / "ph_buffers.csv"


@pytest.mark.parametrize(
    ("code", "temperature", "value"),
    [
        # NIST/IUPAC values as reprinted, second-hand.
        ("phthalate", "0", "4.000"),
        ("phthalate", "25", "4.005"),
        ("phosphate", "10", "6.923"),
        ("borax", "50", "9.010"),
        ("carbonate", "25", "10.012"),
        ("calcium-hydroxide", "20", "12.627"),
        # A maker's manual, second-hand.
        ("phosphate-7.00", "20", "7.016"),
        # Between two rows, by hand: (7.059 + 7.036) / 2 and (10.179 + 10.118) / 2.
        ("phosphate-7.00", "12.5", "7.0475"),
        ("carbonate", "12.5", "10.1485"),
        # 7.059 + (7.036 - 7.059) x 2.4 / 5, by hand.
        ("phosphate-7.00", "12.4", "7.04796"),
    ],
)
def test_a_buffer_is_worth_what_its_table_says(
    tables: dict[str, TemperatureTable], code: str, temperature: str, value: str
) -> None:
    assert tables[code].value(Fraction(temperature)) == Fraction(value)


def test_every_row_of_the_file_is_read_exactly(tables: dict[str, TemperatureTable]) -> None:
    rows = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))
    assert sum(len(table.rows) for table in tables.values()) == len(rows)
    for row in rows:
        assert tables[row["buffer"]].value(Fraction(row["temperature_c"])) == Fraction(row["ph"])
        assert row["source"]
        assert row["status"] == "second-hand"


def test_tartrate_is_not_defined_below_25_degc(tables: dict[str, TemperatureTable]) -> None:
    # The solution is saturated at 25 degC: the reprinted table fills these cells only for show.
    with pytest.raises(OutsideTable, match=r"24\.9 °C is outside the table of .*from 25 to 50 °C"):
        tables["tartrate"].value(Fraction("24.9"))


@pytest.mark.parametrize("temperature", ["-0.1", "50.1"])
def test_a_table_is_never_extended(tables: dict[str, TemperatureTable], temperature: str) -> None:
    with pytest.raises(OutsideTable, match="goes from 0 to 50 °C"):
        tables["carbonate"].value(Fraction(temperature))


@pytest.mark.parametrize("temperature", ["0", "50"])
def test_the_ends_of_a_table_are_inside(tables: dict[str, TemperatureTable], temperature: str) -> None:
    assert tables["carbonate"].at(Fraction(temperature)).is_row


def test_a_lot_may_carry_a_table_of_one_row() -> None:
    own = table_from_rows(code="own", name="lot 26-9", rows=[("25", "7.02")], source="certificate")
    assert own.value(Fraction(25)) == Fraction("7.02")
    with pytest.raises(OutsideTable):
        own.value(Fraction(24))


def test_rows_may_come_in_any_order() -> None:
    own = table_from_rows(code="own", name="lot", rows=[("30", "6.99"), ("20", "7.02")], source="certificate")
    assert own.value(Fraction(25)) == Fraction("7.005")


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([], "no rows"),
        ([("25", "7.00"), ("25", "7.01")], "must rise"),
        ([("warm", "7.00")], "“warm, 7.00” is not a temperature and a value"),
    ],
)
def test_a_table_that_cannot_be_used_is_refused_with_a_sentence(rows: list[tuple[str, str]], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        table_from_rows(code="own", name="lot", rows=rows, source="certificate")


def test_a_file_without_a_column_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="lacks the column source"):
        read_buffer_tables("buffer,composition,temperature_c,ph\nx,x,25,7\n")
