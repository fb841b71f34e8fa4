"""The list of work orders, on the screen and as files."""

from __future__ import annotations

from dataclasses import replace

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from assets.lists import Asked, asked_of, csv_answer, xlsx_answer
from assets.permissions import OPERATORS, READERS, Desk, for_roles, position_by_code
from maintenance.reads import orders as reads
from maintenance.reads.order_sheet import COLUMNS, order_sheet
from maintenance.reads.orders import OrderFilter

STATES = {key: word for key, (word, _) in reads.GROUPS.items()}
TYPES = {"": "Any kind", **{key: word for key, (_, word) in reads.TYPES.items()}}
WHOSE = {"": "Everybody’s", "mine": "In my charge"}


@require_safe
@for_roles(READERS)
def orders_list(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Work orders by state, type, tag; all or those in the asking person's charge."""
    asked, which = _asked(request, desk)
    shown, pager = asked.cut(reads.listed_orders(desk.site, which), files=False)
    context = {
        "rows": reads.order_rows(shown, desk.today),
        "which": which,
        "group": STATES[which.group],
        "states": asked.links("state", reads.group_counts(desk.site, which)),
        "types": asked.links("type"),
        "whose": asked.links("whose"),
        "every_tag": asked.url(tag=""),
        "tags": reads.tags_with_orders(desk.site),
        "kept": {name: asked[name] for name in ("state", "type", "whose")},
        "pager": replace(
            pager,
            csv_url=f"{reverse('maintenance:orders-csv')}{asked.url()}",
            xlsx_url=f"{reverse('maintenance:orders-xlsx')}{asked.url()}",
        ),
        "may_raise": desk.may(OPERATORS),
    }
    return render(request, "maintenance/orders/list.html", context)


@require_safe
@for_roles(READERS)
def orders_csv(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The same work orders as a file, one row each."""
    _, which = _asked(request, desk)
    return csv_answer([COLUMNS, *order_sheet(desk.site, which)], f"work-orders-{desk.today}")


@require_safe
@for_roles(READERS)
def orders_xlsx(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The same as a spreadsheet."""
    _, which = _asked(request, desk)
    return xlsx_answer("Work orders", [COLUMNS, *order_sheet(desk.site, which)], f"work-orders-{desk.today}")


def _asked(request: HttpRequest, desk: Desk) -> tuple[Asked, OrderFilter]:
    """Read the filter from the address. Raises Http404 for a word that is none."""
    asked = asked_of(request, state=STATES, type=TYPES, whose=WHOSE, tag=None)
    return asked, OrderFilter(
        group=asked["state"],
        type=asked["type"],
        mine=desk.person if asked["whose"] else None,
        tag=position_by_code(desk, asked["tag"]) if asked["tag"] else None,
    )
