"""Roots, logarithms and powers inside an exact computation: rounded once, to twelve significant digits, and said so.

Everything else in a check is exact, so that two people who exchange two readings get the same digits. A root or a
logarithm cannot be; it is taken with 28 digits, rounded half to even to twelve significant ones, and goes on as an
exact number again.
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext
from fractions import Fraction

DIGITS = 12
_WIDE = Context(prec=28, rounding=ROUND_HALF_EVEN)


def as_decimal(value: Fraction) -> Decimal:
    """Return a fraction as a decimal of 28 digits."""
    return _WIDE.divide(Decimal(value.numerator), Decimal(value.denominator))


def settled(value: Decimal) -> Fraction:
    """Return a decimal rounded half to even to twelve significant digits, as an exact number."""
    with localcontext(prec=DIGITS, rounding=ROUND_HALF_EVEN):
        return Fraction(+value)


def square_root(value: Fraction) -> Fraction:
    """Return the square root. Raises ValueError for a negative number."""
    if value < 0:
        raise ValueError("A negative number has no square root.")
    return settled(_WIDE.sqrt(as_decimal(value)))


def log_ten(value: Fraction) -> Fraction:
    """Return the logarithm to base ten. Raises ValueError for zero or less."""
    if value <= 0:
        raise ValueError("Only a number above zero has a logarithm.")
    return settled(_WIDE.log10(as_decimal(value)))


def exponential(value: Fraction) -> Fraction:
    """Return e raised to a power."""
    return settled(_WIDE.exp(as_decimal(value)))


def ten_to(value: Fraction) -> Fraction:
    """Return ten raised to a power."""
    return settled(_WIDE.power(Decimal(10), as_decimal(value)))


def power(base: Fraction, exponent: Fraction) -> Fraction:
    """Return a positive base raised to any power. Raises ValueError for a base of zero or less."""
    if base <= 0:
        raise ValueError("Only a number above zero is raised to a power here.")
    return settled(_WIDE.power(as_decimal(base), as_decimal(exponent)))
