"""Figures of a period, each with what it was made from, and what the routines ask for in the coming year."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

import calibration.reads.figures
import maintenance.reads.figures
import maintenance.reads.forecast
from assets.lists import Link, csv_answer, xlsx_answer
from assets.permissions import READERS, Desk, for_roles


def _asked(request: HttpRequest, desk: Desk) -> tuple[Any, list[Any]]:
    """Return the period a link asks for, the last twelve months where it asks for none that is there, and all."""
    found = list(maintenance.reads.figures.periods(desk.site, desk.today))
    wanted = request.GET.get("period", "12m")
    return next((one for one in found if one.key == wanted), found[1]), found


def all_figures(desk: Desk, period: Any) -> dict[str, Any]:
    """Return the figures of a period in their groups."""
    upkeep = maintenance.reads.figures.figures_of(desk.site, period, desk.today)
    passed = calibration.reads.figures.passed_as_found(desk.site, period)
    return {"first": (passed, *upkeep.due), "orders": upkeep.orders, "failures": upkeep.failures, "upkeep": upkeep}


def short_list(desk: Desk) -> dict[str, Any]:
    """Return the few figures of the last twelve months that stand in Review."""
    period = maintenance.reads.figures.periods(desk.site, desk.today)[1]
    found = all_figures(desk, period)
    return {"period": period, "figures": (*found["first"], found["failures"][0])}


@require_safe
@for_roles(READERS)
def figures(request: HttpRequest, desk: Desk) -> HttpResponse:
    """All figures of a period."""
    period, found = _asked(request, desk)
    url = reverse("figures")
    links = [Link(one.word, f"{url}?period={one.key}", one == period) for one in found]
    parts = all_figures(desk, period)
    groups = (
        ("Checks and due items", parts["first"]),
        ("Work orders", parts["orders"]),
        ("Time between failures", parts["failures"]),
    )
    context = {
        "period": period,
        "links": links,
        "groups": groups,
        "machines": parts["upkeep"].machines,
        "csv_url": f"{reverse('figures-csv')}?period={period.key}",
        "xlsx_url": f"{reverse('figures-xlsx')}?period={period.key}",
    }
    return render(request, "figures.html", context)


def _rows(request: HttpRequest, desk: Desk) -> tuple[str, list[tuple[str, ...]]]:
    period, _ = _asked(request, desk)
    parts = all_figures(desk, period)
    every = (*parts["first"], *parts["orders"], *parts["failures"], *parts["upkeep"].machines)
    return f"figures-{period.last}", maintenance.reads.figures.rows_of_file(every, period)


@require_safe
@for_roles(READERS)
def figures_csv(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Send the same as CSV."""
    name, rows = _rows(request, desk)
    return csv_answer(rows, name)


@require_safe
@for_roles(READERS)
def figures_xlsx(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Send the same as a spreadsheet."""
    name, rows = _rows(request, desk)
    return xlsx_answer("Figures", rows, name)


@require_safe
@for_roles(READERS)
def ahead(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Jobs, hours, standards and parts of the coming year, and the hours of the coming weeks."""
    found = maintenance.reads.forecast.ahead_of(desk.site, desk.today)
    standards = calibration.reads.figures.standards_ahead(desk.site, desk.today)
    context = {"ahead": found, "standards": standards, "months": found.month_bars, "weeks": found.week_bars}
    return render(request, "ahead.html", context)


@require_safe
@for_roles(READERS)
def ahead_csv(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Send the months as CSV."""
    found = maintenance.reads.forecast.ahead_of(desk.site, desk.today)
    return csv_answer(maintenance.reads.forecast.rows_of_ahead(found), f"coming-year-{desk.today}")


@require_safe
@for_roles(READERS)
def ahead_xlsx(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Send the months as a spreadsheet."""
    found = maintenance.reads.forecast.ahead_of(desk.site, desk.today)
    return xlsx_answer("Coming year", maintenance.reads.forecast.rows_of_ahead(found), f"coming-year-{desk.today}")
