"""What the words and marks mean: for everybody, signed in or not."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from assets.permissions import desk_of


@require_safe
def words(request: HttpRequest) -> HttpResponse:
    """The words of the tool with their marks."""
    desk = desk_of(request)
    if desk is not None:
        request.desk = desk  # type: ignore[attr-defined]
    return render(request, "words.html")
