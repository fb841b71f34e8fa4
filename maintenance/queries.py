"""Named sets of rows of routines, work orders and locks; models attach them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Q

if TYPE_CHECKING:
    from assets.models import Person, Position, Site
    from maintenance.models import (
        Application,
        CheckPoint,
        Lockout,
        Occurrence,
        OrderTemplate,
        Override,
        Part,
        Performance,
        Plan,
        Round,
        StopAnswer,
        StrappingTable,
        Walk,
        WorkOrder,
    )


class PlanQuerySet(models.QuerySet["Plan"]):
    """Routines."""

    def at(self, site: Site) -> PlanQuerySet:
        """Routines of one site."""
        return self.filter(site=site)

    def standing(self) -> PlanQuerySet:
        """Routines that are not retired."""
        return self.filter(retired_at__isnull=True)


class PerformanceQuerySet(models.QuerySet["Performance"]):
    """Work that was done."""

    def standing(self) -> PerformanceQuerySet:
        """Records that no later one replaces."""
        return self.filter(replaced_by__isnull=True)

    def newest_first(self) -> PerformanceQuerySet:
        """As performed, the newest first; of one moment the one recorded last."""
        return self.order_by("-performed_at", "-id")


class OccurrenceQuerySet(models.QuerySet["Occurrence"]):
    """Due items."""

    def at(self, site: Site) -> OccurrenceQuerySet:
        """Due items of one site."""
        return self.filter(site=site)

    def open(self) -> OccurrenceQuerySet:
        """Due items that have not ended."""
        return self.filter(ended="open")

    def in_state(self, state: str, day: dt.date) -> OccurrenceQuerySet:
        """Due items whose state on a day is this; line by line what `state_of_row` says of one row."""
        return self.filter(in_state(state, day))

    def owed(self, day: dt.date) -> OccurrenceQuerySet:
        """Due items that the day asks for: due, late but allowed, overdue; nothing stops them or puts them off."""
        return self.filter(_free(day) & Q(due__lte=day))

    def missed_between(self, first: dt.date, last: dt.date) -> OccurrenceQuerySet:
        """Due items that became missed in these days, by time or by the job that closed a later one."""
        ended = Q(ended="missed", ended_on__range=(first, last))
        return self.filter(ended | Q(ended="open", missed_from__range=(first, last)))


def _running(day: dt.date) -> Q:
    """Neither ended nor missed by a day."""
    return (Q(ended="open") | Q(ended_on__gt=day)) & (Q(missed_from__isnull=True) | Q(missed_from__gt=day))


def _free(day: dt.date) -> Q:
    """Running, with nothing that stops it or puts it off."""
    deferred = Q(deferred_until__isnull=False, deferred_until__gt=day)
    return _running(day) & Q(blocked_from__isnull=True) & ~deferred


def in_state(state: str, day: dt.date) -> Q:
    """Which due items are in a state on a day, by their stored columns alone. Raises KeyError for a word that is none.

    A due day is never after the last allowed day; asking for both lets the database use either index.
    """
    running = _running(day)
    free = _free(day)
    ended = Q(ended_on__lte=day)
    passed = (Q(ended="open") | Q(ended_on__gt=day)) & Q(missed_from__lte=day)
    # By use it is due from the day its meter said so, however long its day by date is still to come.
    by_date = Q(day_due__isnull=True)
    due = (by_date & Q(due=day)) | Q(day_due__gte=day, due__lte=day)
    late = (by_date & Q(due__lt=day)) | Q(day_due__lt=day, due__lt=day)
    asked: dict[str, Callable[[], Q]] = {
        "done": lambda: ended & Q(ended="done"),
        "withdrawn": lambda: ended & Q(ended="withdrawn"),
        "missed": lambda: (ended & Q(ended="missed")) | passed,
        "blocked": lambda: running & Q(blocked_from__lte=day),
        "deferred": lambda: running & Q(blocked_from__isnull=True, deferred_until__gt=day),
        "overdue": lambda: free & Q(latest__lt=day, due__lt=day),
        "late but allowed": lambda: free & Q(latest__gte=day, due__lt=day) & late,
        "due": lambda: free & Q(latest__gte=day) & due,
        "can be done now": lambda: free & Q(due__gt=day, earliest__lte=day),
        "not yet": lambda: (free & Q(due__gt=day, earliest__gt=day)) | (running & Q(blocked_from__gt=day)),
    }
    return asked[state]()


class WorkOrderQuerySet(models.QuerySet["WorkOrder"]):
    """Work orders."""

    def at(self, site: Site) -> WorkOrderQuerySet:
        """Work orders of one site."""
        return self.filter(site=site)

    def open(self) -> WorkOrderQuerySet:
        """Work orders that are not finished."""
        return self.filter(state__in=["raised", "planned", "under way", "waiting"])

    def unconfirmed(self) -> WorkOrderQuerySet:
        """Open work orders whose failure waits for a second record."""
        return self.open().filter(confirmed="not yet confirmed")


class PartQuerySet(models.QuerySet["Part"]):
    """Spare parts."""

    def at(self, site: Site) -> PartQuerySet:
        """Parts of one site."""
        return self.filter(site=site)

    def standing(self) -> PartQuerySet:
        """Parts that are not retired."""
        return self.filter(retired_at__isnull=True)


class OrderTemplateQuerySet(models.QuerySet["OrderTemplate"]):
    """Templates of work orders."""

    def at(self, site: Site) -> OrderTemplateQuerySet:
        """Templates of one site."""
        return self.filter(site=site)

    def standing(self) -> OrderTemplateQuerySet:
        """Templates that are not retired."""
        return self.filter(retired_at__isnull=True)

    def for_machine(self, kinds: Iterable[str]) -> OrderTemplateQuerySet:
        """Templates for any machine and for these kinds of machine, capitals aside."""
        wanted = Q(machine="")
        for kind in kinds:
            wanted |= Q(machine__iexact=kind)
        return self.filter(wanted)


class LockoutQuerySet(models.QuerySet["Lockout"]):
    """Lockouts."""

    def at(self, site: Site) -> LockoutQuerySet:
        """Lockouts of one site."""
        return self.filter(site=site)

    def open(self) -> LockoutQuerySet:
        """Lockouts that are not closed."""
        return self.filter(closed_at__isnull=True)


class ApplicationQuerySet(models.QuerySet["Application"]):
    """Locks on points and boxes."""

    def on(self) -> ApplicationQuerySet:
        """Locks that have not come off."""
        return self.filter(removed_at__isnull=True)

    def stopping(self, position: Position) -> ApplicationQuerySet:
        """Locks of anyone that keep a position from running: on one of its points, or in a lockout of it."""
        return (
            self.on()
            .filter(
                Q(point__serves__position=position, point__serves__to_at__isnull=True) | Q(lockout__position=position)
            )
            .distinct()
        )

    def of(self, person: Person) -> ApplicationQuerySet:
        """Locks of one person."""
        return self.filter(applied_by=person)


class OverrideQuerySet(models.QuerySet["Override"]):
    """Forced values, holds, bypasses, shelved alarms."""

    def at(self, site: Site) -> OverrideQuerySet:
        """Those of one site."""
        return self.filter(site=site)

    def standing(self) -> OverrideQuerySet:
        """Asked for or in force, and not yet seen to be restored."""
        return self.filter(restored_at__isnull=True).exclude(refused_at__isnull=False, begun_at__isnull=True)

    def in_force(self) -> OverrideQuerySet:
        """Put on and not yet taken off."""
        return self.standing().filter(begun_at__isnull=False, removed_at__isnull=True)

    def put_on(self) -> OverrideQuerySet:
        """Put on, and not yet seen to be restored: nothing there may be relied on."""
        return self.standing().filter(begun_at__isnull=False)

    def touching(self, position: Position) -> OverrideQuerySet:
        """Those at a position, or at one whose signal acts on it."""
        uses = Q(position__uses__target=position, position__uses__to_at__isnull=True)
        return self.filter(Q(position=position) | uses).distinct()

    def in_force_at(self, moment: dt.datetime) -> OverrideQuerySet:
        """Put on at a moment."""
        return self.filter(begun_at__lte=moment).filter(Q(removed_at__isnull=True) | Q(removed_at__gt=moment))


class RoundQuerySet(models.QuerySet["Round"]):
    """Rounds."""

    def at(self, site: Site) -> RoundQuerySet:
        """Rounds of one site."""
        return self.filter(site=site)

    def standing(self) -> RoundQuerySet:
        """Rounds that are still walked."""
        return self.filter(retired_at__isnull=True)


class CheckPointQuerySet(models.QuerySet["CheckPoint"]):
    """Check points of rounds."""

    def standing(self) -> CheckPointQuerySet:
        """Check points that are still asked."""
        return self.filter(retired_at__isnull=True)


class WalkQuerySet(models.QuerySet["Walk"]):
    """Walks."""

    def at(self, site: Site) -> WalkQuerySet:
        """Walks of one site."""
        return self.filter(site=site)

    def open(self) -> WalkQuerySet:
        """Walks that have not ended."""
        return self.filter(ended_at__isnull=True)


class StopAnswerQuerySet(models.QuerySet["StopAnswer"]):
    """What was written at check points."""

    def counting(self) -> StopAnswerQuerySet:
        """The answers that count: neither second ones nor replaced ones."""
        return self.filter(beside__isnull=True, replaced_by__isnull=True)


class StrappingQuerySet(models.QuerySet["StrappingTable"]):
    """Strapping tables, of which the newest of a tag and level counts; one without rows ends it."""

    def in_force(self, day: dt.date) -> list[StrappingTable]:
        """The tables that count on a day, one a tag and level."""
        return counting_on(self.filter(from_day__lte=day).select_related("position"), day)


def counting_on(tables: Iterable[StrappingTable], day: dt.date) -> list[StrappingTable]:
    """Of strapping tables, those that count on a day."""
    newest: dict[tuple[int, str], StrappingTable] = {}
    for table in sorted(tables, key=lambda one: (one.from_day, one.pk)):
        if table.from_day <= day:
            newest[(table.position_id, table.what.casefold())] = table
    return [table for table in newest.values() if table.rows]
