"""The due list, on the screen and as a file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from assets.lists import EVERY, PAGE, Asked, Link, asked_of, file_of
from assets.models import MattersFor
from assets.permissions import OPERATORS, READERS, Desk, for_roles
from maintenance.reads import due as reads
from maintenance.reads.due import DueFilter
from maintenance.reads.due_rows import DueRow

COLUMNS = (
    *("area", "tag", "what", "kind", "matters for", "state", "due", "last allowed day", "days late"),
    *("because", "last done", "planned minutes"),
)
STATES = {"": "Asked now", **{state: state.capitalize() for state in (*reads.STATES, *reads.OTHER_STATES)}}
MATTERS = {"": "Any", **dict(MattersFor.choices)}
KINDS = {"": "Any kind", **reads.KIND_WORDS}


@require_safe
@for_roles(READERS)
def due(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What is due, late, blocked, and what it matters for."""
    asked = asked_of(request, state=STATES, matters=MATTERS, kind=KINDS, area=None)
    which = _filter(asked)
    if asked.file:
        return file_of(asked, desk, "due", COLUMNS, map(_cells, reads.every_row(desk.site, which, desk.today)))
    size = PAGE if asked.number else EVERY
    page = reads.due_page(desk.site, which, desk.today, start=max(asked.number - 1, 0) * PAGE, size=size)
    beside = reads.beside(desk.site, which, desk.today)
    counts = beside.counts
    several = bool(asked.number) and (page.more or asked.number > 1)
    return render(
        request,
        "maintenance/due/due.html",
        {
            "title": f"Due list: {which.state}" if which.state else "Due list",
            "page": page,
            "pager": asked.pager(
                page.first, page.last, counts["state"][which.state], more=page.more, several=several, files=True
            ),
            "states": asked.links("state", counts["state"], only=("", *reads.STATES)),
            "others": asked.links("state", counts["state"], only=reads.OTHER_STATES),
            "matters": asked.links("matters", counts["matters"]),
            "kinds": asked.links("kind", counts["kind"]),
            "areas": _area_links(asked, which, beside.areas),
            "total": counts["state"][which.state],
            "overdue": counts["state"]["overdue"],
            "which": which,
            "blocked": beside.blocked,
            "blocked_total": counts["state"]["blocked"],
            "may_work": desk.may(OPERATORS),
            "may_raise": desk.may(OPERATORS) and which.state != "missed",
            "night": beside.night,
        },
    )


def _filter(asked: Asked) -> DueFilter:
    area = asked["area"]
    if area and not (area.isascii() and area.isdecimal() and len(area) < 10):
        raise Http404("There is no such area.")
    return DueFilter(asked["state"], asked["matters"], asked["kind"], int(area) if area else None)


def _area_links(asked: Asked, which: DueFilter, areas: Iterable[tuple[int, str]]) -> list[Link]:
    everywhere = Link("Everywhere", asked.url(area=""), which.area is None)
    return [everywhere, *(Link(name, asked.url(area=pk), which.area == pk) for pk, name in areas)]


def _cells(row: DueRow) -> tuple[str, ...]:
    return (
        *(row.area, row.tag, row.what, row.kind, row.matters, row.state.word),
        *(_iso(row.due), _iso(row.latest), str(row.late or ""), row.because, _iso(row.last.done_on), str(row.minutes)),
    )


def _iso(day: dt.date | None) -> str:
    return day.isoformat() if day else ""
