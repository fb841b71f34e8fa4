"""How figures are shown: rounded as by hand, with a real minus, or exactly as they were typed.

Nothing here is ever calculated with again; every computation carries its exact value and is rounded only to be shown.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

MINUS = "\u2212"
NARROW_SPACE = "\u202f"


def rounded(value: int | Decimal | Fraction, digits: int) -> Fraction:
    """Round to ``digits`` decimals, a half going away from zero, as in hand calculation.

    value: any exact number, no unit; digits: decimals kept, 0 or more. Returns the rounded number, exact.
    Source: rule B of annex B (rounding of numbers) of ISO 80000-1, for an exact half.
    Raises ValueError for negative ``digits`` and for a Decimal that is not finite.
    """
    if digits < 0:
        raise ValueError(f"{digits} decimals cannot be shown; 0 is the least.")
    if isinstance(value, Decimal) and not value.is_finite():
        raise ValueError(f"{value} is not a number that can be shown.")
    scale = 10**digits
    scaled = abs(Fraction(value)) * scale
    whole = (2 * scaled.numerator + scaled.denominator) // (2 * scaled.denominator)
    return Fraction(whole if value >= 0 else -whole, scale)


def shown(value: int | Decimal | Fraction, digits: int) -> str:
    """Write a number with ``digits`` decimals and a real minus; what rounds to nothing carries no sign.

    value: any exact number, no unit; digits: decimals, 0 or more. Raises ValueError as ``rounded``.
    """
    near = rounded(value, digits)
    text = _digits_of(abs(near), digits)
    return MINUS + text if near < 0 else text


def signed(value: int | Decimal | Fraction, digits: int) -> str:
    """Write a number as ``shown`` does, with its plus too: errors and offsets, where the side matters."""
    text = shown(value, digits)
    return "+" + text if rounded(value, digits) > 0 else text


def grouped(count: int) -> str:
    """Write a count in groups of three from 10 000 up, with a narrow space, which is neither comma nor point.

    Source: ISO 80000-1, 7.3.1 (a small space between groups, neither comma nor point); up to four digits stand
    together by *common practice*.
    """
    text = f"{abs(count):,}".replace(",", NARROW_SPACE if abs(count) >= 10_000 else "")
    return MINUS + text if count < 0 else text


def as_typed(text: str) -> str:
    """Show typed text as it was typed, every digit and its comma or point kept; only the minus becomes a real one."""
    trimmed = text.strip()
    return MINUS + trimmed[1:] if trimmed.startswith("-") else trimmed


def decimals(typed: str) -> int:
    """Count the decimals of a typed number: 2 for "7.10", 1 for "7,1", 0 for "7"."""
    _, _, after = typed.strip().replace(",", ".").partition(".")
    return len(after)


def resolution(typed: str) -> Fraction:
    """Give the smallest step a typed number can tell, in its own unit: 1/100 for "7.10", 1 for "150".

    Zeros before the mark count as read: "150" tells single units. Source: *common practice*.
    """
    return Fraction(1, 10 ** decimals(typed))


def _digits_of(near: Fraction, digits: int) -> str:
    whole = near * 10**digits
    text = str(whole.numerator).rjust(digits + 1, "0")
    return f"{text[:-digits]}.{text[-digits:]}" if digits else text
