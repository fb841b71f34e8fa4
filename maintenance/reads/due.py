"""What the due list shows: one page of due items with what rests on them, and how many there are of each sort."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import astuple, dataclass, replace
from itertools import groupby
from typing import Any

from django.core.cache import cache
from django.db.models import Max, Q, QuerySet

from assets.compute.canonical import digest
from assets.compute.words import count_of
from assets.models import Area, Event, MattersFor, Site
from maintenance.models import Occurrence
from maintenance.queries import OccurrenceQuerySet
from maintenance.reads.due_rows import DueRow, due_rows, listed
from maintenance.reads.due_words import hours
from maintenance.reads.nightly import Night, last_night

PAGE = 50
"""Rows of one page, as of every list (`assets.lists`, which asks for them)."""
MOST = 999  # counts stop here; the exact number of a thousand late items helps nobody
MISSED_DAYS = dt.timedelta(days=90)

STATES = ("overdue", "due", "late but allowed", "blocked")
OTHER_STATES = ("deferred", "can be done now", "not yet", "missed")
KINDS = {"measure": ("calibrate", "verify"), "keep": ("inspect", "upkeep")}
KIND_WORDS = {"measure": "Calibrate and verify", "keep": "Inspect and upkeep"}


@dataclass(frozen=True, slots=True)
class DueFilter:
    """Which due items are asked for; '' and None ask for all. State '' is what the day asks for."""

    state: str = ""
    matters: str = ""
    kind: str = ""
    area: int | None = None

    def of(self, **changed: str | int | None) -> DueFilter:
        """Same filter with something else in it."""
        return replace(self, **changed)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Visit:
    """Due items of one area: what is done in one go."""

    name: str
    rows: tuple[DueRow, ...]

    @property
    def hours(self) -> str:
        """Planned time of the visit."""
        return hours(sum(row.minutes for row in self.rows))

    @property
    def said(self) -> str:
        """How much it is."""
        return f"{self.name}: {count_of(len(self.rows), 'due item')}, {self.hours}"


@dataclass(frozen=True, slots=True)
class DuePage:
    """One page of the due list."""

    visits: tuple[Visit, ...]
    first: int
    last: int
    more: bool

    @property
    def rows(self) -> int:
        """Number of rows on the page."""
        return sum(len(visit.rows) for visit in self.visits)

    @property
    def hours(self) -> str:
        """Planned time of the page."""
        return hours(sum(row.minutes for visit in self.visits for row in visit.rows))


def chosen(site: Site, which: DueFilter, day: dt.date) -> OccurrenceQuerySet:
    """Due items that the filter asks for, as a query."""
    rows = Occurrence.objects.at(site)
    if which.state == "missed":
        rows = rows.missed_between(day - MISSED_DAYS, day)
    elif which.state:
        rows = rows.open().in_state(which.state, day)
    else:
        rows = rows.open().owed(day)
    if which.matters:
        rows = rows.filter(plan__position__matters_for=which.matters)
    if which.kind:
        rows = rows.filter(plan__kind__in=KINDS[which.kind])
    if which.area is not None:
        rows = rows.filter(plan__position__area=which.area)
    return rows


def up_to(rows: QuerySet[Any], most: int = MOST) -> str:
    """How many rows there are, counted no further than `most`."""
    number = rows.order_by()[: most + 1].count()
    return f"{most}+" if number > most else str(number)


def how_many(site: Site, which: DueFilter, day: dt.date) -> str:
    """How many due items the filter asks for, as far as they are counted."""
    return up_to(chosen(site, which, day))


def due_page(site: Site, which: DueFilter, day: dt.date, *, start: int = 0, size: int = PAGE) -> DuePage:
    """`size` due items of the list from `start` on: the longest owed first, then by visit, in walking order."""
    found = listed(_longest_first(site, which, day)[start : start + size + 1])
    shown = found[:size]
    return DuePage(
        visits=_visits(due_rows(shown, day)),
        first=start + 1 if shown else 0,
        last=start + len(shown),
        more=len(found) > size,
    )


def blocked_rows(site: Site, which: DueFilter, day: dt.date, most: int = PAGE) -> tuple[DueRow, ...]:
    """What something stops, the longest first."""
    return due_rows(listed(_longest_first(site, which.of(state="blocked"), day)[:most]), day)


def _longest_first(site: Site, which: DueFilter, day: dt.date) -> OccurrenceQuerySet:
    # Sorted by the column that the state is chosen by, so that one index gives both.
    return chosen(site, which, day).order_by("blocked_from" if which.state == "blocked" else "due", "id")


def missed_rows(site: Site, day: dt.date, most: int) -> tuple[tuple[DueRow, ...], str]:
    """Due items whose turn passed undone in the last 90 days, the newest first, and how many there are."""
    wanted = chosen(site, DueFilter(state="missed"), day)
    return due_rows(listed(wanted.order_by("-due", "-id")[:most]), day), up_to(wanted)


@dataclass(frozen=True, slots=True)
class Beside:
    """What stands beside a page of the list: how many each link would show, what is blocked, the areas, the last night.

    Beside a list of a single state nothing blocked is shown.
    """

    counts: dict[str, dict[str, str]]
    blocked: tuple[DueRow, ...]
    areas: tuple[tuple[int, str], ...]
    night: Night | None


def beside(site: Site, which: DueFilter, day: dt.date) -> Beside:
    """What stands beside the pages of a filter; counts by state, matters and kind, areas in walking order.

    Read once between two acts of the site: whatever changes a due item, its routine, its tag or an area writes an
    event, and so does the nightly comparison.
    """
    newest = Event.objects.filter(chain=site.pk).aggregate(newest=Max("number"))["newest"]
    key = digest(["beside the due list", site.pk, newest, day, *astuple(which)])
    kept: Beside | None = cache.get(key)
    if kept is None:
        areas = Area.objects.filter(site=site).order_by("walk_order", "name").values_list("pk", "name")
        blocked = () if which.state else blocked_rows(site, which, day)
        kept = Beside(_counted(site, which, day), blocked, tuple(areas), last_night(site, day))
        cache.set(key, kept, timeout=86_400)
    return kept


def _counted(site: Site, which: DueFilter, day: dt.date) -> dict[str, dict[str, str]]:
    return {
        "state": {s: how_many(site, which.of(state=s), day) for s in ("", *STATES, *OTHER_STATES)},
        "matters": {m: how_many(site, which.of(matters=m), day) for m in ("", *MattersFor.values)},
        "kind": {k: how_many(site, which.of(kind=k), day) for k in ("", *KINDS)},
    }


def every_row(site: Site, which: DueFilter, day: dt.date) -> Iterator[DueRow]:
    """All rows the filter asks for, page by page, so that a long list does not fill the memory."""
    rows = chosen(site, which, day).order_by("due", "id")
    last: tuple[dt.date, int] | None = None
    while True:
        further = rows if last is None else rows.filter(_after(*last))
        found = listed(further[:500])
        if not found:
            return
        yield from due_rows(found, day)
        last = (found[-1].due, found[-1].pk)


def _after(due: dt.date, pk: int) -> Q:
    return Q(due__gt=due) | Q(due=due, pk__gt=pk)


def _visits(rows: Sequence[DueRow]) -> tuple[Visit, ...]:
    walked = sorted(rows, key=lambda row: row.order)
    return tuple(Visit(name, tuple(group)) for name, group in groupby(walked, key=lambda row: row.area))
