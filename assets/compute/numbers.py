"""The one reader of numbers that people type: comma or point, exact, doubtful input asked about."""

from __future__ import annotations

import re
from fractions import Fraction

NUMBER = re.compile(r"[+-]?\d{1,12}(?:[.,]\d{1,12})?", re.ASCII)
THOUSANDS_OR_DECIMALS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.ASCII)


class NotANumber(ValueError):
    """The typed text is no number, or could be two numbers; the message says how to write it."""


def normal_text(typed: str) -> str:
    """Return the typed number with an ASCII minus and a decimal point, digits untouched."""
    return typed.strip().replace("\u2212", "-").replace(",", ".")


def read_number(typed: str, *, decimal_mark: str = ".") -> Fraction:
    """Return the exact value of a number typed with a comma or a point.

    `decimal_mark` is the mark the site writes ('.' or ','). Where it is the point, '1,234' may mean one thousand two
    hundred and thirty-four: it is refused with a question instead of guessed.
    Raises NotANumber with a sentence for the person who typed.
    """
    text = typed.strip().replace("\u2212", "-")
    if not NUMBER.fullmatch(text):
        raise NotANumber(f"\u201c{typed.strip()}\u201d is not a number; write it like 7.01 or 7,01.")
    if decimal_mark == "." and THOUSANDS_OR_DECIMALS.fullmatch(text):
        whole, part = text.split(",")
        raise NotANumber(
            f"\u201c{text}\u201d can mean two numbers; write {whole}{part} for the thousands or {whole}.{part} for the "
            "decimals."
        )
    return Fraction(text.replace(",", "."))


def kept_number(text: str) -> Fraction | None:
    """Return the value of a number kept as it was typed, whose mark was settled then; None where nothing was typed."""
    return read_number(text, decimal_mark=",") if text.strip() else None


def decimals_typed(typed: str) -> int:
    """Return how many digits stand after the mark: the resolution of what was read."""
    text = normal_text(typed)
    return len(text.partition(".")[2])
