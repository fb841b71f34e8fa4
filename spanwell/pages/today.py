"""Today: what is true now whoever is on shift, what the day asks, what one has begun and not finished."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

import assets.reads
import calibration.reads
import calibration.reads.clocks
import maintenance.reads.handover
import maintenance.reads.locks
import maintenance.reads.overrides
import maintenance.reads.panels
import maintenance.reads.walks
from assets.permissions import ADMINISTRATORS, EVERYBODY, OPERATORS, SUPERVISORS, Desk, for_roles

# What a place matters for, most serious first.
SERIOUS = ("safety", "compliance", "production", "other")


@dataclass(frozen=True, slots=True)
class NextStep:
    """The one thing to do next."""

    title: str
    text: str
    url: str
    button: str


def next_step(
    desk: Desk, begun: calibration.reads.panels.TodayPanel, asks: maintenance.reads.panels.TodayPanel
) -> NextStep | None:
    """What one has begun comes first, then the most serious item, longest owed; nothing for those who only read."""
    if not desk.may(OPERATORS):
        return None
    if begun.unfinished:
        first = begun.unfinished[0]
        return NextStep(f"{first.tag}: {first.word}", first.what, first.url, "Go on with it")
    if asks.visits:
        rows = [row for visit in asks.visits for row in visit.rows]
        row = min(rows, key=lambda row: (SERIOUS.index(row.matters), row.due, row.pk))
        return NextStep(f"{row.tag}: {row.what}", row.rests_on_it, reverse("do", args=[row.pk]), "Begin")
    return None


@require_safe
@for_roles(EVERYBODY)
def today(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The first page of the day; an administrator's is the people of the site."""
    if desk.may(ADMINISTRATORS):
        return redirect("assets:people")
    if not assets.reads.has_tags(desk):
        return render(request, "first_day.html", {"may_register": desk.may(SUPERVISORS)})
    begun = calibration.reads.today_panel(desk)
    asks = maintenance.reads.panels.today_panel(desk)
    context = {
        "day": desk.today,
        "next": next_step(desk, begun, asks),
        "locks": maintenance.reads.locks.today_locks(desk),
        "untaken": maintenance.reads.handover.untaken(desk),
        "may_hand_over": desk.may(OPERATORS),
        "clocks": calibration.reads.clocks.clocks_at(desk.site, timezone.now()),
        "forced": maintenance.reads.overrides.standing_rows(desk, timezone.now()),
        "walk": maintenance.reads.walks.today_panel(desk, timezone.now()),
        "asks": asks,
        "begun": begun,
    }
    return render(request, "today.html", context)
