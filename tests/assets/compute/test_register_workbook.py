"""The register as a spreadsheet: the same rows and sentences as the text, and what only a spreadsheet can hide."""

from __future__ import annotations

import datetime as dt
import io
import re
import time
import zipfile
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from openpyxl import Workbook
from openpyxl.styles.numbers import FORMAT_DATE_DATETIME
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from assets.compute.register_cells import COLUMNS, write_sheet
from assets.compute.register_csv import MOST_ROWS, Sheet, read_rows, read_sheet
from assets.compute.register_workbook import lines_in, write_workbook
from assets.compute.workbook import NotAWorkbook
from tests.assets.compute.test_register_csv import DENVER, GOOD, NOW

ROW = ["AIT-310", "Filters", "pH", "measures", "pH", "pH", 0, 14, "other", "yes", "pH probe", "40-1", "A", None]
OTHER = ["P-41", "Dosing", "Dosing pump", "moves", None, None, None, None, "other", None, "Pump", "8-1", None, None]


def read(content: bytes, *, decimal_mark: str = ".", zone: ZoneInfo = DENVER) -> Sheet:
    found = lines_in(content, decimal_mark=decimal_mark)
    return read_rows(found.lines, zone=zone, decimal_mark=decimal_mark, now=NOW, known=found.faults)


def saved(book: Workbook) -> bytes:
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def made(change: Callable[[Any], object] = lambda sheet: None, *, rows: list[list[Any]] | None = None) -> bytes:
    book = Workbook()
    for row in [list(COLUMNS), *(rows or [ROW, OTHER])]:
        book.active.append(row)
    change(book.active)
    return saved(book)


def with_cell(place: str, value: Any, form: str | None = None) -> bytes:
    def put(sheet: Any) -> None:
        sheet[place] = value
        if form:
            sheet[place].number_format = form

    return made(put)


def faults(content: bytes) -> list[tuple[int, str, str]]:
    return [(one.row, one.column, str(one)) for one in read(content).faults]


def cell_of(content: bytes, column: str) -> str:
    sheet = read(content)
    assert sheet.faults == []
    return sheet.rows[0][column]


