"""A check as a digital calibration certificate: what is missing is asked, then the file is given."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from assets.permissions import READERS, Desk, for_roles
from calibration.compute.dcc import xml_of
from calibration.forms.dcc import DccForm
from calibration.permissions import check_for
from calibration.reads.dcc import certificate_of

REFUSED = 422


@require_safe
@for_roles(READERS)
def check_dcc(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Ask the country and the version of the schema; with both, give the file."""
    row = check_for(desk, number)
    asked = "country" in request.GET
    form = DccForm(request.GET if asked else None, initial={"schema": "3.3.0"})
    if not asked or not form.is_valid():
        context = {"form": form, "check": row, "position": row.position}
        return render(request, "calibration/check_dcc.html", context, status=REFUSED if form.errors else 200)
    content = certificate_of(row, country=form.cleaned_data["country"], today=desk.today)
    if not content.sets:
        form.add_error(None, f"Check {number} has no set with readings, so there is no result to write down.")
        context = {"form": form, "check": row, "position": row.position}
        return render(request, "calibration/check_dcc.html", context, status=REFUSED)
    answer = HttpResponse(xml_of(content, version=form.cleaned_data["schema"]), content_type="application/xml")
    answer["Content-Disposition"] = f'attachment; filename="check-{number}.xml"'
    return answer
