"""Spreadsheets: what is written comes back, text stays text, and files made to hurt are refused."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import zipfile

import pytest
from openpyxl import Workbook, load_workbook

from assets.compute.workbook import NotAWorkbook, rows_in, workbook_of

ROWS = [["tag", "value"], ["AIT-310", "7.10"], ["=1+1", "-5"], ["@x", "00123"], ["+a", "1E5"]]


def test_text_comes_back_as_it_was_written() -> None:
    assert rows_in(workbook_of({"Checks": ROWS})) == ROWS


def test_what_looks_like_a_formula_is_stored_as_text() -> None:
    book = load_workbook(io.BytesIO(workbook_of({"Checks": ROWS})))
    assert all(cell.data_type in "sn" for row in book.active.iter_rows() for cell in row)


def test_numbers_and_days_of_a_spreadsheet_read_as_a_person_sees_them() -> None:
    book = Workbook()
    book.active.append([7.0, 7.25, dt.date(2026, 11, 25), None, True, " x "])
    file = io.BytesIO()
    book.save(file)
    assert rows_in(file.getvalue()) == [["7", "7.25", "2026-11-25", "", "yes", "x"]]


def test_an_empty_row_keeps_the_others_at_their_numbers_and_a_number_its_fifteen_digits() -> None:
    book = Workbook()
    for row in ([None, None], ["tag", 0.1 + 0.2], [], ["x", 0.00001], [None]):
        book.active.append(row)
    file = io.BytesIO()
    book.save(file)
    assert rows_in(file.getvalue()) == [[], ["tag", "0.3"], [], ["x", "0.00001"]]


def test_a_file_that_is_none_is_refused() -> None:
    with pytest.raises(NotAWorkbook, match="no spreadsheet"):
        rows_in(b"tag,value\n")


def test_a_zip_without_a_workbook_is_refused() -> None:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as packed:
        packed.writestr("note.txt", "x")
    with pytest.raises(NotAWorkbook, match="cannot be read"):
        rows_in(file.getvalue())


def test_a_small_file_that_unpacks_without_end_is_refused() -> None:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"0" * 61_000_000)
    with pytest.raises(NotAWorkbook, match="far more"):
        rows_in(file.getvalue())


def packed_with(name: str, content: bytes = b"x") -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as packed:
        packed.writestr(name, content)
    return file.getvalue()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (packed_with("xl/workbook.bin"), "kind XLSB"),
        (packed_with("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"), "kind ODS"),
        (packed_with("word/document.xml"), "a text or slides"),
        (packed_with("xl/workbook.xml", b"<workbook/>"), "cannot be read as a spreadsheet"),
        (workbook_of({"Checks": ROWS})[:-30], "no spreadsheet"),
        (
            packed_with("xl/workbook.xml", b'<workbook xmlns="http://purl.oclc.org/ooxml/spreadsheetml/main"/>'),
            "Strict Open XML",
        ),
    ],
)
def test_another_kind_of_packed_file_is_named(content: bytes, words: str) -> None:
    with pytest.raises(NotAWorkbook, match=words):
        rows_in(content)


@pytest.mark.parametrize("at", range(100, 5000, 173))
def test_a_torn_byte_gives_a_sentence_or_the_rows(at: int) -> None:
    content = bytearray(workbook_of({"Checks": ROWS}))
    content[at % len(content)] ^= 0xFF
    with contextlib.suppress(NotAWorkbook):  # and nothing else
        assert len(rows_in(bytes(content))) <= len(ROWS)


def test_a_control_character_is_written_as_one_that_a_spreadsheet_can_hold() -> None:
    assert rows_in(workbook_of({"Checks": [["a\x01b"]]})) == [["a\ufffdb"]]
