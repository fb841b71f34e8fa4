"""Free chlorine in water: how much of it is hypochlorous acid, which a membrane sensor sees."""

from __future__ import annotations

from fractions import Fraction

from assets.compute.transcendental import ten_to


def dissociation(temperature: Fraction) -> Fraction:
    """Return pKa of hypochlorous acid at a temperature in degC: 3000/T - 10.0686 + 0.0253 T. From memory."""
    kelvin = temperature + Fraction("273.15")
    return 3000 / kelvin - Fraction("10.0686") + Fraction("0.0253") * kelvin


def acid_share(ph: Fraction, temperature: Fraction) -> Fraction:
    """Return the part of free chlorine that is hypochlorous acid, 0 to 1, at a pH and a temperature in degC."""
    return 1 / (1 + ten_to(ph - dissociation(temperature)))


def grab_limit(grab: Fraction, fixed: Fraction = Fraction("0.10"), share: Fraction = Fraction("0.15")) -> Fraction:
    """Return the larger of a fixed error and a share of the grab, mg/L: EPA Method 334.0, read second-hand."""
    return max(fixed, share * grab)
