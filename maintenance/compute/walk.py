"""What a walk asks: on which days, what to ask again about a number typed, and what was left undone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from assets.compute import rounding
from assets.compute.canonical import canonical
from assets.compute.formulas.dosing import delivered
from assets.compute.readings.asked import Asked
from assets.compute.readings.counting import Counter, about_counter, stood
from assets.compute.readings.facts import Taken, last_before, plain
from assets.compute.readings.plausibility import Bound, Thresholds, about_value
from assets.compute.readings.series import Broken, Count, usual_rate

DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
EVERY_DAY = "1234567"
HOURS = "h"
DRAWDOWN_UNIT = "mL/min"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asks:
    """A line of a check point that asks a number, as far as questions about it go; all values in `unit`.

    counter: whether the number only rises; modulus: at which it begins anew, if known; bounds: its limits; constant:
    whether it stands still where all is well.
    """

    unit: str
    counter: bool = False
    modulus: Fraction | None = None
    bounds: tuple[Bound, ...] = ()
    constant: bool = False
    thresholds: Thresholds = Thresholds()


def questions(now: Taken, history: Sequence[Count], asks: Asks, *, broken: Broken | None = None) -> tuple[Asked, ...]:
    """Return what to ask about a number typed, likeliest slip first; `broken`: why a counter fell, if that was said."""
    if not asks.counter:
        return about_value(
            now, history, bounds=asks.bounds, constancy_is_normal=asks.constant, thresholds=asks.thresholds
        )
    earlier = [one for one in history if one.at < now.at]
    counter = Counter(hours=asks.unit == HOURS, modulus=asks.modulus, an_hour=usual_rate(earlier))
    found = about_counter(now, last_before(now, earlier), counter=counter, broken=broken)
    still = None if asks.constant else stood(now, earlier, days=asks.thresholds.same_days)
    return (*found, *((still,) if still is not None else ()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """One question as it was put, and what was answered; '' where nobody was there to answer it."""

    key: str
    head: str
    sentence: str
    answer: str = ""

    @property
    def open(self) -> bool:
        """Whether it still waits for an answer."""
        return not self.answer


def answered(asked: Iterable[Asked], answers: Mapping[str, str]) -> tuple[Answered, ...]:
    """Return questions with what was answered to each, in the words of the answer."""
    return tuple(
        Answered(key=one.key, head=one.head, sentence=one.sentence, answer=_label(one, answers.get(one.key, "")))
        for one in asked
    )


def _label(asked: Asked, key: str) -> str:
    return next((one.label for one in asked.answers if one.key == key), "")


def as_text(found: Sequence[Answered]) -> str:
    """Return questions and answers in their one spelling; '' for none."""
    if not found:
        return ""
    return canonical([{"key": a.key, "head": a.head, "sentence": a.sentence, "answer": a.answer} for a in found])


def drawn(volume: Fraction, seconds: Fraction) -> Fraction:
    """Return what a feed pump gave, mL/min, from mL in seconds, exact. Raises ValueError for no time."""
    if seconds <= 0:
        raise ValueError("A drawdown takes more than no time; write the seconds.")
    return delivered(volume, seconds)


def as_entered(value: Fraction) -> str:
    """Write a value that was worked out as a reading holds it: with all its decimals, at most six."""
    places = next((n for n in range(6) if (value * 10**n).denominator == 1), 6)
    return rounding.shown(value, places)


def said_of(bounds: Sequence[Bound], unit: str) -> str:
    """Write limits as they stand beside the box: Limits 560 to 720 kPa, At most 720 kPa; '' where there are none."""
    low = max((one.value for one in bounds if one.side == "low"), default=None)
    high = min((one.value for one in bounds if one.side == "high"), default=None)
    if low is not None and high is not None:
        return f"Limits {plain(low)} to {plain(high)} {unit}"
    if high is not None:
        return f"At most {plain(high)} {unit}"
    return f"At least {plain(low)} {unit}" if low is not None else ""


def asked_on(days: str, day: dt.date) -> bool:
    """Tell whether a round is asked on a day; days: digits of the week, 1 is Monday."""
    return str(day.isoweekday()) in days


def days_said(days: str) -> str:
    """Write the days of a round: every day, Monday to Friday, Monday and Thursday."""
    if set(days) == set(EVERY_DAY):
        return "every day"
    if days == "12345":
        return "Monday to Friday"
    names = [DAYS[int(one) - 1] for one in sorted(set(days))]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def next_to_do(done: Mapping[int, bool], after: int) -> int | None:
    """Return the number of the next check point not yet done, after this one, else the first one left; None for none.

    done: by number.
    """
    left = sorted(number for number, is_done in done.items() if not is_done)
    return next((number for number in left if number > after), left[0] if left else None)


def undone_said(names: Sequence[str], of: int) -> str:
    """Say which check points were left undone: 2 of 22 check points left undone: Flotation 1, UV."""
    if not names:
        return f"All {of} check points done." if of != 1 else "The check point is done."
    many = "check point" if of == 1 else "check points"
    return f"{len(names)} of {of} {many} left undone: {', '.join(names)}."
