"""How every list is asked for, by its link alone: which rows, which page of them, all of them for paper, or a file.

A file of a list is the address of the list with `as=csv` or `as=xlsx`: it holds the rows of the same filter, for the
same people, because it is the same page.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar
from urllib.parse import urlencode

from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse

from assets.compute.csv_text import harmless
from assets.compute.workbook import workbook_of
from assets.filing import XLSX
from assets.permissions import Desk

PAGE = 50
"""Rows of one page of a list."""
EVERY = 5_000
"""Rows of a list on one page for paper, at most; a file holds them all."""
LONGEST = 100
"""Letters of what is looked for; more is never found."""
FILES = ("csv", "xlsx")

Row = TypeVar("Row")


@dataclass(frozen=True, slots=True)
class Link:
    """One word of a filter."""

    label: str
    url: str
    current: bool
    count: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pager:
    """Where a page stands in its list, and the ways on: further rows, all of them for paper, a file.

    `only`: the filters in words, since paper shows no links.
    """

    first: int
    last: int
    total: str
    before_url: str = ""
    after_url: str = ""
    every_url: str = ""
    pages_url: str = ""
    csv_url: str = ""
    xlsx_url: str = ""
    only: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finder:
    """The field in which a word is looked for: what it says now, the other filters, the list without it."""

    label: str
    text: str
    kept: Mapping[str, str]
    all_url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a link asks of a list. `number`: the page, from 1; 0 for every row at once. `file`: '', 'csv' or 'xlsx'."""

    chosen: Mapping[str, str]
    number: int = 1
    file: str = ""
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def __getitem__(self, name: str) -> str:
        """Return what a filter is set to; '' where it lets everything through."""
        return self.chosen.get(name, "")

    @property
    def is_filtered(self) -> bool:
        """Whether any filter is set."""
        return any(self.chosen.values())

    def url(self, **other: str | int) -> str:
        """Return the link of the list with these filters set otherwise; from the list to itself, so no path."""
        parts = {name: value for name, value in {**self.chosen, **other}.items() if value}
        return f"?{urlencode(parts)}"

    def links(self, name: str, counts: Mapping[str, str] | None = None, *, only: Collection[str] = ()) -> list[Link]:
        """Return the words of a filter as links, or `only` some of them; each keeps the other filters."""
        words = self.words[name]
        shown, now, counts = set(only), self[name], counts or {}
        return [
            Link(word, self.url(**{name: key}), key == now, counts.get(key, ""))
            for key, word in words.items()
            if key in shown or not shown
        ]

    def finder(self, label: str) -> Finder:
        """Return the field `find` of the list."""
        kept = {name: value for name, value in self.chosen.items() if value and name != "find"}
        return Finder(label=label, text=self["find"], kept=kept, all_url=self.url(find=""))

    def finds(self, *columns: str) -> Q:
        """Return the condition that one of these columns holds what is looked for."""
        found = Q()
        for column in columns:
            found |= Q(**{f"{column}__icontains": self["find"]})
        return found if self["find"] else Q()

    def _said(self) -> str:
        words = [known[self[name]] for name, known in self.words.items() if self[name] and self[name] in known]
        return ", ".join([*words, *([f"“{self['find']}”"] if self["find"] else [])])

    def cut(self, rows: QuerySet[Any, Row] | Sequence[Row], *, files: bool = True) -> tuple[list[Row], Pager]:
        """Return the rows of the page that is asked for, and where they stand; two questions for rows of a table.

        files: the list is also sent as a file.
        """
        size, start = (PAGE, (self.number - 1) * PAGE) if self.number else (EVERY, 0)
        found = list(rows[start : start + size + 1])
        shown, more = found[:size], len(found) > size
        total = rows.order_by().count() if isinstance(rows, QuerySet) else len(rows)
        several = bool(self.number) and total > PAGE
        first = start + 1 if shown else 0
        last = start + len(shown) if shown else 0
        return shown, self.pager(first, last, str(total), more=more, several=several, files=bool(total) and files)

    def pager(self, first: int, last: int, total: str, *, more: bool, several: bool, files: bool) -> Pager:
        """Return where rows `first` to `last` stand in a list of `total`, and the ways on.

        more: further rows follow; several: the list has more than one page; files: it is sent as a file too.
        """
        return Pager(
            first=first,
            last=last,
            total=total,
            before_url=self.url(page=self.number - 1 if self.number > 2 else "") if self.number > 1 else "",
            after_url=self.url(page=self.number + 1) if self.number and more else "",
            every_url=self.url(page="all") if several else "",
            pages_url="" if self.number else self.url(),
            csv_url=self.url(**{"as": "csv"}) if files else "",
            xlsx_url=self.url(**{"as": "xlsx"}) if files else "",
            only=self._said(),
        )


def asked_of(request: HttpRequest, **words: Mapping[str, str] | None) -> Asked:
    """Read what a link asks for. `words`: of each filter the values that it knows, with their words, or None for text.

    '' must be among the values: it is the filter left open. Raises Http404 for a value that no filter has.
    """
    chosen = {}
    for name, known in words.items():
        value = request.GET.get(name, "").replace("\0", "").strip()[:LONGEST]
        if known is not None and value not in known:
            raise Http404("There is no such list.")
        chosen[name] = value
    page, file = request.GET.get("page", "1"), request.GET.get("as", "")
    if file and file not in FILES:
        raise Http404("A list is sent as CSV or as XLSX.")
    return Asked(
        chosen=chosen,
        number=page_number(page),
        file=file,
        words={name: known for name, known in words.items() if known is not None},
    )


def page_number(text: str) -> int:
    """Return the number of a page as a link says it: 0 for all rows at once, 1 for what is no number."""
    if text == "all":
        return 0
    return int(text) if text.isascii() and text.isdecimal() and 0 < int(text) < 100_000 else 1


def file_of(asked: Asked, desk: Desk, name: str, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> HttpResponse:
    """Send the rows of a list, its columns first, as the file that is asked for; the site's day is in its name."""
    called = f"{name.replace(' ', '-')}-{desk.today.isoformat()}"
    table = [columns, *rows]
    return csv_answer(table, called) if asked.file == "csv" else xlsx_answer(name.capitalize(), table, called)


def csv_answer(rows: Iterable[Sequence[str]], name: str) -> HttpResponse:
    """Send rows, the heading first, as CSV in which no cell is taken for a formula; `name` without its ending."""
    written = io.StringIO()
    csv.writer(written).writerows([harmless(cell) for cell in row] for row in rows)
    return _sent(written.getvalue(), "text/csv; charset=utf-8", f"{name}.csv")


def xlsx_answer(title: str, rows: Iterable[Sequence[str]], name: str) -> HttpResponse:
    """Send the same as a spreadsheet in which text stays text."""
    return _sent(workbook_of({title: rows}), XLSX, f"{name}.xlsx")


def _sent(content: str | bytes, kind: str, name: str) -> HttpResponse:
    return HttpResponse(content, content_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})
