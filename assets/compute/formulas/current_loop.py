"""The 4 to 20 mA signal: what a current stands for, square root and all, and what NE 43 makes of it."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal, TypeAlias

from assets.compute.transcendental import square_root

Signal: TypeAlias = Literal["failure low", "questionable", "under-range", "measurement", "over-range", "failure high"]


def value_at(current: Fraction, lower: Fraction, upper: Fraction) -> Fraction:
    """Return what a current in mA stands for between the lower and upper end of the range."""
    return lower + (current - 4) / 16 * (upper - lower)


def current_for(value: Fraction, lower: Fraction, upper: Fraction) -> Fraction:
    """Return the current in mA for a value between the lower and upper end of the range."""
    return 4 + 16 * (value - lower) / (upper - lower)


def root_current(linear: Fraction) -> Fraction:
    """Return the current in mA after square-root extraction of a linear current in mA: 4 + 4 √(I - 4)."""
    return 4 + 4 * square_root(linear - 4)


def flow_share(pressure_share: Fraction) -> Fraction:
    """Return the share of full flow at a share of full differential pressure."""
    return square_root(pressure_share)


def signal_band(current: Fraction) -> Signal:
    """Return what NE 43 makes of a current in mA.

    3.8 to 20.5 is a valid signal; up to 3.6 and from 21.0 a failure, the edges included (from memory; a tutorial leaves
    them out); in between it is questionable.
    """
    if current <= Fraction("3.6"):
        return "failure low"
    if current < Fraction("3.8"):
        return "questionable"
    if current < 4:
        return "under-range"
    if current <= 20:
        return "measurement"
    if current <= Fraction("20.5"):
        return "over-range"
    return "questionable" if current < 21 else "failure high"
