"""Platinum resistance thermometers: resistance at temperature, and the limits of their classes."""

from __future__ import annotations

from fractions import Fraction

A, B, C = Fraction("0.0039083"), Fraction("-0.0000005775"), Fraction("-0.000000000004183")
"""Coefficients of IEC 60751, 1/K, 1/K^2, 1/K^4; read second-hand in three agreeing places."""

CLASSES = {"A": (Fraction("0.15"), Fraction("0.002")), "B": (Fraction("0.3"), Fraction("0.005"))}
"""Limit of a bare element, degC: a + b |t|. IEC 60751, read second-hand."""


def resistance(temperature: Fraction, at_zero: Fraction = Fraction(100)) -> Fraction:
    """Return the resistance in ohm at a temperature in degC of an element with `at_zero` ohm at 0 degC.

    Raises ValueError outside -200 to 850 degC.
    """
    if not -200 <= temperature <= 850:
        raise ValueError("The formula of IEC 60751 holds from -200 to 850 °C.")
    below = C * (temperature - 100) * temperature**3 if temperature < 0 else Fraction(0)
    return at_zero * (1 + A * temperature + B * temperature**2 + below)


def class_limit(which: str, temperature: Fraction) -> Fraction:
    """Return the limit of a class, degC, at a temperature in degC. Raises LookupError for an unknown class."""
    if which not in CLASSES:
        raise LookupError(f"There is no class {which} here; there are A and B.")
    fixed, rising = CLASSES[which]
    return fixed + rising * abs(temperature)
