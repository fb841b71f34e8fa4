"""Named sets of rows of routines, work orders and locks; models attach them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Q

if TYPE_CHECKING:
    from assets.models import Person, Position, Site
    from maintenance.models import Application, Lockout, Occurrence, Performance, Plan, WorkOrder


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


class OccurrenceQuerySet(models.QuerySet["Occurrence"]):
    """Due items."""

    def at(self, site: Site) -> OccurrenceQuerySet:
        """Due items of one site."""
        return self.filter(site=site)

    def open(self) -> OccurrenceQuerySet:
        """Due items that have not ended."""
        return self.filter(ended="open")


class WorkOrderQuerySet(models.QuerySet["WorkOrder"]):
    """Work orders."""

    def at(self, site: Site) -> WorkOrderQuerySet:
        """Work orders of one site."""
        return self.filter(site=site)

    def open(self) -> WorkOrderQuerySet:
        """Work orders that are not finished."""
        return self.exclude(state__in=["done", "accepted", "withdrawn"])


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
