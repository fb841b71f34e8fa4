"""Pauses, declared fulfilment, what must be so first, and deferrals of a routine's turns."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods, require_POST

from assets.compute.words import day_named
from assets.inputs import KeyedForm
from assets.permissions import OPERATORS, SUPERVISORS, Desk, for_roles
from assets.proofs import prove
from maintenance.actions import deferrals, stretches
from maintenance.forms import stretches as forms
from maintenance.forms.orders import PressForm
from maintenance.models import Deferral, Plan
from maintenance.permissions.upkeep import (
    deferral_for,
    fulfils_for,
    need_for,
    occurrence_for,
    pause_for,
    plan_for,
)
from maintenance.reads.bearing import overdue_now
from maintenance.views.one_form import OneForm, OneProvenForm, answered, answered_proven, typed


def _one(
    plan: Plan,
    form: KeyedForm,
    title: str,
    button: str,
    verb: str,
    do: Callable[[], object],
    intro: str = "",
    refused: str = "The routine was not changed",
) -> OneForm:
    def done() -> str:
        do()
        return plan.get_absolute_url()

    return OneForm(
        form=form,
        title=f"{title}: {plan}",
        refused=refused,
        button=button,
        back=plan.get_absolute_url(),
        intro=intro,
        verb=verb,
        subject=plan,
        do=done,
    )


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def pause_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Say that nothing is owed for a while."""
    plan = plan_for(desk, pk)
    form = forms.PauseForm(typed(request), initial={"from_day": desk.today})
    page = _one(
        plan,
        form,
        "Pause",
        "Pause the routine",
        "routine.paused",
        lambda: stretches.pause(
            target=plan, from_day=form.cleaned_data["from_day"], because=form.cleaned_data["because"], by=desk.person
        ),
        intro="Nothing is owed while it pauses, and nothing of that time is missed. Work that falls out is owed before "
        "use afterwards.",
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def pause_end(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Say that it is owed again."""
    found = pause_for(desk, pk)
    plan = found.plan or Plan.objects.standing().filter(position=found.position).order_by("pk")[0]
    form = forms.ResumeForm(typed(request), initial={"to_day": desk.today})
    page = _one(
        plan,
        form,
        "Owed again",
        "It is owed again",
        "routine.resumed",
        lambda: stretches.end_pause(pause=found, to_day=form.cleaned_data["to_day"], by=desk.person),
        intro=f"It pauses since {day_named(found.from_day)}, because {found.because}.",
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def fulfils_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Say for which other routine its work counts as well."""
    plan = plan_for(desk, pk)
    form = forms.FulfilsForm(typed(request), plan=plan, initial={"from_day": desk.today})
    page = _one(
        plan,
        form,
        "Also fulfils",
        "Its work counts there too",
        "routine.fulfils_too",
        lambda: stretches.declare_fulfils(
            plan=plan, fulfils=form.cleaned_data["fulfils"], from_day=form.cleaned_data["from_day"], by=desk.person
        ),
        intro="Only what is said here counts twice; nothing is guessed.",
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def fulfils_end(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Say that it does not count there any more."""
    found = fulfils_for(desk, pk)
    form = forms.UntilForm(typed(request), initial={"to_day": desk.today})
    page = _one(
        found.plan,
        form,
        "No longer fulfils",
        "It no longer counts",
        "routine.fulfils_no_more",
        lambda: stretches.end_fulfils(declared=found, to_day=form.cleaned_data["to_day"], by=desk.person),
        intro=str(found.fulfils),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def need_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Say what must be so first."""
    plan = plan_for(desk, pk)
    form = forms.NeedForm(typed(request), desk=desk, plan=plan)
    page = _one(
        plan,
        form,
        "Must be so first",
        "This must be so first",
        "routine.needs_first",
        lambda: stretches.require_first(plan=plan, need=form.typed(), by=desk.person),
        intro="It stops nothing and proves nothing: the due list then says “cannot start, because”.",
    )
    return answered(request, desk, page)


@require_POST
@for_roles(SUPERVISORS)
def need_end(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Say that it need not be so any more."""
    found = need_for(desk, pk)
    page = _one(
        found.plan,
        PressForm(request.POST),
        "No longer needed",
        "It is no longer needed",
        "routine.needs_no_more",
        lambda: stretches.end_need(need=found, by=desk.person),
        intro=found.words,
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def deferral_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Ask that a due item is done later."""
    item = occurrence_for(desk, pk)
    form = forms.DeferralForm(typed(request))
    page = _one(
        item.plan,
        form,
        "Ask to put off",
        "Ask another person",
        "deferral.asked",
        lambda: deferrals.ask_deferral(
            occurrence=item,
            to_day=form.cleaned_data["to_day"],
            because=form.cleaned_data["because"],
            risk=form.cleaned_data["risk"],
            by=desk.person,
        ),
        intro="Another person decides. In the figures it is counted apart, never as on time.",
        refused="Nobody was asked",
    )
    return answered(request, desk, page)


def _risk(asked: Deferral) -> str:
    return f"Risk: {asked.risk.rstrip('.')}."


def _from_tomorrow(asked: Deferral, today: dt.date) -> str:
    """What an approval does not change: a due item that is overdue already stays overdue on the day of the approval."""
    if not overdue_now(asked.plan, asked.turn, today):
        return ""
    return (
        f" It is overdue already: approved now, it stays overdue today and is put off from tomorrow, "
        f"{day_named(today + dt.timedelta(days=1))}."
    )


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def deferral_approve(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Approve a deferral, signed."""
    found = deferral_for(desk, pk)
    form = forms.ApproveDeferralForm(typed(request))

    def do(proof: object) -> str:
        deferrals.decide_deferral(
            deferral=found,
            approved=True,
            because="",
            proof=proof,  # type: ignore[arg-type]
            by=desk.person,
        )
        return found.plan.get_absolute_url()

    page = OneProvenForm(
        form=form,
        title=f"Put off to {day_named(found.to_day)}: {found.plan}",
        refused="It was not put off",
        button="Approve it",
        back=found.plan.get_absolute_url(),
        intro=f"Asked by {found.asked_by.name}: {found.because}. {_risk(found)}{_from_tomorrow(found, desk.today)}",
        verb="deferral.decided",
        subject=found.plan,
        before=lambda: prove(desk.person, form.cleaned_data["proof"], site=desk.site),
        do=do,
    )
    return answered_proven(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def deferral_refuse(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Refuse a deferral, with a reason."""
    found = deferral_for(desk, pk)
    form = forms.RefuseDeferralForm(typed(request))
    page = _one(
        found.plan,
        form,
        "Refuse to put off",
        "Refuse it",
        "deferral.decided",
        lambda: deferrals.decide_deferral(
            deferral=found, approved=False, because=form.cleaned_data["because"], proof=None, by=desk.person
        ),
        intro=f"Asked by {found.asked_by.name}: {found.because}. {_risk(found)}",
    )
    return answered(request, desk, page)
