"""Begin a due item: sends on to the page of its kind, so that the due list needs to know no other app."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse

from assets.permissions import OPERATORS, Desk, for_roles


@for_roles(OPERATORS)
def do(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Being written."""
    return HttpResponse(status=501)
