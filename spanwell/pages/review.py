"""Review: what waits for a supervisor, what is late and what rests on it, what the nights found."""

from __future__ import annotations

import datetime as dt

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

import assets.reads.night
import calibration.reads
import calibration.reads.clocks
import calibration.reads.figures
import maintenance.reads.bearing
import maintenance.reads.failures
import maintenance.reads.late
import maintenance.reads.locks_review
import maintenance.reads.messages
import maintenance.reads.overrides
import maintenance.reads.panels
from assets.permissions import READERS, Desk, for_roles
from spanwell.pages.figures import short_list

LATE_DAYS = dt.timedelta(days=30)
LATE_SHOWN = 12


@require_safe
@for_roles(READERS)
def review(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Everything that waits to be looked at; operators and viewers see it too, and decide nothing."""
    checks = calibration.reads.review_panel(desk)
    upkeep = maintenance.reads.panels.review_panel(desk)
    locks = maintenance.reads.locks_review.review_locks(desk)
    forced = maintenance.reads.overrides.review_overrides(desk, timezone.now())
    put_off = maintenance.reads.bearing.review_deferrals(desk)
    context = {
        "checks": checks,
        "clocks": calibration.reads.clocks.clocks_at(desk.site, timezone.now()),
        "put_off": put_off,
        "forced": forced,
        "upkeep": upkeep,
        "locks": locks,
        "failures": maintenance.reads.failures.failure_panel(desk.site, desk.today),
        "late": _came_late(desk),
        "short": short_list(desk),
        "post": maintenance.reads.messages.post_line(desk.site, timezone.now()),
        "nights": assets.reads.night.night_lines(desk, "records", "checks", "fit for use"),
        "waiting": len(checks.rows) + upkeep.waiting + locks.waiting + forced.waiting + len(put_off.waiting),
    }
    return render(request, "review.html", context)


def _came_late(desk: Desk) -> dict[str, object]:
    """What was done after its last allowed day, and what was written down long after it was done."""
    since = timezone.now() - LATE_DAYS
    entered = (
        *maintenance.reads.late.entered_late(desk.site, since, LATE_SHOWN),
        *calibration.reads.figures.checks_entered_late(desk.site, since, LATE_SHOWN),
    )
    return {
        "done": maintenance.reads.late.done_late(desk.site, desk.today - LATE_DAYS, LATE_SHOWN),
        "entered": sorted(entered, key=lambda one: one.recorded_at, reverse=True)[:LATE_SHOWN],
    }
