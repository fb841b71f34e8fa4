"""The list of work orders, on the screen and as files."""

from __future__ import annotations

from dataclasses import replace
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from assets.permissions import OPERATORS, READERS, Desk, for_roles, position_by_code
from maintenance.reads import orders as reads
from maintenance.reads.order_sheet import COLUMNS, order_sheet
from maintenance.reads.orders import OrderFilter
from maintenance.views.due import Link, Pager
from maintenance.views.sheets import csv_answer, xlsx_answer


@require_safe
@for_roles(READERS)
def orders_list(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Work orders by state, type, tag; all or those in the asking person's charge."""
    which = _asked(request, desk)
    asked = request.GET.get("page", "1")
    number = int(asked) if asked.isdecimal() and 0 < int(asked) < 100_000 else 1
    page = reads.orders_page(desk.site, which, desk.today, number=number)
    counts = reads.group_counts(desk.site, which)
    states = [
        Link(word, _url(replace(which, group=key)), key == which.group, counts[key])
        for key, (word, _) in reads.GROUPS.items()
    ]
    types = [("", "Any kind"), *((key, word) for key, (_, word) in reads.TYPES.items())]
    before = _url(which, number - 1) if number > 1 else ""
    context = {
        "page": page,
        "which": which,
        "group": reads.GROUPS[which.group][0],
        "states": states,
        "types": [Link(word, _url(replace(which, type=key)), key == which.type) for key, word in types],
        "whose": [
            Link("Everybody’s", _url(replace(which, mine=None)), which.mine is None),
            Link("In my charge", _url(replace(which, mine=desk.person)), which.mine is not None),
        ],
        "every_tag": _url(replace(which, tag=None)),
        "tags": reads.tags_with_orders(desk.site),
        "kept": {"state": which.group, "type": which.type, "whose": "mine" if which.mine else ""},
        "pager": Pager(page.first, page.last, page.total, before, _url(which, number + 1) if page.more else ""),
        "csv_url": f"{reverse('maintenance:orders-csv')}?{_query(which)}",
        "xlsx_url": f"{reverse('maintenance:orders-xlsx')}?{_query(which)}",
        "may_raise": desk.may(OPERATORS),
    }
    return render(request, "maintenance/orders/list.html", context)


@require_safe
@for_roles(READERS)
def orders_csv(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The same work orders as a file, one row each."""
    return csv_answer([COLUMNS, *order_sheet(desk.site, _asked(request, desk))], f"work-orders-{desk.today}")


@require_safe
@for_roles(READERS)
def orders_xlsx(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The same as a spreadsheet."""
    rows = [COLUMNS, *order_sheet(desk.site, _asked(request, desk))]
    return xlsx_answer("Work orders", rows, f"work-orders-{desk.today}")


def _asked(request: HttpRequest, desk: Desk) -> OrderFilter:
    """Read the filter from the address. Raises Http404 for a word that is none."""
    group, kind, tag = (request.GET.get(name, "") for name in ("state", "type", "tag"))
    if group not in reads.GROUPS or (kind and kind not in reads.TYPES):
        raise Http404("There is no such list of work orders.")
    return OrderFilter(
        group=group,
        type=kind,
        mine=desk.person if request.GET.get("whose") == "mine" else None,
        tag=position_by_code(desk, tag) if tag else None,
    )


def _query(which: OrderFilter, number: int = 1) -> str:
    parts = {
        "state": which.group,
        "type": which.type,
        "whose": "mine" if which.mine else "",
        "tag": which.tag.label_code if which.tag else "",
        "page": str(number) if number > 1 else "",
    }
    return urlencode({name: value for name, value in parts.items() if value})


def _url(which: OrderFilter, number: int = 1) -> str:
    query = _query(which, number)
    return f"{reverse('maintenance:orders')}{'?' if query else ''}{query}"
