"""The two ends of a lockout: closed; and the machine taken back by operations. And the contractor's invitation."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from assets.actions.links import IssuedLink
from assets.compute.label_codes import spaced
from assets.models import Person, Role
from assets.permissions import OPERATORS, SUPERVISORS, Desk, for_roles
from assets.proofs import Proof
from maintenance.actions.lockout import ending
from maintenance.actions.lockout.links import invite as invite_to
from maintenance.forms import locks as forms
from maintenance.permissions.locks import lockout_for
from maintenance.reads.locks_acceptance import fields_of
from maintenance.reads.locks_story import locks_of_anyone, story_of
from maintenance.views.locks_form import ProvenForm, answered, page_of, proof_in, proven
from maintenance.views.locks_steps import step_page, typed_of
from maintenance.views.one_form import typed

BOTH = ["GET", "POST"]


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def close(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Close a lockout whose locks are all off."""
    lockout = lockout_for(desk, number)
    page = step_page(
        lockout,
        forms.PressForm(typed(request)),
        title=f"Close lockout {lockout.number}",
        button="Close the lockout",
        verb="lockout.closed",
        intro="That does not make the machine available: those concerned are told, and operations take it back.",
        do=lambda: ending.close_lockout(lockout=lockout, by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def tell_after(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Somebody concerned was told that the locks are off."""
    lockout = lockout_for(desk, number)
    form = forms.TellForm(typed(request))
    page = step_page(
        lockout,
        form,
        title="Told that the locks are off",
        button="Record that they were told",
        verb="lockout.told_after",
        intro="Before anything starts. Everybody who was told before, one at a time, by the same name.",
        do=lambda: ending.tell_after(lockout=lockout, by=desk.person, **typed_of(form)),
    )
    return answered(request, desk, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def accept(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Operations take the machine back."""
    lockout = lockout_for(desk, number)
    story = story_of(lockout)
    lines = fields_of(lockout, story)
    form = forms.AcceptForm(typed(request), lines=lines, decimal_mark=desk.site.decimal_mark)

    def do(proof: Proof) -> str:
        data = form.cleaned_data
        acceptance = ending.Acceptance(
            lines=form.written, hours=data.get("hours", ""), no_hours=data.get("no_hours", "")
        )
        ending.accept(lockout=lockout, acceptance=acceptance, by=desk.person, proof=proof)
        return page_of(lockout)

    page = ProvenForm(
        form=form,
        title=f"Take {lockout.position.tag} back into operation",
        refused=f"{lockout.position.tag} is not available",
        button="Operations take it back",
        verb="lockout.available",
        intro="Each line as you see or read it. Nothing is filled in for you.",
        before=proof_in(desk, form),
        do=do,
        more={"anyone": locks_of_anyone(lockout.position, lockout=lockout)},
    )
    return proven(request, desk, lockout, page)


@require_http_methods(BOTH)
@for_roles(SUPERVISORS)
def invite(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Invite a contractor: link and code are shown once, on the answer to this very form."""
    lockout = lockout_for(desk, number)
    people = Person.objects.filter(
        memberships__site=desk.site, memberships__to_at=None, memberships__role=Role.CONTRACTOR, is_active=True
    )
    form = forms.InviteForm(typed(request), people=people.order_by("name"))
    made: list[IssuedLink] = []

    def do() -> str:
        made.append(invite_to(lockout=lockout, person=form.cleaned_data["person"], by=desk.person))
        return page_of(lockout)

    who: dict[str, Any] = {"site": desk.site, "by": desk.person, "verb": "lockout.invited", "subject": lockout}
    if request.method == "POST" and not form.refused_unread(**who):
        answer = form.sent(desk, verb="lockout.invited", subject=lockout, do=do)
        if answer is not None and made:
            return _shown_once(request, desk, made[0], page_of(lockout))
        if answer is not None:
            messages.warning(
                request,
                "This invitation was made already; its link and code were shown then. Invite again for new ones.",
            )
            return redirect(answer)
    context = {"form": form, "lockout": lockout, "back": page_of(lockout)}
    return render(request, "maintenance/locks/invite.html", context, status=422 if form.errors else 200)


def _shown_once(request: HttpRequest, desk: Desk, issued: IssuedLink, back: str) -> HttpResponse:
    path = reverse("maintenance:job-enter", args=[issued.token])
    base = desk.site.address.rstrip("/")
    context = {
        "person": issued.link.person,
        "address": f"{base}{path}" if base else request.build_absolute_uri(path),
        "code": spaced(issued.code),
        "back": back,
    }
    response = render(request, "maintenance/locks/invited.html", context)
    response["Cache-Control"] = "no-store"
    return response
