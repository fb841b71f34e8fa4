"""Tables that come as text: comma or semicolon between cells, found from the heading."""

from __future__ import annotations

import csv
import io


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
