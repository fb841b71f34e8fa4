"""The plant's register as a spreadsheet: the same table as the text, and what only a spreadsheet can have wrong."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from assets.compute.register_cells import COLUMNS, as_cell
from assets.compute.register_csv import Fault
from assets.compute.workbook import Cell, Table, table_in, workbook_of
from assets.compute.workbook_scan import place_of

TITLE = "Register"
NUMBERS = ("low", "high")
DAY = "fitted from"
YES_OR_NO = "compliance point"
DIGITS_KEPT = 15  # a spreadsheet keeps no more of a number
AS_HELD = ("General", "0", "@", "GENERAL")
WORDS_OF_A_FORM = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]')
SCALED = re.compile(r"%|[0#?],+(?![,0#?])")
AS_TEXT = "Format the cell as text and write it anew."


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterLines:
    """A register's rows as a CSV would have them, what is wrong with single cells, and which sheet they stand in."""

    lines: list[list[str]]
    faults: tuple[Fault, ...]
    title: str
    others: tuple[str, ...]


def write_workbook(rows: Iterable[Mapping[str, str]], *, columns: Iterable[str] = COLUMNS) -> bytes:
    """Return rows as an XLSX file with the cells that `write_sheet` writes, each of them as text."""
    heading = list(columns)
    return workbook_of({TITLE: [heading, *([as_cell(row.get(column, "")) for column in heading] for row in rows)]})


def lines_in(content: bytes, *, decimal_mark: str) -> RegisterLines:
    """Read a register from an XLSX file, for `register_csv.read_rows`.

    A number is taken as the number that the cell holds, written with the site's decimal mark; a day as 2026-11-25,
    with a time as 2026-11-25 14:05. Raises NotAWorkbook.
    """
    table = table_in(content, named=TITLE)
    heading = [" ".join(cell.text.split()).casefold() for cell in table.rows[0]] if table.rows else []
    while heading and not heading[-1]:
        heading.pop()
    faults = [*_shape_faults(table, heading)]
    lines = []
    for number, cells in enumerate(table.rows, 1):
        while cells and not cells[-1].text:
            cells.pop()
        extra = len(cells) - len(heading)
        if extra > 0 and heading:
            what = f"It has {extra} cell{'s' if extra > 1 else ''} more than the heading."
            faults.append(Fault(number, "", what, "Clear what stands to the right of the table."))
        if number > 1:
            faults += _cell_faults(number, heading, cells)
        # Unlike in a text, what stands too far right shifts nothing: the rest of the row is read, its faults named.
        lines.append([_text(cell, decimal_mark) for cell in cells[: len(heading) or None]])
    while lines and not lines[-1]:
        lines.pop()
    return RegisterLines(lines=lines, faults=tuple(faults), title=table.title, others=table.others)


def _text(cell: Cell, decimal_mark: str) -> str:
    return cell.text.replace(".", decimal_mark) if cell.kind == "number" else cell.text


def _cell_faults(number: int, heading: list[str], cells: list[Cell]) -> Iterator[Fault]:
    for column, cell in zip(heading, cells, strict=False):
        what, right = _wrong(column, cell)
        if what:
            yield Fault(number, column, what, right)


def _wrong(column: str, cell: Cell) -> tuple[str, str]:
    """Return what is wrong with a cell and what would be right; two empty texts where nothing is."""
    if cell.kind == "number":
        return _number_wrong(column, cell)
    if cell.kind == "formula":
        right = "No formula is worked out here and no old result is taken; put the value itself into the cell."
        return f"The cell holds a formula, {cell.text}.", right
    if cell.kind == "day" and column != DAY:
        what = f"The cell holds the day {cell.text}; a spreadsheet makes days of texts like 3-4."
        return what, AS_TEXT
    if cell.kind == "time":
        return f"The cell holds a time of day or a span of time, {cell.text}.", AS_TEXT
    if cell.kind == "yes or no" and column != YES_OR_NO:
        return "The cell holds TRUE or FALSE, no text.", AS_TEXT
    return "", ""


def _number_wrong(column: str, cell: Cell) -> tuple[str, str]:
    if len(cell.text.lstrip("-").partition(".")[0]) > DIGITS_KEPT:
        what = f"The cell holds a number of more than {DIGITS_KEPT} digits, of which a spreadsheet loses the last ones."
        return what, AS_TEXT
    if column == DAY:
        what = f"The cell holds the number {cell.text}, no day."
        return what, "Format the cell as a date, or as text and write it like 2026-11-25."
    if column in NUMBERS:
        if SCALED.search(WORDS_OF_A_FORM.sub("", cell.form)):
            what = f"The cell holds {cell.text} and shows it as a percentage or in thousands."
            return what, "Format the cell as a plain number and write what the position shows."
        return "", ""
    if cell.form not in AS_HELD:
        what = f"The cell holds the number {cell.text} and shows it in another form, {cell.form[:40]}."
        return what, "Format the cell as text and write what is to be read."
    return "", ""


def _shape_faults(table: Table, heading: list[str]) -> Iterator[Fault]:
    shape = table.shape
    yield from _formulas_in_heading(table)
    for number in shape.hidden_rows:
        yield Fault(number, "", "This row is hidden.", "Show it, so that it is seen before it is taken, or delete it.")
    hidden = {place for first, last in shape.hidden_columns for place in range(first, min(last, shape.last_column) + 1)}
    for place in sorted(hidden):
        if any(len(row) >= place and row[place - 1].text for row in table.rows):
            name = heading[place - 1] if place <= len(heading) else ""
            what = f"The column {name or place} is hidden."
            yield Fault(1, name, what, "Show it, so that it is seen before it is taken, or delete it.")
    for merged in shape.merged:
        row, place = place_of(merged.partition(":")[0])
        if row <= shape.last_row and place <= shape.last_column:
            name = heading[place - 1] if place <= len(heading) else ""
            what = f"The cells {merged[:20]} are merged: one value stands for several cells."
            yield Fault(row, name, what, "Unmerge them and write each cell.")


def _formulas_in_heading(table: Table) -> Iterator[Fault]:
    for cell in table.rows[0] if table.rows else []:
        if cell.kind == "formula":
            yield Fault(1, " ".join(cell.text.split()).casefold(), *_wrong("", cell))
