"""Clocks of monitors whose numbers a rule asks for without a gap: out since when, back by when, which grabs are owed.

Nothing is stored. A clock follows from the signed checks, what is fitted, the site's rules and holidays, the grab
samples written as readings, and when the plant ran; so a late or a corrected record moves it by itself.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from assets.compute.words import count_of
from assets.models import Face, Fitting, Holiday, Position, Reading, Site
from assets.reads.site_rules import rules_on
from calibration.models import ReadingSet
from calibration.reads.sheet import FAILING, PASSING
from maintenance.compute.clocks import (
    ClockState,
    GrabSlot,
    SlotState,
    after_working_days,
    clock_state,
    end_of,
    grab_slots,
    site_day,
)
from maintenance.compute.stretches import Run
from maintenance.reads.due_words import Shown
from maintenance.reads.stretch_facts import runs_of_plant

# What 40 CFR 141.174(b) and 141.74(c)(2) ask to be measured without a gap.
CLOCKED = ("turbidity", "chlorine")
# A monitor that is out for months has its clock run out long before; only its newest grabs are counted then.
MOST_GRABS = 500
SHOWN = {
    ClockState.RUNNING: Shown("Monitor out", "due", ""),
    ClockState.OVER: Shown("Time is up", "overdue", "bad"),
}


@dataclass(frozen=True, slots=True)
class Clock:
    """One monitor that is out: since when and why, until when it must be back, and the grabs since."""

    position: Position
    since: dt.datetime
    because: str
    url: str
    ends: dt.datetime
    last_day: dt.date
    state: ClockState
    hours: str
    counted_from: dt.datetime
    grabs: tuple[GrabSlot, ...]

    @property
    def shown(self) -> Shown:
        """Word and shape of its state."""
        return SHOWN[self.state]

    @property
    def next_grab(self) -> dt.datetime | None:
        """By when the next grab sample is owed."""
        return next((slot.due_at for slot in self.grabs if slot.state is SlotState.OPEN), None)

    @property
    def taken(self) -> int:
        """How many grabs were taken in their time."""
        return sum(slot.state is SlotState.TAKEN for slot in self.grabs)

    @property
    def missed(self) -> int:
        """How many grabs were not taken in their time while the plant ran."""
        return sum(slot.state is SlotState.MISSED for slot in self.grabs)

    @property
    def said(self) -> str:
        """The grabs in words."""
        taken = f"{count_of(self.taken, 'grab sample')} in time"
        return f"{taken}, {self.missed} missed" if self.missed else taken


@dataclass(frozen=True, slots=True)
class _Out:
    since: dt.datetime
    because: str
    url: str = ""


def clocks_at(site: Site, now: dt.datetime, *, position: Position | None = None) -> tuple[Clock, ...]:
    """Clocks that run or have run out at a site, or at one tag of it, the one that ends first at the front."""
    places = (
        Position.objects.at(site).standing().select_related("site").filter(compliance_point=True, quantity__in=CLOCKED)
    )
    if position is not None:
        places = places.filter(pk=position.pk)
    rows = {row.pk: row for row in places}
    out = _out_of(rows, now)
    if not out:
        return ()
    grabs = _grabs(rows, out, now)
    holidays = set(Holiday.objects.standing().filter(site=site).values_list("day", flat=True))
    running = runs_of_plant(site)
    found = [_clock(rows[pk], one, holidays, running, grabs[pk], now) for pk, one in out.items()]
    return tuple(sorted(found, key=lambda clock: (clock.ends, clock.position.tag)))


def _out_of(rows: dict[int, Position], now: dt.datetime) -> dict[int, _Out]:
    """Which of the places do not measure, from the signed sets and from what is fitted."""
    sets: dict[int, list[ReadingSet]] = defaultdict(list)
    found = ReadingSet.objects.filter(
        check_of__position__in=rows, check_of__replaced_by__isnull=True, performed_at__lte=now, outcome__valid=True
    )
    for one in found.select_related("check_of", "outcome").order_by("performed_at", "pk"):
        sets[one.check_of.position_id].append(one)
    out = {pk: failed for pk in rows if (failed := _failed(sets[pk])) is not None}
    for pk, empty in _empty(rows):
        if pk not in out or empty.since < out[pk].since:
            out[pk] = empty
    return out


def _failed(sets: Iterable[ReadingSet]) -> _Out | None:
    """Since when the checks of a place say it does not measure: the first fail that nothing passed after.

    A second standard that passes says that the first one was wrong, so the monitor was never out.
    """
    out: _Out | None = None
    for one in sets:
        if one.outcome.verdict in FAILING:
            number = one.check_of.number
            out = out or _Out(one.performed_at, f"check {number} failed", one.check_of.get_absolute_url())
        elif one.outcome.verdict in PASSING:
            out = None
    return out


def _empty(rows: dict[int, Position]) -> Iterator[tuple[int, _Out]]:
    """Places from which the monitor was taken away, none fitted since."""
    newest: dict[int, Fitting] = {}
    for fitting in Fitting.objects.filter(position__in=rows).select_related("asset").order_by("from_at", "pk"):
        newest[fitting.position_id] = fitting
    for pk, fitting in newest.items():
        if fitting.to_at is not None:
            yield pk, _Out(fitting.to_at, f"{fitting.asset} was taken away and nothing is fitted")


def _grabs(rows: dict[int, Position], out: dict[int, _Out], now: dt.datetime) -> dict[int, list[dt.datetime]]:
    found: dict[int, list[dt.datetime]] = defaultdict(list)
    since = min(one.since for one in out.values())
    readings = Reading.objects.standing().filter(
        position__in=out, face=Face.GRAB, taken_at__gt=since, taken_at__lte=now
    )
    for position_id, what, taken_at in readings.values_list("position", "what", "taken_at"):
        if what.casefold() == rows[position_id].quantity.casefold():
            found[position_id].append(taken_at)
    return found


def _clock(
    position: Position,
    out: _Out,
    holidays: Collection[dt.date],
    running: Sequence[Run] | None,
    grabs: Sequence[dt.datetime],
    now: dt.datetime,
) -> Clock:
    site = position.site
    failed_on = site_day(out.since, site.zone)
    rules = rules_on(site, failed_on)
    last_day = after_working_days(
        failed_on,
        int(rules.hours("clock_days")),
        holidays,
        count_failure_day=rules.says_yes("clock_counts_failure_day"),
    )
    hours = rules.hours("grab_hours")
    counted_from = max(out.since, now - MOST_GRABS * dt.timedelta(seconds=float(hours * 3600)))
    return Clock(
        position=position,
        since=out.since,
        because=out.because,
        url=out.url,
        ends=end_of(last_day, site.zone),
        last_day=last_day,
        state=clock_state(last_day, site.zone, now),
        hours=f"{float(hours):g}",
        counted_from=counted_from,
        grabs=grab_slots(counted_from, now, grabs, hours=hours, running=running),
    )
