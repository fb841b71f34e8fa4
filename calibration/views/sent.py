"""One way for every form of standards: shown, sent once, refused at its fields, or on to where it leads."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db import models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from assets.inputs import KeyedForm
from assets.permissions import Desk

REFUSED = 422


def form_page(
    request: HttpRequest,
    desk: Desk,
    form: KeyedForm,
    *,
    template: str,
    context: dict[str, Any],
    verb: str,
    subject: models.Model,
    do: Callable[[], str],
) -> HttpResponse:
    """Answer a request for a form: the page, the page with what was wrong, or where the act led."""
    if request.method == "POST" and form.is_valid():
        answer = form.sent(desk, verb=verb, subject=subject, do=do)
        if answer is not None:
            return redirect(answer)
    return render(request, template, {"form": form, **context}, status=REFUSED if form.errors else 200)
