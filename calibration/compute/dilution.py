"""What a dilution is worth: volumes of known standards made up to one volume, exact, with the uncertainty where known.

c = sum(c_i V_i) / V. The law of propagation for independent inputs (GUM 5.1.2, equation 10):
u(c)^2 = sum((V_i/V)^2 u(c_i)^2 + (c_i/V)^2 u(V_i)^2) + (c/V)^2 u(V)^2. The tolerance printed on glass is taken as the
half-width of a rectangular distribution, u = a / sqrt(3) (GUM 4.3.7).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_UP, localcontext
from fractions import Fraction

from assets.compute.transcendental import as_decimal, square_root
from calibration.compute.figures import plain
from calibration.compute.method import Line

RECTANGULAR = Fraction(3)
ARITHMETIC = "arithmetic"
GUM = "GUM 5.1.2, equation 10; glass by its tolerance, rectangular, GUM 4.3.7"


class CannotBe(ValueError):
    """A dilution that cannot have been made; the message says why."""


def significant(value: Fraction, digits: int, *, up: bool = False) -> str:
    """Write a number with so many significant digits, without an exponent; `up` rounds away from zero."""
    with localcontext(prec=digits, rounding=ROUND_UP if up else ROUND_HALF_EVEN):
        near = +as_decimal(value)
    return plain(Fraction(near), most=24)


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A volume of one standard: `value` in the unit of the kind, `u` its standard uncertainty, volumes in one unit."""

    called: str
    value: Fraction
    volume: Fraction
    u: Fraction | None = None
    tolerance: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Diluted:
    """The value, its standard uncertainty (None where anything it rests on is not known) and the working."""

    value: Fraction
    u: Fraction | None
    lines: tuple[Line, ...]


def diluted(
    taken: Sequence[Taken], *, made_up: Fraction, tolerance: Fraction | None, unit: str, volume_unit: str
) -> Diluted:
    """Return what parts made up to one volume are worth.

    taken: n parts, values in `unit`, volumes in `volume_unit`; made_up: the whole in `volume_unit`; tolerance: of the
    flask, same unit. Raises CannotBe for no parts, a volume of zero or less, or more taken than made up.
    """
    if not taken:
        raise CannotBe("Nothing is taken; write at least one lot with its volume.")
    if made_up <= 0 or any(one.volume <= 0 for one in taken):
        raise CannotBe("A volume is above zero.")
    if sum(one.volume for one in taken) > made_up:
        raise CannotBe("More is taken than made up; look at the volumes and their unit.")
    amount = sum((one.value * one.volume for one in taken), Fraction(0))
    value = amount / made_up
    u = _uncertainty(taken, value, made_up, tolerance)
    return Diluted(value=value, u=u, lines=tuple(_lines(taken, value, amount, made_up, u, unit, volume_unit)))


def _uncertainty(
    taken: Sequence[Taken], value: Fraction, made_up: Fraction, tolerance: Fraction | None
) -> Fraction | None:
    if tolerance is None:
        return None
    squares = (value / made_up) ** 2 * tolerance**2 / RECTANGULAR
    for one in taken:
        if one.u is None or one.tolerance is None:
            return None
        squares += (one.volume / made_up) ** 2 * one.u**2
        squares += (one.value / made_up) ** 2 * one.tolerance**2 / RECTANGULAR
    return square_root(squares)


def _lines(
    taken: Sequence[Taken],
    value: Fraction,
    amount: Fraction,
    made_up: Fraction,
    u: Fraction | None,
    unit: str,
    volume_unit: str,
) -> list[Line]:
    lines = [
        Line(
            text=f"taken from {one.called}",
            figures=f"{plain(one.volume)} × {significant(one.value, 8)}",
            value=significant(one.value * one.volume, 8),
            unit=f"{unit} · {volume_unit}",
            source=ARITHMETIC,
        )
        for one in taken
    ]
    whole = f"{significant(amount, 8)} / {plain(made_up)}"
    lines.append(
        Line(text="made up with water", figures=whole, value=significant(value, 6), unit=unit, source=ARITHMETIC)
    )
    if u is None:
        words = "uncertainty not stated: that of a lot, or a tolerance of the glass, is not known"
        return [*lines, Line(text=words, figures="", value="", unit="", source="")]
    said = significant(2 * u, 2, up=True)
    lines.append(Line(text="expanded uncertainty, k = 2", figures="", value=said, unit=unit, source=GUM))
    return lines
