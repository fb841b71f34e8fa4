"""How a register's file is read and written: each fault with row and column, nothing guessed, no formula let out."""

from __future__ import annotations

import csv
import datetime as dt
import io
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.register_cells import COLUMNS, as_cell, as_text, write_sheet
from assets.compute.register_csv import LimitText, Sheet, UseText, read_sheet

DENVER = ZoneInfo("America/Denver")
NOW = dt.datetime(2026, 11, 25, 21, 5, tzinfo=dt.UTC)
GOOD = {
    "tag": "AIT-310",
    "area": "Filters",
    "service": "pH, filtered water",
    "does": "measures",
    "quantity": "pH",
    "unit": "pH",
    "low": "0",
    "high": "14",
    "matters for": "compliance",
    "compliance point": "yes",
    "kind": "pH probe",
    "serial": "40-1",
    "model": "A",
    "fitted from": "2026-03-04",
    "uses": "paces P-41; reports daily report",
    "limits": "high 8.50 pH (site permit); alarm low 6,5 pH (permit (2024), 4.1; annex)",
}


def read(text: str, *, decimal_mark: str = ".") -> Sheet:
    return read_sheet(text, zone=DENVER, decimal_mark=decimal_mark, now=NOW)


def rows(*changes: dict[str, str]) -> Sheet:
    return read(write_sheet([{**GOOD, **change} for change in changes]))


def fault(**change: str) -> list[tuple[int, str]]:
    named = {name.replace("_", " "): value for name, value in change.items()}
    return [(f.row, f.column) for f in rows(named).faults]


def test_a_good_row_is_understood() -> None:
    sheet = rows({})
    assert sheet.faults == []
    [row] = sheet.rows
    assert (row.number, row.tag, row.unit, row.compliance_point) == (2, "AIT-310", "pH", True)
    assert row.fitted_from == dt.datetime(2026, 3, 4, 7, 0, tzinfo=dt.UTC) and row.fitted_as_day
    assert row.uses == (UseText("paces", "P-41"), UseText("reports", "daily report"))
    assert row.limits == (
        LimitText("Limit", "high", "8.50", "pH", "site permit"),
        LimitText("alarm", "low", "6,5", "pH", "permit (2024), 4.1; annex"),
    )


@pytest.mark.parametrize(
    ("column", "wrong", "words"),
    [
        ("tag", "", "empty"),
        ("tag", "pump 3", "no tag"),
        ("tag", "AIT-41O", "letter where a digit belongs"),
        ("tag", "P-1I2", "letter where a digit belongs"),
        ("tag", "A" * 25, "letters"),
        ("area", "", "empty"),
        ("service", "", "empty"),
        ("service", "x" * 121, "121 letters"),
        ("does", "", "empty"),
        ("does", "sits", "none of the words"),
        ("unit", "l/m", "did you mean L/min"),
        ("unit", "", "no unit"),
        ("low", "zero", "not a number"),
        ("high", "1,400", "can mean two numbers"),
        ("high", "0", "not above"),
        ("matters for", "money", "none of the words"),
        ("compliance point", "perhaps", "no answer"),
        ("kind", "", "it is empty, but serial"),
        ("serial", "", "it is empty, but kind"),
        ("fitted from", "03/04/2026", "2026-04-03 or 2026-03-04"),
        ("fitted from", "2026-02-30", "no day"),
        ("fitted from", "2026-11-26", "not come yet"),
        ("fitted from", "2026-11-01 01:30", "clock was being changed"),
        ("fitted from", "2026-03-08 02:30", "clock was being changed"),
        ("uses", "steers P-41", "no use"),
        ("uses", "paces", "no use"),
        ("limits", "8.5", "no limit"),
        ("limits", "high 8.5 pH", "no limit"),
        ("limits", "high 8.5.1 pH (x)", "not a number"),
        ("limits", "high 8.5 quarts (x)", "not a unit"),
        ("limits", "high 8.5 mg/L (x)", "different things"),
    ],
)
def test_a_fault_is_named_with_row_and_column_and_its_neighbours_are_good(column: str, wrong: str, words: str) -> None:
    sheet = rows({"tag": "AIT-1", "serial": "1"}, {column: wrong}, {"tag": "AIT-3", "serial": "3"})
    found = [f for f in sheet.faults if words.casefold() in str(f).casefold()]
    assert [(f.row, f.column) for f in found] == [(3, column)], [str(f) for f in sheet.faults]
    assert all(f.row == 3 for f in sheet.faults)
    assert [row.number for row in sheet.rows] == [2, 3, 4]
    assert all(f.right.endswith((".", "?")) and f.what.endswith((".", "?")) for f in found)


