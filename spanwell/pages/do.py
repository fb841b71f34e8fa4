"""Begin a due item: sends on to the page of its kind, so that the due list needs to know no other app."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_safe

from assets.permissions import OPERATORS, Desk, for_roles
from calibration.reads import begin_path
from maintenance.permissions.upkeep import occurrence_for
from maintenance.reads.bearing import READ_THE_METER
from maintenance.reads.walks import is_walked


@require_safe
@for_roles(OPERATORS)
def do(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """To the reading, the walk or the check that fulfils the due item, else to the record of work done."""
    occurrence = occurrence_for(desk, pk)
    if occurrence.why == READ_THE_METER and occurrence.plan.position_id is not None:
        return redirect(reverse("assets:reading-new", args=[occurrence.plan.position_id]))
    if is_walked(occurrence.plan):
        return redirect("maintenance:walks")
    path = begin_path(occurrence)
    return redirect(path) if path else redirect("maintenance:performance-new", pk=occurrence.pk)
