"""The steps of a lockout before work, one page each."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from assets.inputs import KeyedForm
from assets.models import Asset
from assets.permissions import OPERATORS, Desk, for_roles
from maintenance.actions.isolation_procedures import LineText
from maintenance.actions.lockout import begin, steps
from maintenance.forms import locks as forms
from maintenance.forms.locks_register import AddPointForm
from maintenance.models import IsolationPoint, Lockout
from maintenance.permissions.locks import application_of, line_of, lockout_for
from maintenance.reads.locks_testers import testers
from maintenance.views.locks_form import TEMPLATE, ProvenForm, answered, page_of, proof_in, proven
from maintenance.views.one_form import OneForm, typed

BOTH = ["GET", "POST"]


def step_page(
    lockout: Lockout, form: KeyedForm, *, title: str, button: str, verb: str, do: Callable[[], Any], intro: str = ""
) -> OneForm:
    """The page of one step: done, it leads back to the lockout."""

    def done() -> str:
        do()
        return page_of(lockout)

    return OneForm(
        form=form,
        title=title,
        refused="Not recorded",
        button=button,
        back=page_of(lockout),
        intro=intro,
        template=TEMPLATE,
        verb=verb,
        subject=lockout,
        do=done,
        more={"lockout": lockout, "back": page_of(lockout)},
    )


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def tell_before(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Somebody concerned was told, before the locks go on."""
    lockout = lockout_for(desk, number)
    form = forms.TellForm(typed(request))
    page = step_page(
        lockout,
        form,
        title="Told before the locks go on",
        button="Record that they were told",
        verb="lockout.told_before",
        intro="Everybody who runs the machine or works near it. One at a time.",
        do=lambda: steps.tell_before(lockout=lockout, by=desk.person, **typed_of(form)),
    )
    return answered(request, desk, page)


def typed_of(form: KeyedForm) -> dict[str, Any]:
    """What was typed, without the key and version."""
    return {name: value for name, value in form.cleaned_data.items() if name not in {"key", "version"}}


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def down(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Shut down, selector read."""
    lockout = lockout_for(desk, number)
    form = forms.DownForm(typed(request))
    page = step_page(
        lockout,
        form,
        title="Shut down",
        button="Record the shutdown",
        verb="lockout.shut_down",
        intro=lockout.version.shutdown,
        do=lambda: steps.record_shut_down(lockout=lockout, by=desk.person, **typed_of(form)),
    )
    return answered(request, desk, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def set_point(request: HttpRequest, desk: Desk, number: int, pk: int) -> HttpResponse:
    """A point stands in its safe state."""
    lockout = lockout_for(desk, number)
    line = line_of(lockout, pk)
    form = forms.EarlierForm(typed(request))
    page = step_page(
        lockout,
        form,
        title=f"{line.point}: {line.safe_state}",
        button=f"{line.point} is {line.safe_state}",
        verb="lockout.point_set",
        intro=f"{line.point.what if line.point else ''}. It cuts off: {line.energy}.",
        do=lambda: steps.set_point(lockout=lockout, line=line, by=desk.person, **typed_of(form)),
    )
    return answered(request, desk, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def relieve(request: HttpRequest, desk: Desk, number: int, pk: int) -> HttpResponse:
    """Stored energy of one source was let off."""
    lockout = lockout_for(desk, number)
    line = line_of(lockout, pk)
    form = forms.RelieveForm(typed(request))
    page = step_page(
        lockout,
        form,
        title=f"Stored energy: {line.energy}",
        button="It is let off",
        verb="lockout.let_off",
        intro=line.relief,
        do=lambda: steps.let_off(lockout=lockout, line=line, by=desk.person, **typed_of(form)),
    )
    return answered(request, desk, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def key_in(request: HttpRequest, desk: Desk, number: int, pk: int) -> HttpResponse:
    """The key of one's own lock on a point lies in the box."""
    lockout = lockout_for(desk, number)
    application = application_of(lockout, pk)
    page = step_page(
        lockout,
        forms.PressForm(typed(request)),
        title=f"Key of {application.lock} in {lockout.box}",
        button="The key is in the box",
        verb="lockout.key_in_box",
        do=lambda: steps.put_key_in_box(application=application, by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def close_box(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """The box is closed over the keys."""
    lockout = lockout_for(desk, number)
    form = forms.EarlierForm(typed(request))
    page = step_page(
        lockout,
        form,
        title=f"Close {lockout.box}",
        button=f"{str(lockout.box).capitalize()} is closed",
        verb="lockout.box_closed",
        intro="The key of every point’s lock lies in it. Everybody who works now hangs a lock of their own on it.",
        do=lambda: steps.close_box(lockout=lockout, by=desk.person, **typed_of(form)),
    )
    return answered(request, desk, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def test(request: HttpRequest, desk: Desk, number: int, pk: int) -> HttpResponse:
    """The test that shows no energy at one source."""
    lockout = lockout_for(desk, number)
    line = line_of(lockout, pk)
    known = testers(desk.site, today=desk.today)
    rows = Asset.objects.filter(pk__in=[tester.asset.pk for tester in known])
    form = forms.TestForm(typed(request), testers=rows)

    def do(proof: Any) -> str:
        steps.record_test(
            lockout=lockout,
            line=line,
            tester=form.cleaned_data["tester"],
            reading=form.cleaned_data["reading"],
            by=desk.person,
            proof=proof,
        )
        return page_of(lockout)

    page = ProvenForm(
        form=form,
        title=f"Test: {line}",
        refused="The test was not recorded",
        button="No energy was found",
        verb="lockout.tested",
        intro=f"{line.test}. Found energy? Record nothing here, stop, and phone {lockout.in_charge.name}.",
        before=proof_in(desk, form),
        do=do,
        more={"testers": known},
    )
    return proven(request, desk, lockout, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def add_point(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """A further isolation point comes into a running lockout."""
    lockout = lockout_for(desk, number)
    points = IsolationPoint.objects.filter(site=desk.site, retired_at=None).exclude(
        pk__in=lockout.lines.exclude(point=None).values("point")
    )
    form = AddPointForm(typed(request), points=points)
    page = step_page(
        lockout,
        form,
        title="A further isolation point",
        button="Add the point",
        verb="lockout.point_added",
        intro="The tests made before no longer count: stop work until it is set, locked and all is tested anew.",
        do=lambda: begin.add_point(lockout=lockout, line=LineText(**typed_of(form)), by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def take_charge(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Take charge of a lockout for oneself."""
    lockout = lockout_for(desk, number)
    form = forms.ProofForm(typed(request))

    def do(proof: Any) -> str:
        begin.take_charge(lockout=lockout, by=desk.person, proof=proof)
        return page_of(lockout)

    page = ProvenForm(
        form=form,
        title="Take charge of this lockout",
        refused="You are not in charge",
        button="I am in charge now",
        verb="lockout.charge_taken",
        intro=f"After {lockout.in_charge.name}. No lock changes its owner.",
        before=proof_in(desk, form),
        do=do,
    )
    return proven(request, desk, lockout, page)
