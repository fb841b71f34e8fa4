"""The page of a tag: what the plant, upkeep, checks and locks know of one place."""

from __future__ import annotations

import datetime as dt

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

import assets.reads
import calibration.reads
import calibration.reads.clocks
import maintenance.reads.locks
import maintenance.reads.overrides
import maintenance.reads.panels
from assets.permissions import OPERATORS, READERS, Desk, for_roles, position_by_code


def known_on(request: HttpRequest, desk: Desk) -> dt.datetime | None:
    """The end of the site's day asked for by `?known=2026-11-20`; None for now, and for what is no day."""
    try:
        day = dt.date.fromisoformat(request.GET.get("known", ""))
    except ValueError:
        return None
    if day >= desk.today:
        return None
    return dt.datetime.combine(day, dt.time(23, 59, 59), tzinfo=desk.site.zone)


@require_safe
@for_roles(READERS)
def tag(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Everything about one tag; `?known=` shows the plant's part as it was known on a day."""
    position = position_by_code(desk, code)
    known = known_on(request, desk)
    plant = assets.reads.tag_panel(desk, position, known=known)
    context = {
        "position": position,
        "plant": plant,
        "reading": plant.readings[0] if plant.readings else None,
        "clocks": calibration.reads.clocks.clocks_at(desk.site, timezone.now(), position=position),
        "may_write": desk.may(OPERATORS),
        "checks": calibration.reads.tag_panel(desk, position),
        "upkeep": maintenance.reads.panels.tag_panel(desk, position),
        "locks": maintenance.reads.locks.tag_locks(desk, position),
        "forced": maintenance.reads.overrides.rows_at(desk, position, timezone.now()),
        "asked_day": request.GET.get("known", ""),
    }
    return render(request, "tag.html", context)
