"""What to ask about a typed number of a counter: run hours, starts, a totalizer.

`about_counter` puts the questions in their order. What the person answers to a number that fell comes back as `Broken`
and is looked at here too, before it is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas import counters
from assets.compute.readings.asked import SLIP, Answer, Asked
from assets.compute.readings.facts import (
    Taken,
    about,
    before,
    days_between,
    hours_between,
    moved_point,
    plain,
    utc,
    when,
)
from assets.compute.readings.plausibility import SAME_DAYS
from assets.compute.readings.series import Broken, settled, with_break
from assets.compute.words import count_of

LEFT_HOURS = counters.READING_HOURS
"""h by which a machine may seem to have run longer than there was time, for reading it: own judgement."""

STARTS_AN_HOUR = Fraction(20)
"""Starts an hour beyond which a counter of starts is asked about: own judgement; makers of small pumps allow 10 to 15
(common practice, no source)."""

LARGEST_STEP = Fraction(3)
"""How many times the usual a totalizer may have counted for a reading to be likely: own judgement."""

ANSWERS_WHEN_FALLEN = (
    Answer(key="rolled over", label="It began anew at nought", needs=("modulus",)),
    Answer(key="replaced", label="Another counter was put in", needs=("old_last", "new_first")),
    SLIP,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """What is known of a counter.

    hours: whether it counts hours a machine ran, in h; starts: whether it counts how often one started; modulus: the
    number at which it begins anew, if known; an_hour: what it usually counts an hour, if known; left_hours: see
    LEFT_HOURS.
    """

    hours: bool = False
    starts: bool = False
    modulus: Fraction | None = None
    an_hour: Fraction | None = None
    left_hours: Fraction = LEFT_HOURS

    def most(self, elapsed: Fraction) -> Fraction | None:
        """Return the most it can have counted in so many hours, None where nothing is known of it."""
        if self.hours:
            return elapsed + self.left_hours
        if self.starts:
            return most_starts(elapsed)
        return None if self.an_hour is None else LARGEST_STEP * self.an_hour * elapsed


ANY_COUNTER = Counter()


def most_starts(elapsed: Fraction) -> Fraction:
    """Return the starts in so many hours beyond which a number is asked about; one is left for reading it."""
    return STARTS_AN_HOUR * elapsed + 1


def about_counter(
    now: Taken, last: Taken | None, *, counter: Counter = ANY_COUNTER, broken: Broken | None = None
) -> tuple[Asked, ...]:
    """Return every question about a typed number of a counter; all values in one unit, h for hours.

    last: the standing reading before it, None for the first; broken: why it does not go on, if that was answered. A
    number that is written down late is also held against the one after it: `about_counter(after, now)`.
    """
    refused = cannot_show(now, counter)
    if refused is not None or last is None:
        return _asked(refused)
    if broken is None and utc(now.at) == utc(last.at):
        return _asked(one_moment(now, last))
    doubt = break_doubt(now, last, broken) if broken is not None else None
    if doubt is not None and doubt.weight == "refuse":
        return (doubt,)
    slip = counter_slip(now, last, counter=counter) if broken is None else None
    if broken is None and now.value < last.value:
        return _asked(slip, fell(now, last, counter=counter))
    counted = settled(last, with_break(now, broken))
    long = too_long(now, last, counted, left_hours=counter.left_hours) if counter.hours else None
    often = too_often(now, last, counted) if counter.starts else None
    ten = None if slip or often else tenfold_step(now, last, counted, counter=counter)
    return _asked(doubt, slip, long, often, ten)


def _asked(*found: Asked | None) -> tuple[Asked, ...]:
    return tuple(one for one in found if one is not None)


def cannot_show(now: Taken, counter: Counter) -> Asked | None:
    """Refuse a number that the counter cannot show: below nought, as high as where it begins anew, half a start."""
    if now.value < 0:
        sentence = f"A counter does not go below nought; {now.told} cannot be what it shows."
        return Asked(key="below-nought", head="Below nought", sentence=sentence, weight="refuse")
    if counter.modulus is not None and now.value >= counter.modulus:
        sentence = f"This counter begins anew at {plain(counter.modulus)}, so it cannot show {now.told}."
        return Asked(key="over-modulus", head="More than it can show", sentence=sentence, weight="refuse")
    if counter.starts and now.value.denominator != 1:
        sentence = f"Starts are counted whole; {now.told} cannot be what it shows. Write it without a point."
        return Asked(key="not-whole", head="Not a whole number", sentence=sentence, weight="refuse")
    return None


def one_moment(now: Taken, last: Taken) -> Asked | None:
    """Ask about two numbers of one counter in one moment that are not the same."""
    if now.value == last.value:
        return None
    sentence = f"{last.told} is written for the same moment. Which of the two is right, or when was this one read?"
    answers = (Answer(key="before", label="The number before was wrong"), SLIP)
    return Asked(key="one-moment", head="Two numbers in one moment", sentence=sentence, answers=answers)


def fell(now: Taken, last: Taken, *, counter: Counter = ANY_COUNTER) -> Asked | None:
    """Ask why a counter shows less than before: rolled over, replaced, or a slip.

    Where the number at which it begins anew is known and it would then have counted more than it can, beginning anew
    is not offered.
    """
    if now.value >= last.value:
        return None
    answers: tuple[Answer, ...] = ANSWERS_WHEN_FALLEN
    anew = ""
    if counter.modulus is not None:
        through = counters.counted(last.value, now.value, modulus=counter.modulus)
        most = counter.most(hours_between(last.at, now.at))
        if most is not None and through > most:
            answers = answers[1:]
        else:
            anew = f" Through nought at {plain(counter.modulus)} it would have counted {plain(through)}."
    sentence = (
        f"{now.told} is {plain(last.value - now.value)} less than {last.told} {when(last.at, now.at)}.{anew} "
        "Say what happened, or read it again."
    )
    return Asked(key="fell", head="It shows less than before", sentence=sentence, answers=answers)


def break_doubt(now: Taken, last: Taken, broken: Broken) -> Asked | None:
    """Refuse an answer that does not fit the two numbers: an old counter that fell, a number it could not show.

    Asks about a rollover of a counter that shows more than before: it would have gone a whole turn and more.
    """
    try:
        counted = settled(last, with_break(now, broken))
    except ValueError as wrong:
        return Asked(key="break", head="That does not fit", sentence=str(wrong), weight="refuse")
    if broken.kind == "rolled over" and now.value >= last.value:
        sentence = (
            f"It shows more than before. If it began anew in between, it counted {plain(counted)}, a whole turn and "
            "more. Did it?"
        )
        answers = (Answer(key="stands", label="A whole turn and more"), SLIP)
        return Asked(key="whole-turn", head="A whole turn?", sentence=sentence, answers=answers)
    return None


def too_long(now: Taken, last: Taken, counted: Fraction, *, left_hours: Fraction = LEFT_HOURS) -> Asked | None:
    """Ask about more hours run than there was time, both in h; `left_hours` is left for reading the counter."""
    elapsed = hours_between(last.at, now.at)
    if counted <= elapsed + left_hours:
        return None
    sentence = (
        f"{last.told} {when(last.at, now.at)} to {now.told} is {plain(counted)} h, but only {about(elapsed)} h went "
        "by. Read it again; if it stands, the number before was wrong."
    )
    answers = (
        Answer(key="stands", label=f"Still {now.told}"),
        Answer(key="before", label="The number before was wrong"),
        SLIP,
    )
    return Asked(key="too-long", head="Longer than there was time", sentence=sentence, answers=answers)


def too_often(now: Taken, last: Taken, counted: Fraction) -> Asked | None:
    """Ask about more starts than a machine can make in the time, see STARTS_AN_HOUR; as many as that are not asked."""
    elapsed = hours_between(last.at, now.at)
    if counted <= most_starts(elapsed):
        return None
    sentence = (
        f"{last.told} {when(last.at, now.at)} to {now.told} is {plain(counted)} starts in {about(elapsed)} h; more "
        f"than {plain(STARTS_AN_HOUR)} an hour is not likely, and hard on the machine if it is so."
    )
    answers = (
        Answer(key="stands", label="It started so often"),
        Answer(key="before", label="The number before was wrong"),
        SLIP,
    )
    return Asked(key="too-often", head="More starts than are likely", sentence=sentence, answers=answers)


def counter_slip(now: Taken, last: Taken, *, counter: Counter = ANY_COUNTER) -> Asked | None:
    """Ask about a number that would go on from the one before with its point moved: the tenths read as whole hours.

    Only where the number itself does not go on, and only for a counter of which it is known how much it can count.
    """
    most = counter.most(hours_between(last.at, now.at))
    if most is None or last.value <= now.value <= last.value + most:
        return None
    for places in (-1, 1):
        meant = now.value * Fraction(10) ** places
        if last.value <= meant <= last.value + most and meant != now.value:
            text = moved_point(now.text, places) if now.text else plain(meant)
            sentence = (
                f"{last.told} {when(last.at, now.at)}, now {now.told}. Did you mean {text}? The last wheel may be "
                "tenths."
            )
            return Asked(
                key="decimal",
                head="Has the point slipped?",
                sentence=sentence,
                suggestion=text,
                answers=(Answer(key="stands", label=f"Still {now.told}"), SLIP),
            )
    return None


def tenfold_step(now: Taken, last: Taken, counted: Fraction, *, counter: Counter) -> Asked | None:
    """Ask about a step that is ten times, or a tenth of, what the counter usually counts in that time, within 5 %."""
    elapsed = hours_between(last.at, now.at)
    if counter.an_hour is None or counter.an_hour * elapsed <= 0:
        return None
    expected = counter.an_hour * elapsed
    if not counters.tenfold(counted, expected):
        return None
    many = "ten times" if counted > expected else "a tenth of"
    sentence = (
        f"{plain(counted)} counted since {when(last.at, now.at)}, {many} the usual {about(expected)}. Is the last "
        "wheel tenths, or was the value of a pulse changed?"
    )
    answers = (
        Answer(key="stands", label="It counted so"),
        Answer(key="scale", label="The wheel or the pulse is ten times off"),
        SLIP,
    )
    return Asked(key="tenfold", head=f"{many.capitalize()} the usual", sentence=sentence, answers=answers)


def stood(now: Taken, history: Sequence[Taken], *, days: int = SAME_DAYS, least: int = 3) -> Asked | None:
    """Ask about a counter that did not move for a week: the machine stood, or its number was copied, or it is broken.

    days: calendar days; least: readings that must show it; both own judgement.
    """
    run = [now]
    for one in reversed(before(now, history)):
        if one.value != now.value:
            break
        run.append(one)
    gone = days_between(run[-1].at, now.at)
    if gone < days or len(run) < least:
        return None
    sentence = (
        f"{now.told} for {gone} days, in {count_of(len(run), 'reading')}. Did it stand all that time? If it ran, the "
        "counter is broken or the number was copied."
    )
    answers = (
        Answer(key="stood", label="It stood"),
        Answer(key="broken", label="It ran: the counter is broken"),
        SLIP,
    )
    return Asked(key="same", head=f"Not moved for {gone} days", sentence=sentence, answers=answers)
