"""How exact numbers are written: rounded for show only, never so that a limit is crossed by rounding."""

from __future__ import annotations

from fractions import Fraction

MINUS = "−"
EXTRA_DIGITS = 9
"""How many digits more than usual a number may be given before it is written as a ratio."""


def rounded(value: Fraction, places: int) -> Fraction:
    """Round to so many places after the point, halves away from zero, as one does by hand."""
    scaled = abs(value) * 10**places
    whole = (2 * scaled.numerator + scaled.denominator) // (2 * scaled.denominator)
    return Fraction(whole if value >= 0 else -whole, 10**places)


def shown(value: Fraction | float, places: int, *, plus: bool = False) -> str:
    """Write a number with so many places and a real minus sign; `plus` writes the plus too."""
    near = rounded(Fraction(value), places)
    digits = f"{abs(near.numerator) * 10**places // near.denominator:0{places + 1}d}"
    text = f"{digits[:-places]}.{digits[-places:]}" if places else digits
    if near < 0:
        return MINUS + text
    return "+" + text if plus else text


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
