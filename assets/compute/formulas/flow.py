"""Flow by a measured volume: a tank that is filled or drawn down, and what a meter made of it."""

from __future__ import annotations

from fractions import Fraction


def flow_from_level(area: Fraction, change: Fraction, seconds: Fraction, leak: Fraction, *, filling: bool) -> Fraction:
    """Return the true mean flow through the meter, m^3/h.

    area: m^2; change: of the level, m, above zero; seconds: of the test; leak: fall with every valve shut, m an hour.
    Drawing down through the meter the leak went elsewhere and is taken off; filling it was lost and is put back.
    """
    lost = leak * seconds / 3600
    return area * (change + lost if filling else change - lost) * 3600 / seconds


def error_of_true(indicated: Fraction, true: Fraction) -> Fraction:
    """Return the error in % of the true flow: how instruments are judged."""
    return 100 * (indicated - true) / true


def error_of_meter(indicated: Fraction, true: Fraction) -> Fraction:
    """Return the error in % of what the meter shows: the form of some utility commissions (COMAR 20.70.06.04)."""
    return 100 * (indicated - true) / indicated


def volume_missed(metered: Fraction, registration: Fraction) -> Fraction:
    """Return how much more went through than was metered, in the unit of the volume; registration in %, 100 = true.

    Source: tables of water-loss control: metered / (registration / 100) - metered.
    """
    return metered * 100 / registration - metered
