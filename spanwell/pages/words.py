"""Being written."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from assets.permissions import EVERYBODY, Desk, for_roles


@for_roles(EVERYBODY)
def words(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Being written."""
    return render(request, "words.html")
