"""The one way a form of the plant is shown, sent once and answered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.db import models
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render

from assets.inputs import KeyedForm
from assets.permissions import Desk


@dataclass(frozen=True, slots=True)
class FormPage:
    """A page with one form: its words, the act's verb and subject, and what is done (it returns the next page).

    `also` are links under the form: (words, address).
    """

    form: KeyedForm
    title: str
    refused: str
    button: str
    back: str
    back_word: str
    verb: str
    subject: models.Model
    do: Callable[[], str]
    intro: str = ""
    also: tuple[tuple[str, str], ...] = ()


def posted(request: HttpRequest) -> QueryDict | None:
    """Return what was sent, though it were nothing at all; None when the page is only looked at."""
    return request.POST if request.method == "POST" else None


def answered(request: HttpRequest, desk: Desk, page: FormPage) -> HttpResponse:
    """Show the form; when it was sent and nothing stops it, do the act once and lead on."""
    if request.method == "POST" and page.form.is_valid():
        answer = page.form.sent(desk, verb=page.verb, subject=page.subject, do=page.do)
        if answer is not None:
            return redirect(answer)
    context = {"page": page, "form": page.form}
    return render(request, "assets/form.html", context, status=422 if page.form.errors else 200)
