"""Density of water and the pressure of a column of it."""

from __future__ import annotations

from fractions import Fraction

STANDARD_GRAVITY = Fraction("9.80665")
"""m/s^2, exact by definition (CGPM 1901)."""


def density(temperature: Fraction) -> Fraction:
    """Return the density of air-free water at 101.325 kPa, kg/m^3, at a temperature in degC, 0 to 40.

    Source: Tanaka and others 2001, recommended by the CIPM. Raises ValueError outside the range.
    """
    if not 0 <= temperature <= 40:
        raise ValueError("The formula for the density of water holds from 0 to 40 °C.")
    t = temperature
    a1, a2, a3 = Fraction("-3.983035"), Fraction("301.797"), Fraction("522528.9")
    a4, a5 = Fraction("69.34881"), Fraction("999.974950")
    return a5 * (1 - (t + a1) ** 2 * (t + a2) / (a3 * (t + a4)))


def column_pressure(height: Fraction, per_cubic_metre: Fraction) -> Fraction:
    """Return the pressure at the foot of a column in kPa; height in m, density in kg/m^3."""
    return per_cubic_metre * STANDARD_GRAVITY * height / 1000
