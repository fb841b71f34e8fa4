"""When a nightly comparison is owed, and the newest one of each kind."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assets.models import NightReport, Site
from assets.permissions import Desk

NIGHT_BEGINS = 2  # o'clock at the site


def night_of(site: Site, kind: str, now: dt.datetime) -> dt.date | None:
    """Return the site's day if its night has begun and this comparison was not made yet."""
    here = now.astimezone(site.zone)
    if here.hour < NIGHT_BEGINS:
        return None
    done = NightReport.objects.filter(site=site, kind=kind, site_day=here.date()).exists()
    return None if done else here.date()


@dataclass(frozen=True, slots=True)
class NightLine:
    """What the newest comparison of one kind found; `stale` when it was not last night's."""

    kind: str
    day: dt.date
    differences: int
    lines: tuple[str, ...]
    stale: bool


def night_lines(desk: Desk, *kinds: str) -> tuple[NightLine, ...]:
    """The newest report of each kind that was ever compared at the asking person's site."""
    found: list[NightLine] = []
    for kind in kinds:
        report = NightReport.objects.filter(site=desk.site, kind=kind).order_by("-site_day").first()
        if report is not None:
            stale = desk.today - report.site_day > dt.timedelta(days=1)
            lines = tuple(report.text.splitlines())
            found.append(NightLine(kind, report.site_day, report.differences, lines, stale))
    return tuple(found)
