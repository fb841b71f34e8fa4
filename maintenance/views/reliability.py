"""What the failures at a tag say together."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from assets.permissions import READERS, Desk, for_roles, position_by_code
from maintenance.forms.reliability import CostsForm
from maintenance.reads.reliability import reliability_of

REFUSED = 422


@require_safe
@for_roles(READERS)
def reliability(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Mean time, trend and life of what stands at a tag; with costs typed, the best age to replace it."""
    position = position_by_code(desk, code)
    form = CostsForm(request.GET) if request.GET else CostsForm()
    costs = form.costs() if form.is_bound and form.is_valid() else None
    told = reliability_of(position, desk.today, costs)
    context = {"position": position, "told": told, "form": form}
    status = REFUSED if form.is_bound and form.errors else 200
    return render(request, "maintenance/reliability.html", context, status=status)
