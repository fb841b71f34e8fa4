"""Named sets of rows of the plant; models attach them."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.models import Q

if TYPE_CHECKING:
    from assets.models import (
        Area,
        Asset,
        Event,
        Fitting,
        Holiday,
        Limit,
        Membership,
        Person,
        Position,
        Production,
        Qualification,
        Reading,
        Setting,
        SignalUse,
        Site,
    )


class AreaQuerySet(models.QuerySet["Area"]):
    """Areas of a site."""

    def at(self, site: Site) -> AreaQuerySet:
        """Areas of one site, in walking order."""
        return self.filter(site=site).order_by("walk_order", "name")

    def standing(self) -> AreaQuerySet:
        """Areas that are not retired."""
        return self.filter(retired_at__isnull=True)


class PositionQuerySet(models.QuerySet["Position"]):
    """Positions of a site."""

    def at(self, site: Site) -> PositionQuerySet:
        """Positions of one site."""
        return self.filter(site=site)

    def standing(self) -> PositionQuerySet:
        """Positions that are not retired."""
        return self.filter(retired_at__isnull=True)

    def in_walking_order(self) -> PositionQuerySet:
        """Area by area, then in the order walked."""
        return self.select_related("area").order_by("area__walk_order", "area__name", "walk_order", "tag")


class AssetQuerySet(models.QuerySet["Asset"]):
    """Assets of a site."""

    def at(self, site: Site) -> AssetQuerySet:
        """Assets of one site."""
        return self.filter(site=site)

    def standing(self) -> AssetQuerySet:
        """Assets that are not retired."""
        return self.filter(retired_at__isnull=True)

    def free(self) -> AssetQuerySet:
        """Assets that are fitted nowhere now."""
        return self.standing().exclude(fittings__to_at__isnull=True, fittings__isnull=False)


class FittingQuerySet(models.QuerySet["Fitting"]):
    """What was fitted where."""

    def now(self) -> FittingQuerySet:
        """Fittings that have not ended."""
        return self.filter(to_at__isnull=True)

    def on(self, moment: dt.datetime) -> FittingQuerySet:
        """Fittings in force at a moment."""
        return self.filter(from_at__lte=moment).filter(Q(to_at__isnull=True) | Q(to_at__gt=moment))


class SignalUseQuerySet(models.QuerySet["SignalUse"]):
    """What depends on a signal."""

    def now(self) -> SignalUseQuerySet:
        """Uses that have not ended."""
        return self.filter(to_at__isnull=True)


class LimitQuerySet(models.QuerySet["Limit"]):
    """Limits, of which the newest of a name and side counts; one without a value ends it."""

    def in_force(self, day: dt.date, *, known: dt.datetime | None = None) -> list[Limit]:
        """The limits that count on a day, one a position, name and side; as known at a moment, if one is given."""
        newest: dict[tuple[int, str, str], Any] = {}
        rows = self.filter(from_day__lte=day)
        if known is not None:
            rows = rows.filter(recorded_at__lte=known)
        for limit in rows.order_by("from_day", "id"):
            newest[(limit.position_id, limit.name.casefold(), limit.side)] = limit
        return [limit for limit in newest.values() if limit.value]


class ReadingQuerySet(models.QuerySet["Reading"]):
    """Numbers as typed."""

    def standing(self) -> ReadingQuerySet:
        """Readings that no later one replaces."""
        return self.filter(replaced_by__isnull=True)


class HolidayQuerySet(models.QuerySet["Holiday"]):
    """Days that are no working days."""

    def standing(self) -> HolidayQuerySet:
        """Holidays that were not withdrawn."""
        return self.filter(withdrawn_at__isnull=True)


class SettingQuerySet(models.QuerySet["Setting"]):
    """Rules of a site, of which the newest of a name counts."""

    def in_force(self, site: Site, day: dt.date, *, known: dt.datetime | None = None) -> dict[str, Setting]:
        """The settings that count on a day, by name; as known at a moment, if one is given."""
        rows = self.filter(site=site, from_day__lte=day)
        if known is not None:
            rows = rows.filter(recorded_at__lte=known)
        return {row.name: row for row in rows.order_by("from_day", "id")}


class ProductionQuerySet(models.QuerySet["Production"]):
    """When water was made."""

    def standing(self) -> ProductionQuerySet:
        """Stretches that were not withdrawn."""
        return self.filter(withdrawn_at__isnull=True)

    def now(self) -> ProductionQuerySet:
        """Stretches that have not ended."""
        return self.standing().filter(to_at__isnull=True)

    def within(self, begin: dt.datetime, end: dt.datetime) -> ProductionQuerySet:
        """Stretches that share some time with the one from `begin` to `end`."""
        return self.standing().filter(from_at__lt=end).filter(Q(to_at__isnull=True) | Q(to_at__gt=begin))


class MembershipQuerySet(models.QuerySet["Membership"]):
    """Roles at sites."""

    def now(self) -> MembershipQuerySet:
        """Roles that have not ended, of people who may sign in."""
        return self.filter(to_at__isnull=True, person__is_active=True)


class QualificationQuerySet(models.QuerySet["Qualification"]):
    """What people are trained for."""

    def on(self, day: dt.date) -> QualificationQuerySet:
        """Qualifications that hold on a day."""
        return self.filter(withdrawn_at__isnull=True, from_day__lte=day).filter(
            Q(until_day__isnull=True) | Q(until_day__gte=day)
        )


class EventQuerySet(models.QuerySet["Event"]):
    """The history."""

    def about(self, subject: models.Model) -> EventQuerySet:
        """What happened to one record, newest first."""
        return self.filter(subject_kind=subject._meta.label_lower, subject_id=str(subject.pk)).order_by("-id")

    def refused_proofs(self, person: Person, since: dt.datetime) -> EventQuerySet:
        """Wrong PINs, passwords and codes of a person since a moment."""
        return self.filter(by=person, verb="proof.refused", recorded_at__gte=since)
