"""A page with one form: shown, sent once, answered, or shown again with what was typed and why it was refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import models
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render

from assets.inputs import KeyedForm
from assets.permissions import Desk
from maintenance.forms.proven import ProvenForm


@dataclass(frozen=True, slots=True, kw_only=True)
class OneForm:
    """The words of the page, the act's verb and subject, and what is done; `do` returns the next page."""

    form: KeyedForm
    title: str
    refused: str
    button: str
    back: str
    verb: str
    subject: models.Model
    do: Callable[[], str]
    intro: str = ""
    template: str = "maintenance/_one_form.html"
    more: Mapping[str, Any] = field(default_factory=dict)


def typed(request: HttpRequest) -> QueryDict | None:
    """What was sent, even when it is nothing; None when the form is only asked for."""
    return request.POST if request.method == "POST" else None


def answered(request: HttpRequest, desk: Desk, page: OneForm) -> HttpResponse:
    """Show the form; when it was sent and nothing stops it, do the act once and lead on."""
    if request.method == "POST" and page.form.is_valid():
        answer = page.form.sent(desk, verb=page.verb, subject=page.subject, do=page.do)
        if answer is not None:
            return redirect(answer)
    context = {"page": page, "form": page.form, **page.more}
    return render(request, page.template, context, status=422 if page.form.errors else 200)


@dataclass(frozen=True, slots=True, kw_only=True)
class OneProvenForm:
    """The same for an act that takes a proof: `before` checks what is shown, `do` gets it and returns the next page."""

    form: ProvenForm
    title: str
    refused: str
    button: str
    back: str
    verb: str
    subject: models.Model
    before: Callable[[], Any]
    do: Callable[[Any], str]
    intro: str = ""
    template: str = "maintenance/_one_form.html"
    more: Mapping[str, Any] = field(default_factory=dict)


def answered_proven(request: HttpRequest, desk: Desk, page: OneProvenForm) -> HttpResponse:
    """Show the form; when it was sent, check the proof before the transaction, then do the act once and lead on."""
    form = page.form
    if request.method == "POST" and form.is_valid():
        answer = form.sent_after(
            page.before, page.do, site=desk.site, by=desk.person, verb=page.verb, subject=page.subject
        )
        if answer is not None:
            return redirect(answer)
    context = {"page": page, "form": form, **page.more}
    return render(request, page.template, context, status=422 if form.errors else 200)
