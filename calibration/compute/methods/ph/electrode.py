"""The line of a pH electrode and what it says: slope, part of theory, offset, zero point, error at the process."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from calibration.compute.method import Band
from calibration.compute.straight_line import StraightLine, line_through

NERNST_TEXT = "0.1984214311"
NERNST_MV_PER_PH_PER_K = Fraction(NERNST_TEXT)
"""ln 10 · R / F in mV per pH and kelvin, ten digits, from the exact constants of the 2019 SI (CODATA 2018)."""

KELVIN = Fraction("273.15")
NEUTRAL = Fraction(7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Electrode:
    """An electrode by its own line of millivolts against pH.

    slope and nernst in mV/pH, percent of theory (positive for a probe that goes the right way), offset in mV at
    pH 7.00, zero_point in pH (None for a level line), temperature in degC.
    """

    line: StraightLine
    temperature: Fraction
    nernst: Fraction
    counts_up: bool = False

    @property
    def slope(self) -> Fraction:
        """S, signed, mV/pH: negative, or positive for a probe that counts the other way."""
        return self.line.slope

    @property
    def percent(self) -> Fraction:
        """100 (-S) / k(T), % of the theoretical slope; 100 S / k(T) for a probe that counts the other way."""
        return 100 * (self.slope if self.counts_up else -self.slope) / self.nernst

    @property
    def offset(self) -> Fraction:
        """The line's value at pH 7.00, mV: not the reading in the '7' buffer."""
        return self.line.at(NEUTRAL)

    @property
    def zero_point(self) -> Fraction | None:
        """The pH at which the line has 0 mV: 7.00 - offset / S."""
        return None if self.slope == 0 else NEUTRAL - self.offset / self.slope

    def slope_at(self, temperature: Fraction) -> Fraction:
        """Return the slope carried to another temperature in degC, S (T + 273.15) / (Tcal + 273.15), mV/pH."""
        return self.slope * (temperature + KELVIN) / (self.temperature + KELVIN)

    def sample_ph(self, mv: Fraction, temperature: Fraction, *, pivot: Literal["0 mV", "pH 7"]) -> Fraction:
        """Return the pH of a sample from its millivolts at its temperature in degC.

        Makers turn the line either about 0 mV or about pH 7 with its own offset; `pivot` says which. Raises
        ZeroDivisionError for a level line.
        """
        slope = self.slope_at(temperature)
        if pivot == "pH 7":
            return NEUTRAL + (mv - self.offset) / slope
        return NEUTRAL - self.offset / self.slope + mv / slope


@dataclass(frozen=True, slots=True, kw_only=True)
class ElectrodeLimits:
    """Limits of an electrode by itself: slope in % of theory, offset at pH 7 in mV either side of 0."""

    slope_low: Fraction
    slope_high: Fraction
    offset: Fraction


def nernst_slope(temperature: Fraction) -> Fraction:
    """Return the theoretical slope k(T) = 0.1984214311 (T + 273.15), mV/pH, T in degC."""
    return NERNST_MV_PER_PH_PER_K * (temperature + KELVIN)


def electrode(
    points: tuple[tuple[Fraction, Fraction], ...], temperature: Fraction, *, counts_up: bool = False
) -> Electrode | None:
    """Return the electrode from points (pH of the buffer, mV) at the mean temperature of the buffers, degC.

    Two points: S = (E2 - E1) / (pH2 - pH1). Three: least squares of mV on pH. None when all buffers have one pH.
    """
    line = line_through(points)
    if line is None:
        return None
    return Electrode(line=line, temperature=temperature, nernst=nernst_slope(temperature), counts_up=counts_up)


def electrode_within(probe: Electrode, limits: ElectrodeLimits) -> bool:
    """Tell whether slope and offset both lie within their limits, limits included.

    This judges the electrode by itself; a check is judged by its error at the process value.
    """
    return limits.slope_low <= probe.percent <= limits.slope_high and abs(probe.offset) <= limits.offset


def limits_of(slope: Band, offset: Band) -> ElectrodeLimits:
    """Put the two bands of a check together as limits of the electrode; an open side of a band is a ValueError."""
    if slope.low is None or slope.high is None or offset.high is None:
        raise ValueError("The limits of an electrode need a lowest and a highest slope and a largest offset.")
    return ElectrodeLimits(slope_low=slope.low, slope_high=slope.high, offset=offset.high)
