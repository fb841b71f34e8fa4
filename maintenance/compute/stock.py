"""Stock of spare parts: amounts in whole thousandths of a unit, what is left by its last day, how long it lasts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.numbers import NotANumber, read_number

THOUSANDTHS = 1000
LARGEST = 1_000_000_000  # thousandths: a million pieces are a slip of the finger
YEAR = 365
LEAST_USES, LEAST_SPAN = 3, 90


class NotAnAmount(ValueError):
    """The typed text is no amount of a part; the message says what would be right."""


@dataclass(frozen=True, slots=True)
class Moved:
    """One change of the stock: thousandths of a unit, plus or minus; the day; the last day of what was received."""

    kind: str
    thousandths: int
    on: dt.date
    expires: dt.date | None = None


@dataclass(frozen=True, slots=True)
class Cover:
    """How many days the stock lasts at the use of the last `span` days; `days` is None where that is too few to say.

    `used` is in thousandths, what was put back taken off; `n` is how often something was used.
    """

    days: int | None
    used: int
    n: int
    span: int


def amount_of(typed: str, *, decimal_mark: str = ".", nothing: bool = False) -> int:
    """Return a typed amount in thousandths of its unit, exactly.

    nothing: whether 0 may be meant, as in a count. Raises NotAnAmount for what is no number, is below or at nothing, or
    has more than three decimals.
    """
    try:
        exact = read_number(typed, decimal_mark=decimal_mark) * THOUSANDTHS
    except NotANumber as wrong:
        raise NotAnAmount(str(wrong)) from wrong
    if exact.denominator != 1:
        raise NotAnAmount(f"“{typed.strip()}” has more than three decimals; write it like 2 or 0.25.")
    if exact < 0 or (exact == 0 and not nothing):
        raise NotAnAmount(f"“{typed.strip()}” is no amount; write {'0 or more' if nothing else 'more than 0'}.")
    if exact > LARGEST:
        raise NotAnAmount(f"“{typed.strip()}” is more than a plant keeps; look at the decimal mark and the unit.")
    return int(exact)


def amount_text(thousandths: int) -> str:
    """Write an amount in its unit without empty decimals: 2, 0.25, −1.5."""
    whole, part = divmod(abs(thousandths), THOUSANDTHS)
    text = f"{whole}.{part:03d}".rstrip("0") if part else str(whole)
    return f"\u2212{text}" if thousandths < 0 else text


def in_unit(thousandths: int, unit: str) -> str:
    """Write an amount with its unit: 1 piece, 2 pieces, 0.25 L."""
    word = f"{unit}s" if unit == "piece" and abs(thousandths) != THOUSANDTHS else unit
    return f"{amount_text(thousandths)} {word}"


def in_stock(moves: Iterable[Moved]) -> int:
    """Return what is in stock, in thousandths: the sum of every move."""
    return sum(move.thousandths for move in moves)


def left_by_last_day(moves: Iterable[Moved]) -> dict[dt.date | None, int]:
    """Return what is left of what was received, by its last day, in thousandths.

    What leaves the stock is taken from what expires first, and what has no last day comes after all that has one: the
    assumption of a store that is used in order, common practice. What is put back or found in a count has no last day.
    """
    left: dict[dt.date | None, int] = {}
    for move in moves:
        if move.thousandths > 0:
            left[move.expires] = left.get(move.expires, 0) + move.thousandths
        else:
            _take(left, -move.thousandths)
    return left


def _take(left: dict[dt.date | None, int], wanted: int) -> None:
    for day in sorted(left, key=lambda one: (one is None, one or dt.date.max)):
        taken = min(left[day], wanted)
        left[day] -= taken
        wanted -= taken
        if not left[day]:
            del left[day]


def cover_of(moves: Iterable[Moved], today: dt.date) -> Cover:
    """Return how long the stock lasts at the mean use of the last 365 days, or of the days since the first move.

    days = stock x span / used, whole days rounded down: common practice, no source. Too few to say below three uses or
    ninety days: own judgement.
    """
    every = list(moves)
    first = min((move.on for move in every), default=today)
    span = min(YEAR, max(1, (today - first).days))
    since = today - dt.timedelta(days=YEAR)
    lately = [move for move in every if move.on > since and move.kind in {"used", "returned"}]
    used = -sum(move.thousandths for move in lately)
    n = sum(1 for move in lately if move.kind == "used")
    enough = used > 0 and n >= LEAST_USES and span >= LEAST_SPAN
    days = int(Fraction(in_stock(every) * span, used)) if enough else None
    return Cover(days, max(used, 0), n, span)


def money(typed: str) -> Fraction:
    """Return a price or a cost kept as typed; nothing typed is nothing."""
    return read_number(typed, decimal_mark=",") if typed.strip() else Fraction(0)
