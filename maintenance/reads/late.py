"""What came late: work written down long after it was done, and due items done after their last allowed day."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import F, Q

from assets.compute.words import count_of
from assets.models import Site
from maintenance.models import Occurrence, Performance
from maintenance.models.routines import BY_HAND

LATE_AFTER = dt.timedelta(minutes=15)
"""What is written down later than this after it was done is an entry from memory or from paper: own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LateRow:
    """One entry that was written down late."""

    tag: str
    code: str
    what: str
    url: str
    performed_at: dt.datetime
    recorded_at: dt.datetime
    by: str
    because: str = ""

    @property
    def after(self) -> str:
        """How long after it was done it was written down."""
        minutes = int((self.recorded_at - self.performed_at).total_seconds()) // 60
        if minutes < 120:
            return count_of(minutes, "minute")
        return count_of(minutes // 60, "hour") if minutes < 48 * 60 else count_of(minutes // (24 * 60), "day")


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneLate:
    """One due item that was done after its last allowed day; days count from the day it was due."""

    tag: str
    code: str
    what: str
    url: str
    matters: str
    due: dt.date
    done: dt.date

    @property
    def late(self) -> str:
        """How late it was."""
        return count_of((self.done - self.due).days, "day")


def entered_late(site: Site, since: dt.datetime, most: int) -> tuple[LateRow, ...]:
    """Work by hand written down more than a quarter of an hour after it was done, the newest first."""
    rows = Performance.objects.standing().filter(plan__site=site, plan__kind__in=BY_HAND, recorded_at__gte=since)
    rows = rows.filter(recorded_at__gt=F("performed_at") + LATE_AFTER).newest_first()
    return tuple(
        LateRow(
            tag=str(row.plan.position or row.plan.asset),
            code=row.plan.position.label_code if row.plan.position else "",
            what=row.plan.title,
            url=row.get_absolute_url(),
            performed_at=row.performed_at,
            recorded_at=row.recorded_at,
            by=row.recorded_by.name,
        )
        for row in rows.select_related("plan__position", "plan__asset", "recorded_by")[:most]
    )


def done_late(site: Site, since: dt.date, most: int) -> tuple[DoneLate, ...]:
    """Due items that were done after their last allowed day, the newest first."""
    rows = Occurrence.objects.at(site).filter(Q(ended="done", ended_on__gte=since, ended_on__gt=F("latest")))
    found = rows.select_related("plan__position", "plan__asset").order_by("-ended_on", "-id")[:most]
    return tuple(
        DoneLate(
            tag=str(one.plan.position or one.plan.asset),
            code=one.plan.position.label_code if one.plan.position else "",
            what=one.plan.title,
            url=one.plan.get_absolute_url(),
            matters=one.plan.position.matters_for if one.plan.position else "other",
            due=one.due,
            done=one.ended_on or one.due,
        )
        for one in found
    )
