"""Work orders as rows of a file, the same as the list that was asked for."""

from __future__ import annotations

import datetime as dt

from django.db.models import Sum

from assets.models import Site
from maintenance.models import Failure, Labour, WorkOrder
from maintenance.reads.orders import OrderFilter

COLUMNS = (
    *("number", "tag", "what", "type", "state", "because", "matters for", "raised", "raised by", "wanted by"),
    *("in charge", "planned minutes", "worked minutes", "waits for", "done", "done by", "found and done"),
    *("how it showed", "mechanism", "cause", "detected by", "accepted", "accepted by", "withdrawn because"),
)


def order_sheet(site: Site, which: OrderFilter) -> list[tuple[str, ...]]:
    """Return the work orders that are asked for, the newest first, days in ISO form; three questions."""
    people = ("raised_by", "in_charge", "done_by", "accepted_by")
    orders = list(which.of(site).select_related("position", "asset", *people).order_by("-number"))
    worked = dict(
        Labour.objects.filter(order__in=which.of(site), replaced_by__isnull=True)
        .order_by()
        .values_list("order")
        .annotate(Sum("minutes"))
    )
    failures = {row.order_id: row for row in Failure.objects.filter(order__in=which.of(site), replaced_by__isnull=True)}
    return [_cells(order, worked.get(order.pk, 0), failures.get(order.pk), site) for order in orders]


def _cells(order: WorkOrder, minutes: int, failure: Failure | None, site: Site) -> tuple[str, ...]:
    coded = (failure.shows, failure.mechanism, failure.cause, failure.detected) if failure else ("",) * 4
    return (
        *(str(order.number), str(order.position or order.asset), order.title, order.type, order.state),
        *(order.reason, order.position.matters_for if order.position else ""),
        *(_day(order.raised_at, site), order.raised_by.name),
        order.wanted_by.isoformat() if order.wanted_by else "",
        order.in_charge.name if order.in_charge else "",
        *(str(order.planned_minutes or ""), str(minutes or ""), order.waiting_for),
        *(_day(order.done_at, site), order.done_by.name if order.done_by else "", order.found),
        *coded,
        *(_day(order.accepted_at, site), order.accepted_by.name if order.accepted_by else ""),
        order.withdrawn_because,
    )


def _day(at: dt.datetime | None, site: Site) -> str:
    return at.astimezone(site.zone).strftime("%Y-%m-%d %H:%M") if at else ""
