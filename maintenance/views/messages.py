"""A person's own messages: which they get, which they want, what was sent."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from assets.permissions import OPERATORS, Desk, for_roles
from maintenance.actions.messages import choose_messages
from maintenance.forms.messages import MessagesForm
from maintenance.reads import messages as reads
from maintenance.views.one_form import typed


@for_roles(OPERATORS)
def own_messages(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Show what one is sent, and switch it off or on."""
    own = reads.own_messages(desk, timezone.now())
    form = MessagesForm(typed(request), choices=own.choices)

    def do() -> str:
        for kind, wanted in form.changed():
            choose_messages(site=desk.site, kind=kind, wanted=wanted, by=desk.person)
        return reverse("maintenance:own-messages")

    if request.method == "POST" and form.is_valid():
        answer = form.sent(desk, verb="messages.chosen", subject=desk.person, do=do)
        if answer is not None:
            messages.success(request, "Your choice holds from the next message on.")
            return redirect(answer)
    status = 422 if form.errors else 200
    return render(request, "maintenance/messages/own.html", {"own": own, "form": form, "desk": desk}, status=status)
