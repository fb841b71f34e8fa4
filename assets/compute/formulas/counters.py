"""Hour meters and totalizers: the difference of two readings, with rollover and with a meter that was replaced."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Replaced:
    """A meter that was exchanged between two readings: what the old one showed last and the new one first."""

    old_last: Fraction
    new_first: Fraction


def counted(
    before: Fraction, now: Fraction, *, modulus: Fraction | None = None, replaced: Replaced | None = None
) -> Fraction:
    """Return what was counted between two readings, in the unit of the meter.

    modulus: the number at which the meter begins anew (100000 for five digits); a lower reading means one rollover.
    Raises ValueError where a reading went down and neither rollover nor replacement explains it.
    """
    if replaced is not None:
        return counted(before, replaced.old_last, modulus=modulus) + counted(replaced.new_first, now, modulus=modulus)
    if now >= before:
        return now - before
    if modulus is None:
        raise ValueError("The meter shows less than before. Did it roll over, was it replaced, or is it a slip?")
    return now + modulus - before


def duty(hours: Fraction, elapsed: Fraction) -> Fraction:
    """Return the share of the time a machine ran, 0 to 1; both in h."""
    return hours / elapsed
