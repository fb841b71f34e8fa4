"""What a walk asks: on which days, what to ask again about a number typed, and what was left undone."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from assets.compute import rounding
from assets.compute.canonical import canonical
from assets.compute.formulas.dosing import delivered
from assets.compute.readings.asked import Asked
from assets.compute.readings.counting import Counter, about_counter, stood
from assets.compute.readings.exchange import Meter, Walked, exchanged, shows_other
from assets.compute.readings.facts import Taken, last_before, plain
from assets.compute.readings.plausibility import Bound, Thresholds, about_value
from assets.compute.readings.series import Broken, Count, usual_rate
from assets.compute.words import count_of

DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
EVERY_DAY = "1234567"
HOURS = "h"
STARTS = "starts"
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
    found = about_counter(now, last_before(now, earlier), counter=_counter(asks, earlier), broken=broken)
    still = None if asks.constant else stood(now, earlier, days=asks.thresholds.same_days)
    return (*found, *((still,) if still is not None else ()))


def _counter(asks: Asks, earlier: Sequence[Count]) -> Counter:
    return Counter(
        hours=asks.unit == HOURS, starts=asks.unit == STARTS, modulus=asks.modulus, an_hour=usual_rate(earlier)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """The counter of one machine as this walk sees it: its readings before, and the number typed or read on the walk.

    now: None where it was not read on this walk yet.
    """

    tag: str
    asks: Asks
    history: tuple[Count, ...]
    now: Taken | None = None


def other_way_round(one: Seen, twin: Seen) -> Asked | None:
    """Return what to ask where a number typed for `one` is that of its twin; all values in one unit.

    Answers: `round` where both numbers are there and fit the other way round, else `other`: this one is typed anew.
    """
    now, other_now = one.now, twin.now
    mine, other = _meter(one), _meter(twin)
    if now is None or mine is None or other is None:
        return None
    walked = Walked(tag=mine.tag, last=mine.last, counter=mine.counter, now=now)
    if other_now is not None:
        both = exchanged(walked, Walked(tag=other.tag, last=other.last, counter=other.counter, now=other_now))
        if both is not None:
            return both
    return shows_other(walked, other)


def _meter(seen: Seen) -> Meter | None:
    earlier = [one for one in seen.history if seen.now is None or one.at < seen.now.at]
    if not earlier:
        return None
    return Meter(tag=seen.tag, last=max(earlier, key=lambda one: one.at), counter=_counter(seen.asks, earlier))


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """One question as it was put, and what was answered; '' where nobody was there to answer it.

    numbers: what the answer asked for in turn, as typed: where a counter begins anew, the last number of the old one.
    """

    key: str
    head: str
    sentence: str
    answer: str = ""
    numbers: Mapping[str, str] = field(default_factory=dict)

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
    return canonical([_as_told(one) for one in found])


def _as_told(one: Answered) -> dict[str, object]:
    told: dict[str, object] = {"key": one.key, "head": one.head, "sentence": one.sentence, "answer": one.answer}
    return {**told, "numbers": dict(one.numbers)} if one.numbers else told


def as_answered(text: str) -> tuple[Answered, ...]:
    """Read back what `as_text` wrote."""
    return tuple(Answered(**told) for told in json.loads(text)) if text else ()


FELL = "fell"
ROUND = "round"
EXCHANGED = "exchanged"
READING = "reading"
"""Name of the number, beside the answer that two machines were exchanged, that is the key of the other's reading."""


def fell_because(answer: str, numbers: Mapping[str, str]) -> Answered:
    """Return why a counter shows less than before, with its numbers as typed, so that it is known where it is taken."""
    told = ", ".join(text for text in numbers.values() if text)
    sentence = f"It does not go on from the number before: {told}."
    return Answered(key=FELL, head="It shows less than before", sentence=sentence, answer=answer, numbers=numbers)


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
    return f"{len(names)} of {count_of(of, 'check point')} left undone: {', '.join(names)}."
