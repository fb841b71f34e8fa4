"""The page of a tag."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from assets.permissions import EVERYBODY, Desk, for_roles


@for_roles(EVERYBODY)
def scanned(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """A label was scanned: to the page of its tag."""
    return redirect("tag", code=code.upper())


@for_roles(EVERYBODY)
def tag(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Being written."""
    return HttpResponse(status=501)
