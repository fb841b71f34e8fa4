"""A person's own messages: where they go, which they get, which they want, what was sent."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters

from assets.actions import set_own_email
from assets.permissions import OPERATORS, Desk, for_roles
from assets.proofs import Proof, prove
from maintenance.actions.messages import choose_messages
from maintenance.forms.messages import AddressForm, MessagesForm
from maintenance.reads import messages as reads


@sensitive_post_parameters("address-proof")
@for_roles(OPERATORS)
def own_messages(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Show what one is sent and where it goes; change the address, switch messages off or on."""
    own = reads.own_messages(desk, timezone.now())
    for_address = request.POST.get("do") == "address"
    sent = request.POST if request.method == "POST" else None
    form = MessagesForm(None if for_address else sent, choices=own.choices)
    standing = {"email": own.address, "version": desk.person.version}
    address = AddressForm(sent if for_address else None, prefix="address", initial=standing)
    answer, done = _address_set(address, desk) if for_address else _chosen(form, desk)
    if answer is not None:
        messages.success(request, done)
        return redirect(answer)
    context = {"own": own, "form": form, "address": address, "desk": desk}
    status = 422 if form.errors or address.errors else 200
    return render(request, "maintenance/messages/own.html", context, status=status)


def _chosen(form: MessagesForm, desk: Desk) -> tuple[str | None, str]:
    """Keep which messages are wanted; return where to go on (None: not sent or refused) and what is then said."""

    def do() -> str:
        for kind, wanted in form.changed():
            choose_messages(site=desk.site, kind=kind, wanted=wanted, by=desk.person)
        return reverse("maintenance:own-messages")

    said = "Your choice holds from the next message on."
    if not form.is_valid():
        return None, said
    return form.sent(desk, verb="messages.chosen", subject=desk.person, do=do), said


def _address_set(form: AddressForm, desk: Desk) -> tuple[str | None, str]:
    """Keep where messages go; return where to go on (None: refused) and what is then said."""
    if not form.is_valid():
        return None, ""
    typed, version = form.cleaned_data["email"], form.cleaned_data["version"]

    def do(proven: Proof) -> str:
        set_own_email(site=desk.site, email=typed, by=desk.person, proof=proven, version=version)
        return reverse("maintenance:own-messages")

    answer = form.sent_after(
        lambda: prove(desk.person, form.cleaned_data["proof"], site=desk.site),
        do,
        site=desk.site,
        by=desk.person,
        verb="email.set",
        subject=desk.person,
    )
    where = f"go to {typed}" if typed else "are not sent to you: no address is written"
    return answer, f"From now on messages {where}."
