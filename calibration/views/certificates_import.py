"""Certificates of a calibrator from a file."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from assets.permissions import SUPERVISORS, Desk, for_roles
from calibration.actions.certificates_import import take_in_certificates
from calibration.compute.certificate_sheet import NEEDED, OPTIONAL
from calibration.forms.certificates_import import CertificatesForm
from calibration.views.sent import form_page


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def certificates_in(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Take in every certificate of a file, or say every fault with its row and column and take none."""
    form = CertificatesForm(request.POST or None, request.FILES or None)

    def do() -> str:
        taken = take_in_certificates(
            site=desk.site, content=form.cleaned_data["file"], asked=form.asked, by=desk.person
        )
        messages.success(request, f"Taken in: {taken.new}. Here already: {taken.same}.")
        return reverse("calibration:standards")

    return form_page(
        request,
        desk,
        form,
        template="calibration/certificates_in.html",
        context={"needed": NEEDED, "optional": OPTIONAL},
        verb="certificates.taken in",
        subject=desk.site,
        do=do,
    )
