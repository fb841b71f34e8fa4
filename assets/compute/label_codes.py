"""Codes for labels and for telling by voice."""

from __future__ import annotations

# No 0 and O, 1, I and L, 5 and S, 2 and Z, 8 and B, U and V: none is mistaken for another, read or spoken.
LETTERS = "34679ACDEFGHJKMNPQRTWXY"


def spaced(code: str) -> str:
    """Return a code in groups of four, as it is printed: `7KQ4 M3XP`."""
    return " ".join(code[start : start + 4] for start in range(0, len(code), 4))


def plain_code(typed: str) -> str:
    """Return the code that was typed, with capitals and without the spaces and strokes people put in."""
    return "".join(sign for sign in typed.upper() if sign.isalnum())
