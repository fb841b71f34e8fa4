"""Tables as text: read with comma or semicolon between cells, found from the heading; cells that are no formula."""

from __future__ import annotations

import csv
import io

STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


class UnclosedCell(ValueError):
    """A cell does not end; `row` is the row it begins in, counted from 1, the heading included."""

    def __init__(self, row: int) -> None:
        super().__init__(
            f"Row {row}: it has a cell that does not end. Look for a quote that is opened and never closed."
        )
        self.row = row


def rows_of(text: str) -> list[list[str]]:
    """Return the rows of a CSV text, cells as they stand. Raises UnclosedCell."""
    first = text.partition("\n")[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    rows: list[list[str]] = []
    try:
        rows.extend(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=False))
    except csv.Error:
        # The reader gives up on one cell of more than 131,072 letters: the rest of a file behind one stray quote.
        raise UnclosedCell(len(rows) + 1) from None
    return rows


def harmless(cell: str) -> str:
    """Return the text so that no spreadsheet takes it for a formula: with an apostrophe in front where it would.

    Source: the first characters are those of the OWASP page on CSV injection. Plain numbers stay as they are.
    """
    return f"'{cell}" if cell.startswith(STARTS_A_FORMULA) and not _is_number(cell) else cell


def _is_number(cell: str) -> bool:
    return cell[:1] == "-" and cell[1:].replace(".", "", 1).isdecimal()
