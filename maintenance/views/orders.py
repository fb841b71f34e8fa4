"""One work order and each act that leads it on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assets.inputs import KeyedForm
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, for_roles
from maintenance.actions import order_steps, orders
from maintenance.compute.orders import OrderAct
from maintenance.forms import orders as forms
from maintenance.models import WorkOrder
from maintenance.permissions.upkeep import acts_for, order_for, step_for
from maintenance.reads import order_page as reads
from maintenance.reads.order_costs import took
from maintenance.reads.order_log import log_of
from maintenance.views.one_form import OneForm, answered, typed


@require_safe
@for_roles(READERS)
def order(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """One work order: where it stands, what comes next, what keeps it open, what happened."""
    return _order_page(request, desk, order_for(desk, number), forms.PressForm())


def _order_page(request: HttpRequest, desk: Desk, found: WorkOrder, form: KeyedForm) -> HttpResponse:
    may = acts_for(desk, found)
    view = reads.order_view(found)
    return render(
        request,
        "maintenance/orders/order.html",
        {
            "order": found,
            "view": view,
            "took": took(desk, found),
            "log": log_of(found),
            "form": form,
            "step_form": _step_form(found, form, view),
            "may": {act.name.lower(): act in may for act in OrderAct},
            "may_work": desk.may(OPERATORS),
            "may_keep": desk.may(SUPERVISORS),
            "may_move": desk.may(OPERATORS) and found.state in {"under way", "waiting", "done"},
            "own_work": found.state == "done" and found.done_by_id == desk.person.pk,
            "late": found.is_open and found.wanted_by is not None and found.wanted_by < desk.today,
            "ended": found.state in {"accepted", "withdrawn"},
            "now": timezone.now(),
        },
        status=422 if form.errors else 200,
    )


def _step_form(found: WorkOrder, form: KeyedForm, view: reads.OrderView) -> forms.StepDoneForm | None:
    """Form of the step that comes next: the one that was refused, else an empty one."""
    if isinstance(form, forms.StepDoneForm):
        return form
    step = view.next_step
    return forms.StepDoneForm(step=found.steps.get(number=step.number)) if step else None


def _pressed(
    request: HttpRequest, desk: Desk, number: int, verb: str, do: Callable[[WorkOrder], WorkOrder]
) -> HttpResponse:
    """Do what one button of the order's page asks; when it is refused, the page says why."""
    found = order_for(desk, number)
    form = forms.PressForm(request.POST)
    if form.is_valid():
        answer = form.sent(desk, verb=verb, subject=found, do=lambda: do(found).get_absolute_url())
        if answer is not None:
            return redirect(answer)
    return _order_page(request, desk, order_for(desk, number), form)


@require_POST
@for_roles(OPERATORS)
def order_start(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Begin the work."""
    return _pressed(request, desk, number, "order.started", lambda o: orders.start_order(order=o, by=desk.person))


@require_POST
@for_roles(OPERATORS)
def order_resume(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Go on with the work."""
    return _pressed(request, desk, number, "order.resumed", lambda o: orders.resume_order(order=o, by=desk.person))


@require_POST
@for_roles(SUPERVISORS)
def order_accept(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Accept work that somebody else did."""
    return _pressed(request, desk, number, "order.accepted", lambda o: orders.accept_order(order=o, by=desk.person))


@require_POST
@for_roles(OPERATORS)
def step_done(request: HttpRequest, desk: Desk, number: int, step: int) -> HttpResponse:
    """Record one step as done, with what was seen."""
    found, wanted = order_for(desk, number), step_for(desk, number, step)
    form = forms.StepDoneForm(request.POST, step=wanted)
    if form.is_valid():
        answer = form.sent(
            desk,
            verb="order.step_done",
            subject=found,
            do=lambda: order_steps.finish_step(
                step=wanted,
                note=form.cleaned_data["note"],
                entered=form.cleaned_data.get("entered", ""),
                answer=form.cleaned_data.get("answer", ""),
                by=desk.person,
            ).order.get_absolute_url(),
        )
        if answer is not None:
            return redirect(answer)
    return _order_page(request, desk, order_for(desk, number), form)


def _one(found: WorkOrder, form: KeyedForm, title: str, button: str, verb: str, do: Callable[[], WorkOrder]) -> OneForm:
    return OneForm(
        form=form,
        title=f"{title}: work order {found.number}",
        refused=f"Work order {found.number} was not changed",
        button=button,
        back=found.get_absolute_url(),
        intro=f"{found.position or found.asset}: {found.title}",
        verb=verb,
        subject=found,
        do=lambda: do().get_absolute_url(),
    )


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def order_plan(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Say who does it, by when, in which steps."""
    found = order_for(desk, number)
    form = forms.PlanOrderForm(typed(request), desk=desk, order=found)
    page = _one(
        found,
        form,
        "Plan",
        "Plan the work",
        "order.planned",
        lambda: orders.plan_order(
            order=found,
            in_charge=form.cleaned_data["in_charge"],
            wanted_by=form.cleaned_data["wanted_by"],
            planned_minutes=form.cleaned_data["minutes"],
            steps=form.cleaned_data["steps"],
            by=desk.person,
            version=form.cleaned_data["version"],
            type=form.cleaned_data["type"],
            checks=list(form.cleaned_data.get("checks", [])),
        ),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def order_wait(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Say that the work cannot go on, and for what it waits."""
    found = order_for(desk, number)
    form = forms.WaitForm(typed(request))
    page = _one(
        found,
        form,
        "Set to waiting",
        "Set to waiting",
        "order.waiting",
        lambda: orders.wait_order(order=found, waiting_for=form.cleaned_data["waiting_for"], by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def order_finish(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Record the work as done."""
    found = order_for(desk, number)
    form = forms.FinishForm(typed(request), order=found)
    page = _one(
        found,
        form,
        "Record as done",
        "Record the work as done",
        "order.done",
        lambda: orders.finish_order(
            order=found, found=form.cleaned_data["found"], failure=form.failure, by=desk.person
        ),
    )
    return answered(request, desk, replace(page, template="maintenance/orders/finish.html"))


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def order_send_back(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Do not accept the work yet."""
    found = order_for(desk, number)
    form = forms.BecauseForm(typed(request))
    page = _one(
        found,
        form,
        "Send back",
        "Send it back",
        "order.sent_back",
        lambda: orders.send_back_order(order=found, because=form.cleaned_data["because"], by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def order_withdraw(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """End an order whose work is not needed."""
    found = order_for(desk, number)
    form = forms.BecauseForm(typed(request))
    page = _one(
        found,
        form,
        "Withdraw",
        "Withdraw the work order",
        "order.withdrawn",
        lambda: orders.withdraw_order(order=found, because=form.cleaned_data["because"], by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def step_new(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Put one more step behind those the order has."""
    found = order_for(desk, number)
    form = forms.StepForm(typed(request))
    page = _one(
        found,
        form,
        "Add a step",
        "Add the step",
        "order.step_added",
        lambda: order_steps.add_step(order=found, text="", asks=form.step, by=desk.person).order,
    )
    return answered(request, desk, page)
