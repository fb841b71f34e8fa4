"""Nightly comparison: every stored due item against one worked out anew from the facts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

from assets.models import NightReport, Site
from maintenance.compute.schedule import OUTSIDE_LIMITS
from maintenance.models import Plan
from maintenance.reads.due_facts import BY_TERMS, DueItem, due_items, known_of, stored_items

KIND = "due items"
TOGETHER = 200  # routines read at once


@dataclass(frozen=True, slots=True)
class Difference:
    """One due item that is not stored as the facts say."""

    plan: Plan
    turn: str
    sentence: str

    def __str__(self) -> str:
        return f"{self.plan}: {self.sentence}"


@dataclass(frozen=True, slots=True)
class Night:
    """The newest nightly comparison of a site; `stale` when it was not last night's."""

    day: dt.date
    differences: int
    text: str
    stale: bool


def last_night(site: Site, today: dt.date) -> Night | None:
    """What the newest comparison found; None before the first one."""
    report = NightReport.objects.filter(site=site, kind=KIND).order_by("-site_day").first()
    if report is None:
        return None
    return Night(report.site_day, report.differences, report.text, today - report.site_day > dt.timedelta(days=1))


def differences(site: Site, today: dt.date) -> Iterator[Difference]:
    """Every difference between the stored due items of a site and those worked out anew, for the day they were stored.

    Changes nothing. A routine whose items were never worked out is compared with those of today.
    """
    for plans in _parts(site):
        known, stored = known_of(plans), stored_items(plans)
        for plan in plans:
            wanted = due_items(known[plan.pk], plan.computed_on or today)
            yield from compared(plan, wanted, stored[plan.pk])


def _parts(site: Site) -> Iterator[list[Plan]]:
    """Yield all routines of the site, some at a time."""
    last = 0
    plans = Plan.objects.at(site).select_related("site", "position", "asset").order_by("pk")
    while part := list(plans.filter(pk__gt=last)[:TOGETHER]):
        yield part
        last = part[-1].pk


def compared(plan: Plan, wanted: dict[str, DueItem], stored: dict[str, DueItem]) -> Iterator[Difference]:
    """Yield the differences of one routine: missing, too many, or other days than the facts give."""
    for turn, item in wanted.items():
        found = stored.get(turn)
        if found is None:
            yield Difference(plan, turn, f"the due item of {item.raw} ({turn}) is missing")
        elif found != _as_said_then(item, found):
            yield Difference(plan, turn, f"the due item of {item.raw} ({turn}) has {_other(item, found)}")
    for turn, item in stored.items():
        if turn not in wanted:
            yield Difference(plan, turn, f"the due item of {item.raw} ({turn}) is stored, but nothing asks for it")


def _as_said_then(item: DueItem, found: DueItem) -> DueItem:
    """The item as it was stored before what a condition saw was kept in words; carrying forward writes them.

    So too where it was not yet said that what was good was so by terms that changed since.
    """
    if found.why != OUTSIDE_LIMITS:
        return item
    if not found.use_now and not found.use_next:
        return replace(item, use_next="", use_now="")
    unsaid = item.use_next.startswith(f"{found.use_next} {BY_TERMS} ")
    return replace(item, use_next=found.use_next) if unsaid else item


def _other(wanted: DueItem, found: DueItem) -> str:
    return ", ".join(
        f"{f.name} {getattr(found, f.name) or 'empty'} instead of {getattr(wanted, f.name) or 'empty'}"
        for f in fields(DueItem)
        if getattr(found, f.name) != getattr(wanted, f.name)
    )