def repacked(content: bytes, change: Callable[[str, bytes], bytes]) -> bytes:
    """Return a file with its parts changed, as another program or a hand might write them."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return out.getvalue()


def in_sheet(old: bytes, put: bytes, content: bytes | None = None) -> bytes:
    content = content or made()
    changed = repacked(content, lambda name, part: part.replace(old, put) if "sheet1.xml" in name else part)
    assert changed != content
    return changed


def test_the_same_rows_read_the_same_from_text_and_from_a_spreadsheet() -> None:
    rows = [GOOD, {**GOOD, "tag": "AIT-41O", "unit": "l/m", "serial": "007", "service": "=1+1", "uses": "steers P-1"}]
    text = read_sheet(write_sheet(rows), zone=DENVER, decimal_mark=".", now=NOW)
    book = read(write_workbook(rows))
    assert len(text.faults) == 3  # tag, unit, uses
    assert (book.rows, book.faults, book.heading, book.raw) == (text.rows, text.faults, text.heading, text.raw)


@pytest.mark.parametrize(
    ("place", "value", "form", "column", "text"),
    [
        ("L2", 40117, None, "serial", "40117"),
        ("L2", 40117.0, "0", "serial", "40117"),
        ("L2", 123456789012345, None, "serial", "123456789012345"),
        ("L2", "00123", None, "serial", "00123"),
        ("L2", "00123", "@", "serial", "00123"),
        ("M2", 2.5, None, "model", "2.5"),
        ("M2", "1E5", None, "model", "1E5"),
        ("G2", 1.0, "0.00", "low", "1"),
        ("G2", 0.1 + 0.2, None, "low", "0.3"),
        ("G2", -2.5, '0.0" °C"', "low", "-2.5"),
        ("G2", "1.0", None, "low", "1.0"),
        ("H2", 1400, "#,##0", "high", "1400"),
        ("H2", 40, '0" %"', "high", "40"),
        ("N2", dt.date(2026, 3, 4), None, "fitted from", "2026-03-04"),
        ("N2", dt.datetime.fromisoformat("2026-03-04T14:05"), None, "fitted from", "2026-03-04 14:05"),
        ("N2", 46085, FORMAT_DATE_DATETIME, "fitted from", "2026-03-04"),  # days since 1899-12-30
        ("N2", "2026-03-04", None, "fitted from", "2026-03-04"),
        ("J2", True, None, "compliance point", "yes"),
        ("C2", "  pH,\xa0out ", None, "service", "pH,\xa0out"),
    ],
)
def test_a_cell_is_taken_as_what_it_holds(place: str, value: Any, form: str | None, column: str, text: str) -> None:
    content = with_cell(place, value, form)
    assert cell_of(content, column) == text


def test_a_text_that_begins_like_a_formula_stays_text() -> None:
    inline = b'<c r="C2" t="inlineStr"><is><r><t>=1</t></r><r><t>+1</t></r></is></c>'
    content = repacked(
        made(), lambda name, part: re.sub(rb'<c r="C2".*?</c>', inline, part) if "sheet1" in name else part
    )
    assert cell_of(content, "service") == "=1+1"


def test_days_of_a_workbook_that_counts_from_1904_are_the_days_it_shows() -> None:
    book = Workbook()
    book.epoch = CALENDAR_MAC_1904
    for row in (list(COLUMNS), [*ROW[:13], dt.date(2026, 3, 4)]):
        book.active.append(row)
    assert cell_of(saved(book), "fitted from") == "2026-03-04"


def test_a_number_is_written_with_the_mark_of_the_site() -> None:
    [row, _] = read(with_cell("H2", 1.234), decimal_mark=",").rows
    assert row["high"] == "1,234"


@pytest.mark.parametrize(
    ("place", "value", "form", "where", "words"),
    [
        ("L2", "=A2&B2", None, (2, "serial"), "holds a formula, =A2&B2. No formula is worked out here"),
        ("G2", "=1+1", None, (2, "low"), "holds a formula"),
        ("A3", "=A2", None, (3, "tag"), "holds a formula"),
        ("A1", '="tag"', None, (1, '="tag"'), "holds a formula"),
        ("M2", "#N/A", None, (2, "model"), "could not work something out"),
        ("E2", "#REF!", None, (2, "quantity"), "could not work something out"),
        ("L2", dt.date(2026, 3, 4), None, (2, "serial"), "holds the day 2026-03-04; a spreadsheet makes days of texts"),
        ("L2", dt.time(14, 5), None, (2, "serial"), "a time of day"),
        ("N2", dt.time(14, 5), None, (2, "fitted from"), "a time of day"),
        ("N2", dt.datetime.fromisoformat("2026-03-04T14:05:30"), None, (2, "fitted from"), "is no day"),
        ("N2", dt.date(2027, 3, 4), None, (2, "fitted from"), "has not come yet"),
        ("N2", 46085, None, (2, "fitted from"), "holds the number 46085, no day"),
        ("L2", 123, "00000", (2, "serial"), "holds the number 123 and shows it in another form, 00000"),
        ("M2", 1400, "#,##0", (2, "model"), "in another form"),
        ("L2", 12345678901234567890, None, (2, "serial"), "more than 15 digits"),
        ("L2", 1e300, None, (2, "serial"), "more than 15 digits"),
        ("H2", 0.5, "0%", (2, "high"), "as a percentage or in thousands"),
        ("H2", 14000, "#,##0,", (2, "high"), "as a percentage or in thousands"),
        ("L2", True, None, (2, "serial"), "holds TRUE or FALSE"),
        ("Q3", "look", None, (3, ""), "1 cell more than the heading."),
        ("R2", "look", None, (2, ""), "2 cells more than the heading. Clear what stands to the right"),
        ("AAA3", 1, None, (3, ""), "cells more than the heading"),
    ],
)
def test_what_only_a_spreadsheet_can_have_wrong_is_named(
    place: str, value: Any, form: str | None, where: tuple[int, str], words: str
) -> None:
    found = faults(with_cell(place, value, form))
    mine = [text for row, column, text in found if (row, column) == where]
    assert len(mine) == 1 and words in mine[0], found


def test_what_stands_beside_the_table_hides_no_other_fault_of_its_row() -> None:
    rows = [ROW, ["P-41O", *OTHER[1:], None, None, "look"]]
    assert [(row, column) for row, column, _ in faults(made(rows=rows))] == [(3, ""), (3, "tag")]


def test_an_old_result_of_a_formula_is_not_taken() -> None:
    content = in_sheet(b"<f>1+1</f><v />", b"<f>1+1</f><v>7</v>", with_cell("G2", "=1+1"))
    assert [(row, column) for row, column, _ in faults(content)] == [(2, "low")]
    shared = in_sheet(b"<f>1+1</f><v />", b'<f t="shared" si="0" /><v>7</v>', with_cell("G2", "=1+1"))
    assert [(row, column) for row, column, _ in faults(shared)] == [(2, "low")]


@pytest.mark.parametrize(
    ("change", "where", "words"),
    [
        (lambda sheet: sheet.merge_cells("B2:B3"), (2, "area"), "cells B2:B3 are merged"),
        (lambda sheet: sheet.merge_cells("A1:B1"), (1, "tag"), "cells A1:B1 are merged"),
        (lambda sheet: setattr(sheet.row_dimensions[3], "hidden", True), (3, ""), "This row is hidden. Show it"),
        (lambda sheet: setattr(sheet.column_dimensions["L"], "hidden", True), (1, "serial"), "column serial is hidden"),
    ],
)
def test_what_is_not_seen_in_the_sheet_is_not_taken(change: Any, where: tuple[int, str], words: str) -> None:
    assert any((row, column) == where and words in text for row, column, text in faults(made(change)))


def test_a_merged_half_of_a_sheet_is_named_and_never_filled_out() -> None:
    merged = b'</sheetData><mergeCells><mergeCell ref="B2:XFD1048576" /></mergeCells>'
    assert [(row, column) for row, column, _ in faults(in_sheet(b"</sheetData>", merged))] == [(2, "area")]


def test_hidden_rows_and_columns_and_merged_cells_beside_the_table_are_no_fault() -> None:
    def beside(sheet: Any) -> None:
        sheet.row_dimensions[9].hidden = True
        sheet.column_dimensions["E"].hidden = False
        sheet.column_dimensions["R"].hidden = True
        sheet.merge_cells("A40:B41")

    assert faults(made(beside)) == []


def test_a_row_keeps_its_number_behind_empty_ones_and_shown_form_counts_for_nothing_empty() -> None:
    rows = [ROW, [], [None, " "], ["AIT-41O", *OTHER[1:]], []]
    assert [(row, column) for row, column, _ in faults(made(rows=rows))] == [(5, "tag")]
    formatted = made(lambda sheet: [setattr(sheet.cell(900, 300), "number_format", "0%")])
    assert faults(formatted) == []


def test_an_empty_first_row_is_told_from_an_empty_file() -> None:
    assert "The first row is empty" in faults(made(lambda sheet: sheet.insert_rows(1)))[0][2]
    assert "The file is empty" in faults(saved(Workbook()))[0][2]


def books(*titles: str, states: dict[str, str] | None = None) -> bytes:
    book = Workbook()
    book.remove(book.active)
    for title in titles:
        sheet = book.create_sheet(title)
        sheet.sheet_state = (states or {}).get(title, "visible")
        if not title.startswith("Empty"):
            for row in (list(COLUMNS), ROW, [f"P-{len(title)}", *OTHER[1:]]):
                sheet.append(row)
    return saved(book)


def test_of_several_sheets_the_one_that_holds_something_or_is_called_register_is_read() -> None:
    found = lines_in(books("Empty 1", "Tags"), decimal_mark=".")
    assert (found.title, found.others) == ("Tags", ())
    found = lines_in(books("Notes", "rEGISTER ", "Empty 2"), decimal_mark=".")
    assert (found.title.strip(), found.others, found.lines[2][0]) == ("rEGISTER", ("Notes",), "P-9")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (books("Tags", "Notes"), "2 sheets with something in them (“Tags”, “Notes”); name the one to be read “Regis"),
        (books("Empty 1", "Tags", states={"Tags": "hidden"}), "sheet “Tags” is hidden"),
        (in_sheet(b'r="A3"', b'r="A2"'), "out of order"),
        (in_sheet(b'r="A3"', b'r="A0003x"'), "names a cell “A0003x” that cannot be"),
        (in_sheet(b'<row r="3"', b'<row r="2"'), "out of order"),
        (in_sheet(b'<c r="B3"', b'<c r="A3"'), "out of order"),
        (in_sheet(b"<sheetData>", b"<sheetData><row r='x' />"), "no spreadsheet"),
        (in_sheet(b"<v>0</v>", b"<v>zero</v>"), "cannot be read as a spreadsheet"),
        (in_sheet(b"</sheetData>", b"</sheetdata>"), "cannot be read as a spreadsheet"),
        (
            in_sheet(b"<sheetData>", b'<cols><col min="9" max="-1" hidden="1" /></cols><sheetData>'),
            "out of order",
        ),
        (
            in_sheet(b"</sheetData>", b'</sheetData><mergeCells><mergeCell ref="here" /></mergeCells>'),
            "cannot be read as a spreadsheet",
        ),
    ],
)
def test_a_workbook_that_is_not_plain_or_broken_is_refused_in_a_sentence(content: bytes, words: str) -> None:
    with pytest.raises(NotAWorkbook, match=r"[.]$") as refused:
        lines_in(content, decimal_mark=".")
    assert words in str(refused.value)


def far(row: int, column: str = "A") -> bytes:
    return in_sheet(b"</sheetData>", f'<row r="{row}"><c r="{column}{row}"><v>1</v></c></row></sheetData>'.encode())


def in_every_row(column: str, rows: int) -> bytes:
    many = "".join(f'<row r="{n}"><c r="{column}{n}"><v>1</v></c></row>' for n in range(4, rows))
    return in_sheet(b"</sheetData>", f"{many}</sheetData>".encode())


def a_doctype(name: str, part: bytes) -> bytes:
    start = b'<!DOCTYPE w [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;">]>'
    return start + part.removeprefix(b"<?xml version='1.0' encoding='utf-8'?>") if "sheet1" in name else part


def many_styles(name: str, part: bytes) -> bytes:
    return part.replace(b"<fonts", b"<x/>" * 10_001 + b"<fonts") if "styles" in name else part


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (lambda: far(1_048_576), "something in row 1048576"),
        (lambda: in_every_row("XFD", 200), "199 rows by 16384 columns"),
        (lambda: in_sheet(b"</sheetData>", b'<row r="9">' + b"<c/>" * 100_001 + b"</row></sheetData>"), "far more"),
        (lambda: in_sheet(b"<sheetData>", b"<!--" + b"x" * 40_000_000 + b"--><sheetData>"), "far more"),
        (lambda: in_sheet(b"<sheetData>", b"<x y='" + b"x" * 40_000_000), "far more"),
        (lambda: in_sheet(b"<sheetData>", b" " * 60_000_001 + b"<sheetData>"), "far more"),
        (lambda: repacked(made(), many_styles), "far more"),
        (lambda: repacked(made(), a_doctype), "document type"),
    ],
)
def test_a_file_made_to_hurt_is_refused_before_it_is_built_up(
    content: Callable[[], bytes], words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("assets.compute.workbook_scan.ELEMENTS", 100_000)
    monkeypatch.setattr("assets.compute.workbook_scan.ELEMENTS_BESIDE", 10_000)
    file = content()
    assert len(file) < 5_000_000
    begun = time.process_time()
    with pytest.raises(NotAWorkbook, match=words):
        lines_in(file, decimal_mark=".")
    assert time.process_time() - begun < 10


def test_more_rows_than_are_taken_at_once_is_the_sentence_of_the_text() -> None:
    [found] = faults(far(MOST_ROWS + 2))
    assert f"The file has {MOST_ROWS + 1} rows" in found[2]


def test_a_cell_of_spaces_is_no_limit_at_once() -> None:
    begun = time.process_time()
    for filling in (" " * 30_000, "high 8" + " " * 30_000 + "x", "a " * 15_000):
        text = write_sheet([{**GOOD, "limits": f"x{filling}x"}])
        [fault] = read_sheet(text, zone=DENVER, decimal_mark=".", now=NOW).faults
        assert fault.column == "limits"
    assert time.process_time() - begun < 5


def test_an_error_word_of_a_spreadsheet_is_refused_in_text_too() -> None:
    [fault] = read_sheet(write_sheet([{**GOOD, "model": "#n/a"}]), zone=DENVER, decimal_mark=".", now=NOW).faults
    assert (fault.row, fault.column) == (2, "model")
