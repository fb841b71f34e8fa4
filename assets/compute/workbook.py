"""Spreadsheet files: rows of text written so that text stays text, and read back as the text that stands there."""

from __future__ import annotations

import datetime as dt
import io
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from assets.compute.workbook_scan import BROKEN_ZIP, CELLS, LARGEST, ROWS, NotAWorkbook, Shape, shapes_in

__all__ = ["LARGEST", "Cell", "NotAWorkbook", "Table", "rows_in", "table_in", "workbook_of"]

# What the library lets out of a file that is made wrong; a broken XML is a SyntaxError.
UNREADABLE = (*BROKEN_ZIP, LookupError, TypeError, AttributeError, ArithmeticError, SyntaxError, RecursionError)


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell as it is read: its text and what it is.

    `kind`: text, number, day (with or without a time), time, yes or no, error, or formula (the text is the formula;
    its stored result is not looked at). `form`: the number format by which a spreadsheet shows it.
    """

    text: str = ""
    kind: str = "text"
    form: str = "General"


EMPTY = Cell()
OVERFLOW = Cell("#NUM!", "error")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """The sheet of a workbook that was read, each row at its number less one, and the titles of those that were not."""

    title: str
    rows: list[list[Cell]]
    shape: Shape
    others: tuple[str, ...] = ()


def workbook_of(sheets: Mapping[str, Iterable[Sequence[str | float | int | None]]]) -> bytes:
    """Return an XLSX file with these sheets (title -> rows).

    Every text cell is stored as text, so that one which begins like a formula stays what it is. Signs that no
    spreadsheet can hold (control characters) are written as �.
    """
    from openpyxl import Workbook  # a fifth of a second that no page should wait for
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    book = Workbook(write_only=True)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title[:31])
        for row in rows:
            cells: list[Any] = []
            for value in row:
                held = ILLEGAL_CHARACTERS_RE.sub("\ufffd", value) if isinstance(value, str) else value
                cell = WriteOnlyCell(sheet, value="" if held is None else held)
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
    sheet, shape = _sheets(content)[0]
    rows = [[cell.text for cell in row] for row in _rows(sheet, shape)]
    rows = [row if any(row) else [] for row in rows]
    while rows and not rows[-1]:
        rows.pop()
    return rows


def table_in(content: bytes, *, named: str) -> Table:
    """Return the one sheet of an XLSX file that holds something; of several, the one called `named`.

    Formulas are given as formulas, never as their stored results. Raises NotAWorkbook as `rows_in`, and where it is
    not plain which sheet is meant.
    """
    held = [(sheet, shape) for sheet, shape in _sheets(content) if shape.last_row]
    if not held:
        return Table(title="", rows=[], shape=Shape())
    meant = held if len(held) == 1 else [one for one in held if one[0].title.strip().casefold() == named.casefold()]
    if len(meant) != 1:
        titles = ", ".join(f"“{sheet.title}”" for sheet, _ in held[:6])
        raise NotAWorkbook(
            f"The workbook has {len(held)} sheets with something in them ({titles}); name the one to be read "
            f"“{named}”, or delete the others."
        )
    [(sheet, shape)] = meant
    if sheet.sheet_state != "visible":
        raise NotAWorkbook(f"The sheet “{sheet.title}” is hidden; show it, so that what is read can be seen.")
    others = tuple(other.title for other, _ in held if other is not sheet)
    formulas = shape.formulas
    rows = [
        [
            Cell(f"={formulas[row, column]}", "formula") if (row, column) in formulas else cell
            for column, cell in enumerate(cells, 1)
        ]
        for row, cells in enumerate(_rows(sheet, shape), 1)
    ]
    return Table(title=sheet.title, rows=rows, shape=shape, others=others)


def _sheets(content: bytes) -> list[tuple[Any, Shape]]:
    """Return the sheets of a workbook, in its order, each with its shape."""
    shapes = shapes_in(content)
    from openpyxl import load_workbook

    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
        found = [(sheet, shapes[sheet._worksheet_path]) for sheet in book.worksheets]
    except UNREADABLE:
        found = []
    if not found:
        raise NotAWorkbook("The file cannot be read as a spreadsheet. Open it in one and save it anew as XLSX.")
    return found


def _rows(sheet: Any, shape: Shape) -> Iterator[list[Cell]]:
    if shape.last_row > ROWS:
        raise NotAWorkbook(f"The file has something in row {shape.last_row}; at most {ROWS} rows are read. Split it.")
    if shape.last_row * shape.last_column > CELLS:
        raise NotAWorkbook(
            f"The table is {shape.last_row} rows by {shape.last_column} columns, more than is read. "
            "Delete what stands far to the right of it."
        )
    if not shape.last_row:
        return
    try:
        for row in sheet.iter_rows(min_row=1, max_row=shape.last_row, max_col=shape.last_column):
            yield [_cell(one) for one in row]
    except UNREADABLE:
        raise NotAWorkbook(
            "The file cannot be read as a spreadsheet. Open it in one and save it anew as XLSX."
        ) from None


def _cell(read: Any) -> Cell:
    value = read.value
    if value is None:
        return EMPTY
    if isinstance(value, bool):
        return Cell("yes" if value else "no", "yes or no")
    if isinstance(value, int | float):
        return Cell(_number(value), "number", str(read.number_format)) if math.isfinite(value) else OVERFLOW
    if isinstance(value, dt.date):
        return Cell(_moment(value), "day")
    if isinstance(value, dt.time | dt.timedelta):
        return Cell(str(value), "time")
    return Cell(str(value).strip(), "error" if read.data_type == "e" else "text")


def _moment(value: dt.date) -> str:
    if not isinstance(value, dt.datetime):
        return value.isoformat()
    if value.time() == dt.time(0):
        return value.date().isoformat()
    return value.isoformat(sep=" ", timespec="seconds" if value.second or value.microsecond else "minutes")


def _number(value: float) -> str:
    """Write a number without the tail of its binary form: 500.1, not 500.09999999999997."""
    if Fraction(value).denominator == 1:
        return str(int(value))
    return format(Decimal(f"{value:.15g}"), "f")
