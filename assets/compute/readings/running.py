"""How long machines ran and how often they started, by counters or by when they went on and off, and how twins share.

A machine's counter tells hours between two readings, not which hours; when it went on and off tells both.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from zoneinfo import ZoneInfo

from assets.compute.formulas import counters
from assets.compute.readings.facts import Span, about, hours_between, site_day, utc
from assets.compute.readings.series import Count, total_over


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One time a machine ran; off_at is None while it runs. Raises ValueError where it stops before it starts."""

    on_at: dt.datetime
    off_at: dt.datetime | None = None

    def __post_init__(self) -> None:
        if self.off_at is not None and hours_between(self.on_at, self.off_at) < 0:
            raise ValueError("A machine does not stop before it starts.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """How a machine ran in a stretch of time.

    hours: run, None where nothing is known; covered_hours of of_hours are known; starts: None where nobody counted
    them; shared_out: whether hours over an edge were shared out by time, as an estimate; says: how it is known.
    """

    span: Span
    hours: Fraction | None
    covered_hours: Fraction
    starts: Fraction | None
    shared_out: bool = False
    says: str = ""

    @property
    def of_hours(self) -> Fraction:
        """How long the stretch is, h."""
        return self.span.hours

    @property
    def duty(self) -> Fraction | None:
        """The share of the covered time it ran, 0 to 1; None where nothing is covered."""
        if self.hours is None or self.covered_hours == 0:
            return None
        return counters.duty(self.hours, self.covered_hours)


def site_days(first: dt.date, last: dt.date, zone: ZoneInfo) -> tuple[Span, ...]:
    """Return the days of the site from one to another, both included, each from midnight to midnight."""
    return tuple(site_day(first + dt.timedelta(days=n), zone) for n in range((last - first).days + 1))


def merged(runs: Iterable[Run], until: dt.datetime) -> tuple[Run, ...]:
    """Return the times a machine ran, in order and without overlap, up to a moment; the last may still be running.

    A run that begins in the moment in which another ends goes on from it: that is no start.
    """
    found: list[tuple[dt.datetime, dt.datetime, bool]] = []
    for one in sorted(runs, key=lambda run: (utc(run.on_at), utc(run.off_at or until))):
        begin, open_end = utc(one.on_at), one.off_at is None or utc(one.off_at) > utc(until)
        end = utc(until) if one.off_at is None else min(utc(one.off_at), utc(until))
        if begin > utc(until):
            continue
        if found and begin <= found[-1][1]:
            first, so_far, running = found[-1]
            found[-1] = (first, max(so_far, end), running or open_end)
        else:
            found.append((begin, end, open_end))
    return tuple(Run(on_at=on, off_at=None if running else off) for on, off, running in found)


def ran_by_switching(runs: Iterable[Run], span: Span, *, known_until: dt.datetime) -> Ran:
    """Return how a machine ran in a stretch by when it went on and off; after `known_until` nothing is known.

    A machine that was running when the stretch began did not start in it.
    """
    known = Span(start=span.start, end=max(span.start, min(span.end, known_until, key=utc), key=utc))
    hours, starts = Fraction(0), 0
    for one in merged(runs, known_until):
        hours += Span(start=one.on_at, end=one.off_at or known_until).shared_with(known)
        starts += utc(known.start) <= utc(one.on_at) < utc(known.end)
    nothing = known.hours == 0
    return Ran(
        span=span,
        hours=None if nothing else hours,
        covered_hours=known.hours,
        starts=None if nothing else Fraction(starts),
        says=f"By when it went on and off; known for {about(known.hours)} of {about(span.hours)} h.",
    )


def ran_by_counter(hours: Sequence[Count], span: Span, *, starts: Sequence[Count] = (), share_out: bool = True) -> Ran:
    """Return how a machine ran in a stretch by its hour counter, in h, and by its counter of starts, if it has one.

    A daily reading seldom falls on midnight: with `share_out` steps over an edge are shared out by time, and said so.
    """
    ran = total_over(hours, span, share_out=share_out)
    started = total_over(starts, span, share_out=share_out)
    return Ran(
        span=span,
        hours=ran.value,
        covered_hours=ran.covered_hours,
        starts=started.value,
        shared_out=ran.shared_out or started.shared_out,
        says=ran.says,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """How two machines shared the running: hours of each, the share of the first 0 to 1, None where neither ran."""

    one_hours: Fraction
    other_hours: Fraction
    share: Fraction | None

    @property
    def apart(self) -> Fraction:
        """How many hours more the first ran; below zero where the other did."""
        return self.one_hours - self.other_hours


def share_between(one: Ran, other: Ran) -> Shared | None:
    """Return how two machines shared the running of one stretch; None unless both are covered for the same hours."""
    if one.hours is None or other.hours is None or one.covered_hours != other.covered_hours:
        return None
    both = one.hours + other.hours
    return Shared(one_hours=one.hours, other_hours=other.hours, share=one.hours / both if both else None)