def test_a_fitting_without_an_asset_is_named() -> None:
    assert fault(kind="", serial="", model="") == [(2, "fitted from")]
    assert fault(kind="", serial="", model="", fitted_from="") == []


def test_what_stands_twice_names_the_first_row() -> None:
    sheet = rows({}, {"serial": "2"}, {"tag": "AIT-9"}, {"tag": "AIT-10", "kind": "pump"})
    assert [(f.row, f.column) for f in sheet.faults] == [(3, "tag"), (4, "serial")]
    assert "row 2" in str(sheet.faults[0])


@pytest.mark.parametrize(
    ("text", "column", "words"),
    [
        ("", "", "empty"),
        ("\n", "", "empty"),
        ("tag,area,service,does,matters for\n", "", "no rows"),
        ("tag,area,service,does\nX-1,A,s,moves\n", "matters for", "is missing"),
        ("tag,area,service,does,matters for,colour\n", "colour", "no column"),
        ("tag,tag,area,service,does,matters for\n", "tag", "twice"),
        ("tag,area,service,does,matters for\nP-1,A,s,moves,other,x,y\n", "", "2 cells more"),
    ],
)
def test_a_file_that_is_no_register_says_so(text: str, column: str, words: str) -> None:
    [found] = read(text).faults
    assert found.column == column and words in str(found)


def test_a_quote_that_is_never_closed_is_named_at_its_row() -> None:
    # One field of Python's csv reader ends at 131,072 letters; a register of that size behind a stray quote is one.
    sheet = read('tag,area,service,does,matters for\nP-1,A,s,moves,other\nP-2,A,"' + "s,moves,other\n" * 10_000)
    [found] = sheet.faults
    assert (found.row, found.column) == (3, "")
    assert "quote" in found.right


def test_too_many_rows_are_refused_before_they_are_read(monkeypatch) -> None:
    monkeypatch.setattr("assets.compute.register_csv.MOST_ROWS", 2)
    [found] = rows({}, {"tag": "A-2"}, {"tag": "A-3"}).faults
    assert "3 rows" in str(found)


def test_semicolons_between_cells_and_any_case_and_order_of_the_heading() -> None:
    text = "Matters for;AREA;Service;Does ;TAG\r\nsafety;Intake;Raw water, pump;Moves;p-2\r\n\r\n;;;;\r\n"
    sheet = read(text)
    assert sheet.faults == []
    assert [(r.tag, r["area"], r["service"], r["matters for"]) for r in sheet.rows] == [
        ("P-2", "Intake", "Raw water, pump", "safety")
    ]


def test_a_row_with_fewer_cells_has_the_rest_empty() -> None:
    assert read("tag,area,service,does,matters for,uses\nP-1,A,s,moves,other\n").faults == []


def test_a_site_that_writes_commas_reads_them_as_such() -> None:
    sheet = read(write_sheet([{**GOOD, "high": "1,400"}]), decimal_mark=",")
    assert sheet.faults == []


@pytest.mark.parametrize("text", ["=1+1", "+A1", "-cmd", "@SUM(A1)", "\tx", "'=1", "''=1"])
def test_what_a_spreadsheet_would_run_goes_out_as_text_and_comes_back(text: str) -> None:
    # Formula injection: OWASP, "CSV Injection", from memory: cells that begin with = + - @ tab or return.
    assert as_cell(text).startswith("'")
    if not text.startswith("\t"):
        assert as_text(as_cell(text)) == text


@pytest.mark.parametrize("text", ["-4.1", "+7", "12", "'quoted'", "O'Brien", ""])
def test_numbers_and_plain_text_go_out_as_they_are(text: str) -> None:
    assert as_cell(text) == text == as_text(text)


@given(
    st.lists(st.text(st.characters(codec="utf-8", exclude_characters="\0\r\n"), max_size=12), min_size=1, max_size=16)
)
def test_any_cells_come_back_from_a_file(cells: list[str]) -> None:
    cells = [cell.strip() for cell in cells]
    written = write_sheet([dict(zip(COLUMNS, cells, strict=False))])
    back = list(csv.reader(io.StringIO(written, newline="")))[1]
    assert [as_text(cell) for cell in back[: len(cells)]] == cells
