"""Checks as a file, every figure as it was typed."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from assets.permissions import READERS, Desk, for_roles
from calibration.reads.checks import CheckFilter
from calibration.reads.export import csv_of, xlsx_of
from calibration.views.checks import filter_of

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@require_safe
@for_roles(READERS)
def checks_csv(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The checks that a filter asks for: one row a signed set, days and times in ISO form."""
    which, _ = filter_of(request, desk)
    answer = HttpResponse(csv_of(desk.site, which), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{_name(which, desk)}.csv"'
    return answer


@require_safe
@for_roles(READERS)
def checks_xlsx(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The same as a spreadsheet."""
    which, _ = filter_of(request, desk)
    answer = HttpResponse(xlsx_of(desk.site, which), content_type=XLSX)
    answer["Content-Disposition"] = f'attachment; filename="{_name(which, desk)}.xlsx"'
    return answer


def _name(which: CheckFilter, desk: Desk) -> str:
    what = which.position.tag.lower() if which.position is not None else which.method or "all"
    return f"checks-{what}-{desk.today.isoformat()}"
