"""Cells of files that people open in a spreadsheet."""

from __future__ import annotations

STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def harmless(cell: str) -> str:
    """Return the text so that no spreadsheet takes it for a formula: with an apostrophe in front where it would.

    Source: the first characters are those of the OWASP page on CSV injection. Plain numbers stay as they are.
    """
    return f"'{cell}" if cell.startswith(STARTS_A_FORMULA) and not _is_number(cell) else cell


def _is_number(cell: str) -> bool:
    return cell[:1] == "-" and cell[1:].replace(".", "", 1).isdecimal()
