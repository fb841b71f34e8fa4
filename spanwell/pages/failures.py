"""What a person sees when a page cannot be shown."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.db import Error as DatabaseAway
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from assets.permissions import desk_of


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """The browser sent something unreadable."""
    return render(request, "400.html", status=400)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Yours to see, not to do: says which role it takes."""
    why = str(exception) if isinstance(exception, PermissionDenied) else ""
    return render(request, "403.html", {"why": why}, status=403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Not there, or not yours."""
    why = str(exception.args[0]) if isinstance(exception, Http404) and exception.args else ""
    context = {"why": why if why.endswith(".") else ""}
    try:
        # No view ran, so nobody has asked yet who this is; without a desk the page would show no sections.
        if not hasattr(request, "desk"):
            request.desk = desk_of(request)  # type: ignore[attr-defined]
        return render(request, "404.html", context, status=404)
    except (DatabaseAway, PermissionDenied):
        request.desk = None  # type: ignore[attr-defined]
        return render(request, "404.html", context, status=404)


def broken(request: HttpRequest) -> HttpResponse:
    """A fault of the tool."""
    return render(None, "500.html", status=500)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form's proof that it came from this site is missing or old."""
    return render(request, "403_csrf.html", {"why": reason}, status=403)
