"""A page with one act on locks: shown, proven, done once, or shown again with what was typed and why it was refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from assets.permissions import Desk
from assets.proofs import prove
from maintenance.forms.locks import LockForm
from maintenance.models import Lockout
from maintenance.views import one_form

TEMPLATE = "maintenance/locks/act.html"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvenForm:
    """The words of a page whose act takes a proof: `before` checks what is shown, `do` gets it and returns the next."""

    form: LockForm
    title: str
    refused: str | Callable[[], str]  # called by the template, so that it tells what is so after the act
    button: str
    verb: str
    before: Callable[[], Any]
    do: Callable[[Any], str]
    intro: str = ""
    template: str = TEMPLATE
    more: Mapping[str, Any] = field(default_factory=dict)


def page_of(lockout: Lockout) -> str:
    """The page of a lockout."""
    return reverse("maintenance:lockout", args=[lockout.number])


def proven(request: HttpRequest, desk: Desk, lockout: Lockout, page: ProvenForm) -> HttpResponse:
    """A form page of a lockout with a proof."""
    form = page.form
    who: dict[str, Any] = {"site": desk.site, "by": desk.person, "verb": page.verb, "subject": lockout}
    if request.method == "POST" and not form.refused_unread(**who):
        answer = form.sent_after(page.before, page.do, **who)
        if answer is not None:
            return redirect(answer)
    context = {"page": page, "form": form, "lockout": lockout, "back": page_of(lockout), **page.more}
    return render(request, page.template, context, status=422 if form.errors else 200)


def answered(request: HttpRequest, desk: Desk, page: one_form.OneForm) -> HttpResponse:
    """A form page of locks without a proof; that its form was at fault is written too, as any refusal of an act."""
    if request.method == "POST":
        page.form.refused_unread(site=desk.site, by=desk.person, verb=page.verb, subject=page.subject)
    return one_form.answered(request, desk, page)


def proof_in(desk: Desk, form: LockForm) -> Callable[[], Any]:
    """The proof typed into a form, checked when it is asked for."""
    return lambda: prove(desk.person, form.cleaned_data["proof"], site=desk.site)
