"""Oxygen that water holds when it is saturated with air, and the pressure of the air where only the height is known."""

from __future__ import annotations

from fractions import Fraction

from assets.compute.transcendental import exponential, power

MMHG_PER_ATM = Fraction(760)
LOWEST, HIGHEST = Fraction(0), Fraction(40)
"""degC between which the formula holds."""


def vapour_pressure(temperature: Fraction) -> Fraction:
    """Return the pressure of water vapour over fresh water, atm, at a temperature in degC.

    Source: Green and Carritt 1967 as used with Benson and Krause: ln Pw = 11.8571 - 3840.70/T - 216961/T^2, T in K.
    """
    kelvin = temperature + Fraction("273.15")
    return exponential(Fraction("11.8571") - Fraction("3840.70") / kelvin - Fraction(216961) / kelvin**2)


def saturation(temperature: Fraction, pressure: Fraction, salinity: Fraction = Fraction(0)) -> Fraction:
    """Return the oxygen of air-saturated water, mg/L.

    temperature: degC, 0 to 40; pressure: of the air at the place (not reduced to sea level), mmHg; salinity: parts per
    thousand, 0 to 40. Source: Benson and Krause 1984. Raises ValueError outside those ranges.
    """
    if not LOWEST <= temperature <= HIGHEST:
        raise ValueError("The formula for oxygen holds from 0 to 40 °C.")
    if not Fraction(380) <= pressure <= Fraction(836):
        raise ValueError("The formula for oxygen holds from 380 to 836 mmHg.")
    kelvin = temperature + Fraction("273.15")
    log = (
        Fraction("-139.34411")
        + Fraction("157570.1") / kelvin
        - Fraction(66423080) / kelvin**2
        + Fraction(12438000000) / kelvin**3
        - Fraction(862194900000) / kelvin**4
        - salinity * (Fraction("0.017674") - Fraction("10.754") / kelvin + Fraction("2140.7") / kelvin**2)
    )
    atm = pressure / MMHG_PER_ATM
    vapour = vapour_pressure(temperature)
    theta = Fraction("0.000975") - Fraction("0.00001426") * temperature + Fraction("0.00000006436") * temperature**2
    share = atm * (1 - vapour / atm) * (1 - theta * atm) / ((1 - vapour) * (1 - theta))
    return exponential(log) * share


def pressure_at(height: Fraction) -> Fraction:
    """Return the usual air pressure at a height above sea level in m, mmHg.

    Source: US Standard Atmosphere 1976, troposphere: 760 (1 - 0.0065 h / 288.15)^5.25588. Weather moves the true value
    by 15 mmHg and more, so it is an estimate.
    """
    return MMHG_PER_ATM * power(1 - Fraction("0.0065") * height / Fraction("288.15"), Fraction("5.25588"))
