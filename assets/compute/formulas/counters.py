"""Hour meters and totalizers: the difference of two readings, with rollover and with a meter that was replaced."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

READING_HOURS = Fraction(1, 10)
"""What two readings of an hour meter may differ by their last wheel: own judgement."""

NEAR = Fraction(1, 20)
"""How near a count must be to look like another one: own judgement."""


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


def longer_than_time(hours: Fraction, elapsed: Fraction) -> bool:
    """Tell whether a machine would have run longer than there was time, both in h; 0.1 h is left for reading it."""
    return hours > elapsed + READING_HOURS


def tenfold(counted_now: Fraction, expected: Fraction) -> bool:
    """Tell whether a count is ten times, or a tenth of, what was expected, within 5 %; own judgement.

    Raises ZeroDivisionError where nothing was expected.
    """
    ratio = counted_now / expected
    return any(abs(ratio / factor - 1) <= NEAR for factor in (Fraction(10), Fraction(1, 10)))


def exchanged(now: tuple[Fraction, Fraction], usual: tuple[Fraction, Fraction]) -> bool:
    """Tell whether two counts are each the usual one of the other machine, within 5 %, and not that of their own.

    now and usual: (first machine, second machine), one unit. Own judgement; never true for machines that run alike.
    """
    crossed = _near(now[0], usual[1]) and _near(now[1], usual[0])
    return crossed and not (_near(now[0], usual[0]) and _near(now[1], usual[1]))


def _near(value: Fraction, other: Fraction) -> bool:
    return abs(value - other) <= NEAR * abs(other)
