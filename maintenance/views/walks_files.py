"""Files of the walk: the list of walks as a table, and the worker that keeps the pages of a walk on a phone."""

from __future__ import annotations

from django.contrib.staticfiles import finders
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from assets.lists import csv_answer, xlsx_answer
from assets.models import Site
from assets.permissions import READERS, Desk, for_roles
from maintenance.reads.walks import walk_rows

COLUMNS = ("walk", "round", "begun", "begun by", "ended", "ended by", "check points", "left", "odd", "left undone")


@require_safe
@for_roles(READERS)
def walks_csv(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The walks as CSV."""
    return csv_answer([COLUMNS, *_rows(request, desk.site)], "walks")


@require_safe
@for_roles(READERS)
def walks_xlsx(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The walks as XLSX."""
    return xlsx_answer("Walks", [COLUMNS, *_rows(request, desk.site)], "walks")


def _rows(request: HttpRequest, site: Site) -> list[tuple[str, ...]]:
    asked = request.GET.get("round", "")
    rows = walk_rows(site, int(asked) if asked.isdecimal() and len(asked) < 16 else None)
    return [
        (
            str(walk.number),
            walk.round.name,
            f"{walk.begun_at.astimezone(site.zone):%Y-%m-%d %H:%M}",
            walk.begun_by.name,
            f"{walk.ended_at.astimezone(site.zone):%Y-%m-%d %H:%M}" if walk.ended_at else "",
            walk.ended_by.name if walk.ended_by else "",
            str(walk.of),  # type: ignore[attr-defined]
            str(walk.left),  # type: ignore[attr-defined]
            str(walk.odd),  # type: ignore[attr-defined]
            walk.left_undone or "",
        )
        for walk in rows
    ]


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The script that keeps the pages of a walk on a phone.

    It must lie where the walk lies: a worker is let near no page above its own address.
    """
    path = finders.find("js/walk_worker.js")
    if not isinstance(path, str):
        raise Http404("The worker of the walk is missing from this installation.")
    with open(path, encoding="utf-8") as file:
        text = file.read()
    return HttpResponse(text, content_type="text/javascript; charset=utf-8", headers={"Cache-Control": "no-cache"})
