"""The columns of a register's file, and how a cell is written so that no spreadsheet takes it for a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping

COLUMNS = (
    *("tag", "area", "service", "does", "quantity", "unit", "low", "high", "matters for", "compliance point"),
    *("kind", "serial", "model", "fitted from", "uses", "limits"),
)
# A spreadsheet takes text that begins so for a formula; a stroke before it keeps it text.
FORMULA = re.compile(r"'*[=+\-@\t\r]")
PLAIN_NUMBER = re.compile(r"[+-]?[\d.,]+", re.ASCII)


def as_text(cell: str) -> str:
    """Return a cell as it was meant: trimmed, without the stroke that keeps a formula text."""
    trimmed = cell.strip()
    return trimmed[1:] if trimmed.startswith("'") and FORMULA.match(trimmed[1:]) else trimmed


def as_cell(text: str) -> str:
    """Return a text that a spreadsheet may open: what looks like a formula, and is no number, gets a stroke."""
    return f"'{text}" if FORMULA.match(text) and not PLAIN_NUMBER.fullmatch(text) else text


def write_sheet(rows: Iterable[Mapping[str, str]], *, columns: Iterable[str] = COLUMNS) -> str:
    """Return rows as the text of a file: comma between cells, CRLF between rows (RFC 4180)."""
    heading = list(columns)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(heading)
    writer.writerows([as_cell(row.get(column, "")) for column in heading] for row in rows)
    return out.getvalue()
