"""How exact numbers are written in a working: rounded for show only, and never so that rounding crosses a limit.

And how what stands beside them begins.
"""

from __future__ import annotations

from fractions import Fraction

from assets.compute import rounding
from assets.compute.rounding import MINUS, rounded

__all__ = ["EXTRA_DIGITS", "MINUS", "plain", "rounded", "sentence_case", "shown", "shown_beside"]

EXTRA_DIGITS = 9
"""How many digits more than usual a number may be given before it is written as a ratio."""


def shown(value: Fraction | float, places: int, *, plus: bool = False) -> str:
    """Write a number with so many places and a real minus sign; `plus` writes the plus too."""
    write = rounding.signed if plus else rounding.shown
    return write(Fraction(value), places)


def plain(value: Fraction, *, most: int = 6) -> str:
    """Write a number with as many places as it needs, at most `most`: 25, 12.5, 7.0475."""
    text = shown(value, most)
    return text.rstrip("0").rstrip(".") if "." in text else text


def shown_beside(value: Fraction, *, edges: tuple[Fraction | None, ...], places: int, plus: bool = True) -> str:
    """Write a value so that the rounding does not carry it over a limit: 0.1004 beside 0.10 is 0.1004, not 0.100."""
    for more in range(places, places + EXTRA_DIGITS):
        near = rounded(value, more)
        if all(edge is None or (near < edge) == (value < edge) and (near > edge) == (value > edge) for edge in edges):
            return shown(value, more, plus=plus)
    return shown(value, places + EXTRA_DIGITS, plus=plus)


def sentence_case(text: str) -> str:
    """Begin with a capital, but for pH, which never takes one."""
    return text if text.startswith("pH") else text[:1].upper() + text[1:]
