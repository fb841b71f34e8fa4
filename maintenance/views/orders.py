"""Work orders: the list, one order, and each act on it."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assets.inputs import KeyedForm
from assets.models import Person
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, for_roles, position_by_code
from maintenance.actions import order_steps, orders, orders_from_due
from maintenance.compute.orders import OrderAct
from maintenance.forms import orders as forms
from maintenance.models import WorkOrder
from maintenance.permissions.upkeep import acts_for, order_for, step_for
from maintenance.reads import orders as reads
from maintenance.reads.order_log import log_of
from maintenance.views.due import Link, Pager
from maintenance.views.one_form import OneForm, answered, typed


@require_safe
@for_roles(READERS)
def orders_list(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Work orders by state, all or those in the asking person's charge."""
    group = request.GET.get("state", "")
    if group not in reads.GROUPS:
        raise Http404("There is no such list of work orders.")
    mine = desk.person if request.GET.get("whose") == "mine" else None
    asked = request.GET.get("page", "1")
    number = int(asked) if asked.isdecimal() and 0 < int(asked) < 100_000 else 1
    page = reads.orders_page(desk.site, group, mine, desk.today, number=number)
    counts = reads.group_counts(desk.site, mine)
    return render(
        request,
        "maintenance/orders/list.html",
        {
            "page": page,
            "group": reads.GROUPS[group][0],
            "states": [
                Link(word, _url(key, mine), key == group, counts[key]) for key, (word, _) in reads.GROUPS.items()
            ],
            "whose": [
                Link("Everybody’s", _url(group, None), mine is None),
                Link("In my charge", _url(group, desk.person), mine is not None),
            ],
            "pager": Pager(
                page.first,
                page.last,
                page.total,
                _url(group, mine, number - 1) if number > 1 else "",
                _url(group, mine, number + 1) if page.more else "",
            ),
            "may_raise": desk.may(OPERATORS),
        },
    )


def _url(group: str, mine: Person | None, number: int = 1) -> str:
    parts = {"state": group, "whose": "mine" if mine else "", "page": str(number) if number > 1 else ""}
    query = urlencode({name: value for name, value in parts.items() if value})
    return f"{reverse('maintenance:orders')}{'?' if query else ''}{query}"


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def order_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Raise a work order by hand, for a tag or for due items chosen in the list."""
    lines = [int(n) for n in (request.POST or request.GET).getlist("line") if n.isdecimal() and len(n) < 16]
    if lines:
        return _order_of_lines(request, desk, lines)
    tag = request.GET.get("tag", "")
    start = {"position": position_by_code(desk, tag).pk} if tag else {}
    form = forms.OrderForm(typed(request), desk=desk, initial=start)
    page = OneForm(
        form=form,
        title="Raise a work order",
        refused="The work order was not raised",
        button="Raise the work order",
        back=reverse("maintenance:orders"),
        intro="A supervisor plans it; work that cannot wait may be started at once.",
        verb="order.raised",
        subject=desk.site,
        do=lambda: orders.raise_work_order(
            site=desk.site,
            position=form.cleaned_data["position"],
            title=form.cleaned_data["title"],
            reason=form.cleaned_data["reason"],
            wanted_by=form.cleaned_data["wanted_by"],
            by=desk.person,
        ).get_absolute_url(),
    )
    return answered(request, desk, page)


def _order_of_lines(request: HttpRequest, desk: Desk, lines: list[int]) -> HttpResponse:
    items = reads.chosen_items(desk.site, lines)
    if not items:
        raise Http404("The chosen due items have ended meanwhile, or belong to another site.")
    one = items[0].plan
    start = {"title": one.title if len(items) == 1 else ""}
    form = forms.DueOrderForm(typed(request), initial=start)
    page = OneForm(
        form=form,
        title="Raise a work order for due items",
        refused="The work order was not raised",
        button="Raise the work order",
        back=reverse("maintenance:due"),
        template="maintenance/orders/new_from_due.html",
        verb="order.raised",
        subject=desk.site,
        do=lambda: orders_from_due.raise_for_due_items(
            site=desk.site,
            items=items,
            title=form.cleaned_data["title"],
            reason=form.cleaned_data["reason"],
            wanted_by=form.cleaned_data["wanted_by"],
            by=desk.person,
        ).get_absolute_url(),
        more={"items": items, "left_out": len(set(lines)) - len(items)},
    )
    return answered(request, desk, page)


@require_safe
@for_roles(READERS)
def order(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """One work order: where it stands, what comes next, what keeps it open, what happened."""
    return _order_page(request, desk, order_for(desk, number), forms.PressForm())


def _order_page(request: HttpRequest, desk: Desk, found: WorkOrder, form: KeyedForm) -> HttpResponse:
    may = acts_for(desk, found)
    return render(
        request,
        "maintenance/orders/order.html",
        {
            "order": found,
            "view": reads.order_view(found),
            "log": log_of(found),
            "form": form,
            "may": {act.name.lower(): act in may for act in OrderAct},
            "may_work": desk.may(OPERATORS),
            "own_work": found.state == "done" and found.done_by_id == desk.person.pk,
            "late": found.is_open and found.wanted_by is not None and found.wanted_by < desk.today,
            "now": timezone.now(),
        },
        status=422 if form.errors else 200,
    )


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
    form = forms.StepDoneForm(request.POST)
    if form.is_valid():
        answer = form.sent(
            desk,
            verb="order.step_done",
            subject=found,
            do=lambda: order_steps.finish_step(
                step=wanted, note=form.cleaned_data["note"], by=desk.person
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
    form = forms.FinishForm(typed(request))
    page = _one(
        found,
        form,
        "Record as done",
        "Record the work as done",
        "order.done",
        lambda: orders.finish_order(order=found, found=form.cleaned_data["found"], by=desk.person),
    )
    return answered(request, desk, page)


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
        lambda: order_steps.add_step(order=found, text=form.cleaned_data["text"], by=desk.person).order,
    )
    return answered(request, desk, page)
