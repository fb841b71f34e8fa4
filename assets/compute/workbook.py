"""Spreadsheet files: rows of text written so that text stays text, and read back as the text that stands there."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

LARGEST = 5_000_000
"""Bytes of a file that is read: some 50,000 rows; a register or a certificate is a few hundred."""

UNPACKED = 60_000_000
"""Bytes that a file may hold once unpacked: a small file can be made to unpack without end."""

ROWS = 20_000


class NotAWorkbook(ValueError):
    """The file cannot be read as a spreadsheet; the message says why and what would be right."""


def workbook_of(sheets: Mapping[str, Iterable[Sequence[str | float | int | None]]]) -> bytes:
    """Return an XLSX file with these sheets (title -> rows).

    Every text cell is stored as text, so that one which begins like a formula stays what it is.
    """
    from openpyxl import Workbook  # a fifth of a second that no page should wait for
    from openpyxl.cell import WriteOnlyCell

    book = Workbook(write_only=True)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title[:31])
        for row in rows:
            cells: list[Any] = []
            for value in row:
                cell = WriteOnlyCell(sheet, value="" if value is None else value)
                if isinstance(value, str):
                    cell.data_type = "s"
                cells.append(cell)
            sheet.append(cells)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def rows_in(content: bytes) -> list[list[str]]:
    """Return the rows of the first sheet of an XLSX file, each cell as the text a person sees in it.

    A row that holds nothing is an empty list, so that every row stands at its own number; those after the last one
    with anything in it are left off. Whole numbers come without a point, others with the 15 digits a spreadsheet
    keeps, dates as 2026-11-25. A cell with a formula gives the formula's stored result.
    Raises NotAWorkbook for a file that is none, is too large, or unpacks to too much.
    """
    if len(content) > LARGEST:
        raise NotAWorkbook(f"The file has {len(content) / 1e6:.1f} MB; at most {LARGEST / 1e6:.0f} MB are read.")
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(one.file_size for one in packed.infolist()) > UNPACKED:
                raise NotAWorkbook("The file unpacks to far more than a table of a plant needs; it was not read.")
    except zipfile.BadZipFile:
        raise NotAWorkbook("The file is no spreadsheet of the kind XLSX; save it as XLSX or as CSV.") from None
    return list(_rows(content))


def _rows(content: bytes) -> Iterator[list[str]]:
    from openpyxl import load_workbook

    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        sheet = book.worksheets[0]
    except (KeyError, ValueError, IndexError, OSError) as broken:
        raise NotAWorkbook(f"The file cannot be read as a spreadsheet: {broken}. Save it anew as XLSX.") from None
    blank = 0
    for number, row in enumerate(sheet.iter_rows(values_only=True), 1):
        if number > ROWS:
            raise NotAWorkbook(f"The file has more than {ROWS} rows; split it.")
        cells = [_text(value) for value in row]
        if any(cells):
            yield from ([] for _ in range(blank))
            yield cells
        blank = 0 if any(cells) else blank + 1


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, dt.datetime):
        midnight = value.time() == dt.time(0)
        return value.date().isoformat() if midnight else value.isoformat(sep=" ", timespec="minutes")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return _number(value)
    return str(value).strip()


def _number(value: float) -> str:
    """Write a number without the tail of its binary form: 500.1, not 500.09999999999997."""
    if Fraction(value).denominator == 1:
        return str(int(value))
    return format(Decimal(f"{value:.15g}"), "f")
