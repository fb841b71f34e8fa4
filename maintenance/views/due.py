"""The due list, on the screen and as a file."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from assets.models import MattersFor
from assets.permissions import OPERATORS, READERS, Desk, for_roles
from maintenance.compute.sheets import harmless
from maintenance.forms.due import DueFilterForm
from maintenance.reads import due as reads
from maintenance.reads.due import DueFilter, DuePage
from maintenance.reads.due_rows import DueRow

COLUMNS = (
    *("area", "tag", "what", "kind", "matters for", "state", "due", "last allowed day", "days late"),
    *("because", "last done", "planned minutes"),
)


@dataclass(frozen=True, slots=True)
class Link:
    """One word of a filter."""

    label: str
    url: str
    current: bool
    count: str = ""


@dataclass(frozen=True, slots=True)
class Pager:
    """Where the page stands in the list."""

    first: int
    last: int
    total: str
    before_url: str
    after_url: str


@require_safe
@for_roles(READERS)
def due(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What is due, late, blocked, and what it matters for."""
    asked = DueFilterForm(request.GET)
    which, number = asked.which, asked.number
    page = reads.due_page(desk.site, which, desk.today, number=number)
    beside = reads.beside(desk.site, which, desk.today)
    numbers = beside.counts
    return render(
        request,
        "maintenance/due/due.html",
        {
            "title": _title(which),
            "page": page,
            "pager": _pager(which, page, number, numbers["state"][which.state]),
            "states": _links(which, "state", {"": "Asked now", **_words(reads.STATES)}, numbers["state"]),
            "others": _links(which, "state", _words(reads.OTHER_STATES), numbers["state"]),
            "matters": _links(which, "matters", {"": "Any", **dict(MattersFor.choices)}, numbers["matters"]),
            "kinds": _links(which, "kind", {"": "Any kind", **reads.KIND_WORDS}, numbers["kind"]),
            "areas": _area_links(which, beside.areas),
            "total": numbers["state"][which.state],
            "overdue": numbers["state"]["overdue"],
            "which": which,
            "blocked": beside.blocked,
            "blocked_total": numbers["state"]["blocked"],
            "csv_url": f"{reverse('maintenance:due-csv')}?{_query(which)}",
            "may_work": desk.may(OPERATORS),
            "may_raise": desk.may(OPERATORS) and which.state != "missed",
            "night": beside.night,
        },
    )


@require_safe
@for_roles(READERS)
def due_csv(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Same rows as a file: days in ISO form, the site's date in its name."""
    which = DueFilterForm(request.GET).which
    answer = HttpResponse("".join(_csv(desk, which)), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="due-{desk.today.isoformat()}.csv"'
    return answer


def _csv(desk: Desk, which: DueFilter) -> Iterator[str]:
    yield _line(COLUMNS)
    for row in reads.every_row(desk.site, which, desk.today):
        yield _line(_cells(row))


def _cells(row: DueRow) -> tuple[str, ...]:
    return (
        *(row.area, row.tag, row.what, row.kind, row.matters, row.state.word),
        *(_iso(row.due), _iso(row.latest), str(row.late or ""), row.because, _iso(row.last.done_on), str(row.minutes)),
    )


def _iso(day: dt.date | None) -> str:
    return day.isoformat() if day else ""


def _line(cells: tuple[str, ...]) -> str:
    written = io.StringIO()
    csv.writer(written).writerow([harmless(cell) for cell in cells])
    return written.getvalue()


def _title(which: DueFilter) -> str:
    return f"Due list: {which.state}" if which.state else "Due list"


def _words(states: tuple[str, ...]) -> dict[str, str]:
    return {state: state.capitalize() for state in states}


def _query(which: DueFilter) -> str:
    parts = {"state": which.state, "matters": which.matters, "kind": which.kind, "area": which.area}
    return urlencode({name: value for name, value in parts.items() if value})


def _url(which: DueFilter, *, number: int = 1) -> str:
    # From the list to itself: only what stands after the question mark.
    return f"?{'&'.join(part for part in (_query(which), f'page={number}' if number > 1 else '') if part)}"


def _links(which: DueFilter, name: str, words: dict[str, str], numbers: dict[str, str]) -> list[Link]:
    now = getattr(which, name)
    return [Link(word, _url(which.of(**{name: key})), now == key, numbers[key]) for key, word in words.items()]


def _area_links(which: DueFilter, areas: Iterable[tuple[int, str]]) -> list[Link]:
    every = [(None, "Everywhere"), *areas]
    return [Link(name, _url(which.of(area=pk)), which.area == pk) for pk, name in every]


def _pager(which: DueFilter, page: DuePage, number: int, total: str) -> Pager:
    return Pager(
        page.first,
        page.last,
        total,
        _url(which, number=number - 1) if number > 1 else "",
        _url(which, number=number + 1) if page.more else "",
    )
