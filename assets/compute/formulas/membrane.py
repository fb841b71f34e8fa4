"""Membranes by pressure decay: how fast the air leaks, and the removal that proves."""

from __future__ import annotations

from fractions import Fraction

from assets.compute.transcendental import log_ten, ten_to


def decay_rate(start: Fraction, end: Fraction, minutes: Fraction) -> Fraction:
    """Return the decay of the test pressure, kPa/min; start and end in kPa."""
    return (start - end) / minutes


def log_removal(
    rate: Fraction, *, flow: Fraction, ratio: Fraction, air: Fraction, volume: Fraction, factor: Fraction
) -> Fraction:
    """Return log10(Qp ALCR Patm / (decay V VCF)).

    rate: kPa/min; flow: filtrate, L/min; ratio: air-liquid conversion ratio; air: kPa; volume: pressurised, L; factor:
    volumetric concentration factor. Form of the US membrane filtration guidance, from memory.
    """
    return log_ten(flow * ratio * air / (rate * volume * factor))


def largest_decay(
    removal: Fraction, *, flow: Fraction, ratio: Fraction, air: Fraction, volume: Fraction, factor: Fraction
) -> Fraction:
    """Return the decay rate, kPa/min, at which just this log removal is proved."""
    return flow * ratio * air / (ten_to(removal) * volume * factor)
