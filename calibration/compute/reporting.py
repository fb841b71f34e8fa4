"""How a result and its uncertainty are written: at most two digits of U, the result to the same place.

Three uses, three rules: a report (JCGM 100:2008 7.2.6), a page of ours (two digits, never less than the uncertainty),
and what is kept beside a check (six digits). None of them is ever judged with: the guard band takes U unrounded.
"""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from fractions import Fraction

from assets.compute.rounding import shown
from assets.compute.transcendental import as_decimal, settled

MAY_LOWER = Fraction(1, 100)
"""How much smaller ordinary rounding may make U before it is rounded up: own judgement.

It lies between the two published cases, of which the first goes up and the second down: 10.47 -> 11 (10 would be 4.5 %
less) and 28.05 -> 28 (0.2 % less).
"""

MAY_LOWER_EA = Fraction(1, 20)
"""The same by EA-4/02 M:2022, 6.3 (from memory): 5 %."""

TWO = 2
KEPT_DIGITS = 6


def as_exact(value: Fraction | float) -> Fraction:
    """Return a number as an exact one; a float is taken at twelve significant digits, a fraction as it is."""
    return value if isinstance(value, Fraction) else settled(Decimal(repr(float(value))))


def rounded_uncertainty(expanded: Fraction | float, *, may_lower: Fraction = MAY_LOWER) -> tuple[Fraction, int]:
    """Return U at two significant digits and the place of its last digit (2: hundredths, -1: tens).

    Rounded to the nearest, but up where that would make it smaller by more than `may_lower` of itself.
    Raises ValueError unless U is above 0.
    """
    exact = as_exact(expanded)
    near, places = _at_digits(exact, TWO, ROUND_HALF_UP)
    return _at_digits(exact, TWO, ROUND_CEILING) if exact - near > may_lower * exact else (near, places)


def reported(
    value: Fraction | float, expanded: Fraction | float, *, may_lower: Fraction = MAY_LOWER
) -> tuple[str, str]:
    """Return the result and its U as text for a report, the result rounded to the last place of U (a half goes up).

    10.05762 with 0.027 gives '10.058', '0.027'. JCGM 100:2008 7.2.6; two digits also by ILAC-P14:09/2020 5.4 (from
    memory). Raises ValueError unless U is above 0.
    """
    near, places = rounded_uncertainty(expanded, may_lower=may_lower)
    return _text(as_exact(value), places), _text(near, places)


def shown_up(expanded: Fraction | float) -> str:
    """Return U at two significant digits, rounded up, for a page: what is shown is never less than what is judged with.

    Raises ValueError unless U is above 0.
    """
    return _text(*_at_digits(as_exact(expanded), TWO, ROUND_CEILING))


def kept(expanded: Fraction | float) -> str:
    """Return U at six significant digits as plain decimal text, to be stored. Raises ValueError unless U is above 0."""
    return _text(*_at_digits(as_exact(expanded), KEPT_DIGITS, ROUND_HALF_EVEN))


def significant(value: Fraction | float, digits: int = 3) -> str:
    """Return any number at so many significant digits, for show in a working; 0 for nothing."""
    exact = as_exact(value)
    if exact == 0:
        return "0"
    near, places = _at_digits(abs(exact), digits, ROUND_HALF_UP)
    return _text(near if exact > 0 else -near, places)


def places_of(value: Fraction | float, digits: int = 3) -> int:
    """Return how many decimals show so many significant digits of a number, 0 or more."""
    exact = abs(as_exact(value))
    return max(0, _at_digits(exact, digits, ROUND_HALF_UP)[1]) if exact else 0


def _at_digits(value: Fraction, digits: int, rounding: str) -> tuple[Fraction, int]:
    """Round a positive number to significant digits; 9.96 at two digits is 10, whose last place is that of the ones."""
    if value <= 0:
        raise ValueError("An uncertainty that is written is above 0.")
    places = digits - 1 - as_decimal(value).adjusted()
    near = _quantised(value, places, rounding)
    if as_decimal(near).adjusted() > digits - 1 - places:
        places -= 1
        near = _quantised(value, places, rounding)
    return near, places


def _quantised(value: Fraction, places: int, rounding: str) -> Fraction:
    scaled = value * Fraction(10) ** places
    whole, rest = divmod(scaled.numerator, scaled.denominator)
    up = {
        ROUND_CEILING: rest > 0,
        ROUND_HALF_UP: 2 * rest >= scaled.denominator,
        ROUND_HALF_EVEN: 2 * rest > scaled.denominator or (2 * rest == scaled.denominator and whole % 2 == 1),
    }[rounding]
    return (whole + up) / Fraction(10) ** places


def _text(value: Fraction, places: int) -> str:
    """Write a number to a place; places left of the mark are noughts."""
    if places >= 0:
        return shown(value, places)
    step = Fraction(10) ** -places
    half = Fraction(1, 2) if value >= 0 else Fraction(-1, 2)
    return shown(int(value / step + half) * step, 0)
