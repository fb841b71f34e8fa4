"""What to ask about one typed number that is no counter: its unit, point and limits, what is usual, standing still.

Nothing here changes what was typed. `about_value` puts the questions in their order, the likeliest slip first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median
from typing import Literal

from assets.compute.readings.asked import SLIP, Answer, Asked, looked_again
from assets.compute.readings.facts import Taken, before, days_between, last_before, moved_point, plain, when
from assets.compute.readings.usual import FACTOR, LAST, LEAST, TooFew, Usual, usual
from assets.compute.rounding import as_typed
from assets.compute.units import UnknownUnit, codes_for, convert, same_quantity, unit_of
from assets.compute.words import count_of, day_said

NEAR = Fraction(1, 4)
"""How near the usual a number must come to be what was meant: a quarter of it; own judgement."""

SAME_DAYS = 7
"""Calendar days of one and the same number after which it is asked about: own judgement."""

SAME_LEAST = 4
"""Readings that must show it: own judgement, so that two weekly readings alike are not asked about."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """A limit on a reading: its name, its side, its value in the unit of the readings, and how it is written."""

    name: str
    side: Literal["high", "low"]
    value: Fraction
    told: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """When a number is asked about; each is own judgement and can be set by the site.

    last, least, factor: of what is usual; near: share of the usual that a slip must come to; same_days, same_least:
    days and readings of one and the same number.
    """

    last: int = LAST
    least: int = LEAST
    factor: Fraction = FACTOR
    near: Fraction = NEAR
    same_days: int = SAME_DAYS
    same_least: int = SAME_LEAST


USUAL_THRESHOLDS = Thresholds()


def about_value(
    now: Taken,
    history: Sequence[Taken],
    *,
    bounds: Sequence[Bound] = (),
    constancy_is_normal: bool = False,
    thresholds: Thresholds = USUAL_THRESHOLDS,
) -> tuple[Asked, ...]:
    """Return every question about a typed number, the likeliest slip first; all values in the unit of `now`.

    history: standing readings of the same thing at the same face; those not older than `now` are left out.
    """
    slip = decimal_slip(now, history, thresholds=thresholds) or unit_slip(now, history, thresholds=thresholds)
    over = out_of_limit(now, bounds, history)
    far = None if slip or over else far_out(now, history, thresholds=thresholds)
    still = None if constancy_is_normal else same_value(now, history, thresholds=thresholds)
    return tuple(one for one in (slip, over, far, still) if one is not None)


def unit_doubt(typed: str, expected: str) -> Asked | None:
    """Refuse a unit that is not known, or that measures something else than the place does; `expected` is its code."""
    try:
        code = unit_of(typed).code
    except UnknownUnit as wrong:
        return Asked(key="unit", head="Unit not known", sentence=str(wrong), suggestion=expected, weight="refuse")
    if same_quantity(code, expected):
        return None
    sentence = f"This is read in {expected}; {code} measures something else."
    return Asked(key="unit", head="Another quantity", sentence=sentence, suggestion=expected, weight="refuse")


def out_of_limit(now: Taken, bounds: Sequence[Bound], history: Sequence[Taken] = ()) -> Asked | None:
    """Ask about a number beyond a limit; one that is equal to it is inside. Of several limits, the farthest passed."""
    lows, highs = ([one for one in bounds if one.side == side] for side in ("low", "high"))
    if lows and highs and max(one.value for one in lows) > min(one.value for one in highs):
        sentence = "A low limit lies above a high one, so no number can be right here. Tell the supervisor."
        return Asked(key="limits", head="The limits contradict each other", sentence=sentence)
    over = [one for one in highs if now.value > one.value]
    under = [one for one in lows if now.value < one.value]
    if over:
        return _beyond(now, max(over, key=lambda one: one.value), "Above", "over", history)
    if under:
        return _beyond(now, min(under, key=lambda one: one.value), "Below", "under", history)
    return None


def _beyond(now: Taken, bound: Bound, above: str, over: str, history: Sequence[Taken]) -> Asked:
    last = last_before(now, history)
    was = f" {_cap(when(last.at, now.at))} it was {last.told}." if last is not None else ""
    told = bound.told or f"{plain(bound.value)} {now.unit}".strip()
    return Asked(
        key="limit-high" if above == "Above" else "limit-low",
        head=f"{above} the {bound.name}, {told}",
        sentence=f"{now.told} is {plain(abs(now.value - bound.value))} {over}.{was} Look again: is it steady?",
        answers=looked_again(now.told),
        source="the limit of this place",
    )


def decimal_slip(now: Taken, history: Sequence[Taken], *, thresholds: Thresholds = USUAL_THRESHOLDS) -> Asked | None:
    """Ask about ten times or a tenth of the usual, naming what may have been meant; from the first reading on.

    Only where the number itself is unusual and the one with its point moved would not be.
    """
    earlier = before(now, history)[-thresholds.last :]
    if not earlier:
        return None
    known = _usual(earlier, thresholds)
    middle = median([one.value for one in earlier])

    def likely(value: Fraction) -> bool:
        return abs(value - middle) <= thresholds.near * abs(middle) or (isinstance(known, Usual) and known.holds(value))

    if likely(now.value):
        return None
    goes_below_zero = any(one.value < 0 for one in earlier)
    for places in (-1, 1):
        meant = now.value * Fraction(10) ** places
        if likely(meant) and (meant >= 0 or goes_below_zero):
            text = moved_point(now.text, places) if now.text else plain(meant)
            usual_is = f"{plain(middle)} {now.unit}".strip()
            of = count_of(len(earlier), "reading")
            sentence = f"Usual is {usual_is}, the middle of {of}. Did you mean {as_typed(text)}?"
            return Asked(
                key="decimal",
                head="Has the point slipped?",
                sentence=sentence,
                suggestion=text,
                answers=looked_again(now.told),
            )
    return None


def unit_slip(now: Taken, history: Sequence[Taken], *, thresholds: Thresholds = USUAL_THRESHOLDS) -> Asked | None:
    """Ask about a number that would be usual in another unit of its quantity: 4.2 written as kPa where bar is meant."""
    known = _usual(before(now, history), thresholds)
    if isinstance(known, TooFew) or not now.unit or known.holds(now.value):
        return None
    for code in codes_for(now.unit)[1:]:
        if known.holds(convert(now.value, code, now.unit)):
            text = f"{now.text or plain(now.value)} {code}"
            sentence = (
                f"{now.told} is far from the usual {plain(known.middle)} {now.unit}, {text} would not be. "
                f"Did you mean {text}?"
            )
            return Asked(
                key="unit-slip",
                head="Perhaps another unit",
                sentence=sentence,
                suggestion=text,
                answers=looked_again(now.told),
            )
    return None


def far_out(now: Taken, history: Sequence[Taken], *, thresholds: Thresholds = USUAL_THRESHOLDS) -> Asked | None:
    """Ask about a number far outside what is usual; never where too few readings say what that is."""
    known = _usual(before(now, history), thresholds)
    if isinstance(known, TooFew) or known.holds(now.value):
        return None
    sentence = (
        f"{now.told} is outside what is usual here, {plain(known.low)} to {plain(known.high)} {now.unit}".rstrip()
        + f", by the last {known.n} readings. Look again."
    )
    return Asked(key="far", head="Far from the usual", sentence=sentence, answers=looked_again(now.told))


def same_value(now: Taken, history: Sequence[Taken], *, thresholds: Thresholds = USUAL_THRESHOLDS) -> Asked | None:
    """Ask about one and the same number for a week: copied, standing still, or a display too coarse to move.

    Not to be called for what is normally constant: set points, valve positions, the hours of a machine that stands.
    """
    run = [now]
    for one in reversed(before(now, history)):
        if one.value != now.value:
            break
        run.append(one)
    first = run[-1]
    days = days_between(first.at, now.at)
    if days < thresholds.same_days or len(run) < thresholds.same_least:
        return None
    since = day_said(first.at.astimezone(now.at.tzinfo).date(), now.at.date())
    sentence = (
        f"{now.told} was written {len(run)} times in {days} days, since {since}. Was it read each time, and does it "
        "move at all? A coarse display can stand still and be right."
    )
    answers = (Answer(key="stands", label="Read, and it is so"), Answer(key="still", label="It does not move"), SLIP)
    return Asked(key="same", head=f"The same number for {days} days", sentence=sentence, answers=answers)


def _usual(earlier: Sequence[Taken], thresholds: Thresholds) -> Usual | TooFew:
    return usual(earlier, last=thresholds.last, least=thresholds.least, factor=thresholds.factor)


def _cap(text: str) -> str:
    return text[:1].upper() + text[1:]
