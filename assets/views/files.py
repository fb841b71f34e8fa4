"""Files as they were sent, and pictures drawn anew for show."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from assets import filing
from assets.permissions import READERS, Desk, file_for, for_roles

A_YEAR = "private, max-age=31536000, immutable"


@require_safe
@for_roles(READERS)
def file(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Give a file back byte for byte, to be saved and never opened in the page."""
    kept = file_for(desk, pk)
    data = filing.as_kept(kept.sha256)
    if data is None:
        raise Http404("The bytes of this file are missing on the server.")
    answer = HttpResponse(data, content_type="application/octet-stream")
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=kept.name)
    answer["Cache-Control"] = A_YEAR
    return answer


@require_safe
@for_roles(READERS)
def shown(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Show a picture drawn anew."""
    kept = file_for(desk, pk)
    place = filing.place_of_shown(kept.sha256)
    if not kept.is_picture or not place.exists():
        raise Http404("There is no picture to show of this file.")
    answer = HttpResponse(place.read_bytes(), content_type="image/jpeg")
    answer["Cache-Control"] = A_YEAR
    return answer
