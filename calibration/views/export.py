"""Checks of a tag as a file, every figure as it was typed."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from assets.permissions import READERS, Desk, for_roles
from calibration.reads.export import csv_of
from calibration.views.checks import filter_of


@require_safe
@for_roles(READERS)
def checks_csv(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The checks that a filter asks for: one row a signed set, days and times in ISO form."""
    which, _, _ = filter_of(request, desk)
    name = which.position.tag.lower() if which.position is not None else "all"
    answer = HttpResponse(csv_of(desk.site, which), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="checks-{name}-{desk.today.isoformat()}.csv"'
    return answer
