"""What to notice about how machines run: all night, not for a week, too many starts, twins that drift apart.

Each is a line for a person, never a fault by itself.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.counters import READING_HOURS
from assets.compute.readings.asked import OWN
from assets.compute.readings.facts import Span, about, days_between, plain, utc, when
from assets.compute.readings.running import Ran, Run, Shared, merged
from assets.compute.readings.series import Count, Step, steps
from assets.compute.words import count_of

IDLE_DAYS = 7
"""Days after which a machine that stands should be run: idle units at least weekly, NAVFAC MO-209 5.2."""

IDLE_SOURCE = "NAVFAC MO-209 5.2 and UFC 3-230-02 11.3.6.1: run idle units at least weekly"

SHARE_APART = Fraction(1, 10)
"""How far the share of a twin may lie from what is wanted: own judgement, 40 to 60 % where halves are wanted."""

PERIODS = 4
"""How many stretches in a row must lie on one side: own judgement, four weeks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Noticed:
    """One thing to look at: its key, the sentence, since when if that is known, and where the threshold comes from."""

    key: str
    sentence: str
    since: dt.datetime | None = None
    source: str = OWN


def ran_all_night(ran: Ran, *, left_hours: Fraction = READING_HOURS) -> Noticed | None:
    """Notice a machine that ran the whole of a night; `ran` is of the night, by when it went on and off.

    The night must be covered; `left_hours` (0.1 h, own judgement) may be missing.
    """
    if ran.hours is None or ran.covered_hours < ran.of_hours or ran.hours < ran.of_hours - left_hours:
        return None
    sentence = f"Ran all night, {about(ran.hours)} of {about(ran.of_hours)} h."
    return Noticed(key="all-night", sentence=sentence, since=ran.span.start)


def ran_all_night_by_counter(
    hours: Iterable[Count], night: Span, *, left_hours: Fraction = READING_HOURS
) -> Noticed | None:
    """Notice a machine whose hour counter leaves no room for a stop in the night.

    A counter does not tell which hours: at least (counted - time outside the night) fell into it. So a daily reading
    shows it only for a machine that hardly stopped all day; an evening and a morning reading show it well.
    """
    least = sum((_least_inside(one, night) for one in steps(hours)), Fraction(0))
    if least < night.hours - left_hours:
        return None
    sentence = f"Ran all night, at least {about(least)} of {about(night.hours)} h by its counter."
    return Noticed(key="all-night", sentence=sentence, since=night.start)


def _least_inside(step: Step, night: Span) -> Fraction:
    inside = step.span.shared_with(night)
    if step.counted is None or inside == 0:
        return Fraction(0)
    return min(inside, max(Fraction(0), step.counted - (step.span.hours - inside)))


def idle_by_switching(
    runs: Iterable[Run], now: dt.datetime, *, known_from: dt.datetime, days: int = IDLE_DAYS
) -> Noticed | None:
    """Notice a machine that did not run for a week, by when it went on and off; known since `known_from`."""
    past = merged(runs, now)
    if past and past[-1].off_at is None:
        return None
    since = past[-1].off_at if past and past[-1].off_at is not None else known_from
    return _idle(since.astimezone(now.tzinfo), now, days)


def idle_by_counter(hours: Iterable[Count], now: dt.datetime, *, days: int = IDLE_DAYS) -> Noticed | None:
    """Notice a machine whose hour counter did not move for a week up to its newest reading.

    A run too short for the last wheel is not seen. Nothing is said of the days since the newest reading.
    """
    since: dt.datetime | None = None
    newest: Count | None = None
    for one in reversed(steps(hours)):
        newest = newest or one.end
        if one.counted is None or one.counted > 0:
            break
        since = one.start.at
    if since is None or newest is None or days_between(since, newest.at) < days:
        return None
    gone = days_between(since, newest.at)
    seen = f"; runs shorter than {plain(newest.step)} h are not seen" if newest.step else ""
    sentence = f"Did not run for {count_of(gone, 'day')} up to {when(newest.at, now)}, by its counter{seen}."
    return Noticed(key="idle", sentence=sentence, since=since, source=IDLE_SOURCE)


def _idle(since: dt.datetime, now: dt.datetime, days: int) -> Noticed | None:
    gone = days_between(since, now)
    if gone < days:
        return None
    sentence = f"Did not run for {count_of(gone, 'day')}, since {when(since, now)}."
    return Noticed(key="idle", sentence=sentence, since=since, source=IDLE_SOURCE)


def too_many_starts(runs: Iterable[Run], now: dt.datetime, *, most_an_hour: int) -> Noticed | None:
    """Notice more starts within any sixty minutes than the site allows; as many as allowed are allowed.

    most_an_hour: the limit of the machine at this site; there is no usual one to fall back on.
    """
    begun = [one.on_at for one in merged(runs, now)]
    worst, since = 0, now
    for first, moment in enumerate(begun):
        inside = sum(utc(other) - utc(moment) < dt.timedelta(hours=1) for other in begun[first:])
        if inside > worst:
            worst, since = inside, moment
    if worst <= most_an_hour:
        return None
    sentence = f"{count_of(worst, 'start')} within one hour from {when(since, now)}; at most {most_an_hour} are meant."
    return Noticed(key="starts", sentence=sentence, since=since, source="the limit of this machine")


def too_many_starts_by_counter(starts: Iterable[Count], *, most_an_hour: int) -> Noticed | None:
    """Notice a step of a counter of starts whose mean is above the limit: at least one hour of it was."""
    over = [one for one in steps(starts) if one.rate is not None and one.rate > most_an_hour]
    if not over:
        return None
    worst = max(over, key=_rate)
    sentence = (
        f"{about(_rate(worst))} starts an hour in the mean of {about(worst.span.hours)} h; at most {most_an_hour} are "
        "meant. A counter does not show how they were spread."
    )
    return Noticed(key="starts", sentence=sentence, since=worst.start.at, source="the limit of this machine")


def _rate(one: Step) -> Fraction:
    return one.rate or Fraction(0)


def twins_apart(
    tags: tuple[str, str],
    periods: Sequence[Shared],
    *,
    wanted: Fraction = Fraction(1, 2),
    apart: Fraction = SHARE_APART,
    least: int = PERIODS,
) -> Noticed | None:
    """Notice twins whose run hours drift apart: the newest periods, all on one side of the share that is wanted.

    periods: stretches of equal length, oldest first; wanted: share of the first machine; apart: what it may be off by,
    equal allowed. A period in which neither ran says nothing and is left out.
    """
    shares = [one.share for one in periods if one.share is not None][-least:]
    if len(shares) < least:
        return None
    off = [one - wanted for one in shares]
    if not (all(one > apart for one in off) or all(one < -apart for one in off)):
        return None
    newest = [one for one in periods if one.share is not None][-least:]
    hours = sum((one.apart for one in newest), Fraction(0))
    ran_more, less = tags if hours > 0 else (tags[1], tags[0])
    sentence = (
        f"{ran_more} ran {about(abs(hours))} h more than {less} in the last {least} stretches; {tags[0]} had "
        f"{about(100 * shares[-1], 2)} % of the newest, {about(100 * wanted, 2)} % is meant."
    )
    return Noticed(key="twins", sentence=sentence)
