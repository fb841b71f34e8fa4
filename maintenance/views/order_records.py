"""What people write on a work order beside its steps: time, parts, costs, files, how it failed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from assets.inputs import KeyedForm
from assets.models import KeptFile
from assets.permissions import OPERATORS, SUPERVISORS, Desk, for_roles
from maintenance.actions import labour, order_checks, order_failures, order_files, order_parts
from maintenance.forms import order_records as forms
from maintenance.forms.order_files import OrderFilesForm
from maintenance.forms.orders import BecauseForm, ChecksForm, CorrectFailureForm
from maintenance.models import WorkOrder
from maintenance.permissions.upkeep import check_for, cost_for, labour_for, order_for
from maintenance.views.one_form import OneForm, OneProvenForm, answered, answered_proven, typed


def _one(
    found: WorkOrder,
    form: KeyedForm,
    *,
    title: str,
    button: str,
    verb: str,
    do: Callable[[], object],
    template: str = "maintenance/_one_form.html",
    intro: str = "",
) -> OneForm:
    def act() -> str:
        do()
        return found.get_absolute_url()

    return OneForm(
        form=form,
        title=f"{title}: work order {found.number}",
        refused="Nothing was written",
        button=button,
        back=found.get_absolute_url(),
        intro=intro or f"{found.position or found.asset}: {found.title}",
        verb=verb,
        subject=found,
        template=template,
        do=act,
    )


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def order_labour(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Write time: one's own; a supervisor anybody's."""
    found = order_for(desk, number)
    form = forms.NewLabourForm(typed(request), desk=desk, order=found)
    page = _one(
        found,
        form,
        title="Write time",
        button="Write the time",
        verb="order.time_written",
        template="maintenance/orders/labour.html",
        do=lambda: labour.write_labour(
            order=found, person=form.cleaned_data.get("person", desk.person), time=form.time, by=desk.person
        ),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def order_labour_correct(request: HttpRequest, desk: Desk, number: int, pk: int) -> HttpResponse:
    """Write time anew that was written wrong."""
    row = labour_for(desk, number, pk)
    form = forms.CorrectLabourForm(typed(request), desk=desk, was=row)
    page = _one(
        row.order,
        form,
        title="Correct time",
        button="Correct the time",
        verb="order.time_corrected",
        template="maintenance/orders/labour.html",
        intro=f"{row.person.name}: {row.minutes} minutes are written. The old row stays on record.",
        do=lambda: labour.correct_labour(labour=row, time=form.time, by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def order_part(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Use a part, put one back, or say that one is needed."""
    found = order_for(desk, number)
    asked = request.GET.get("part", "")
    start = {"part": int(asked)} if asked.isdecimal() and len(asked) < 16 else {}
    form = forms.OrderUseForm(typed(request), desk=desk, order=found, initial=start)
    acts: dict[str, tuple[str, Callable[..., object]]] = {
        "use": ("order.part_used", order_parts.use_part),
        "back": ("order.part_put_back", order_parts.put_part_back),
        "need": ("order.part_needed", order_parts.need_part),
    }
    verb, do = acts.get(request.POST.get("way", ""), acts["use"])
    page = _one(
        found,
        form,
        title="Parts",
        button="Write it",
        verb=verb,
        do=lambda: do(order=found, part=form.cleaned_data["part"], amount=form.cleaned_data["amount"], by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def order_cost(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Write what was paid to somebody outside."""
    found = order_for(desk, number)
    form = forms.CostForm(typed(request))
    page = _one(
        found,
        form,
        title="Paid to others",
        button="Write the cost",
        verb="order.cost_written",
        do=lambda: labour.write_cost(order=found, by=desk.person, **_cost(form)),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def order_cost_correct(request: HttpRequest, desk: Desk, number: int, pk: int) -> HttpResponse:
    """Write a cost anew that was written wrong."""
    row = cost_for(desk, number, pk)
    form = forms.CostForm(typed(request), initial={"what": row.what})
    page = _one(
        row.order,
        form,
        title="Correct a cost",
        button="Correct the cost",
        verb="order.cost_written",
        intro=f"{row.amount} is written, {row.what}. The old row stays on record; 0 takes it back.",
        do=lambda: labour.write_cost(order=row.order, replaces=row, by=desk.person, **_cost(form)),
    )
    return answered(request, desk, page)


def _cost(form: KeyedForm) -> dict[str, Any]:
    return {name: form.cleaned_data[name] for name in ("amount", "what")}


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def order_failure(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Say otherwise how it had failed."""
    found = order_for(desk, number)
    form = CorrectFailureForm(typed(request), order=found, was=order_failures.newest_failure(found))
    page = _one(
        found,
        form,
        title="How it failed",
        button="Write how it failed",
        verb="order.failure_corrected",
        template="maintenance/orders/finish.html",
        do=lambda: order_failures.correct_failure(order=found, failure=form.failure, by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def order_checks_ask(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Name checks whose record the work needs before it is accepted."""
    found = order_for(desk, number)
    form = ChecksForm(typed(request), order=found)
    page = _one(
        found,
        form,
        title="Checks before acceptance",
        button="Ask for them",
        verb="order.checks_asked",
        template="maintenance/orders/checks.html",
        do=lambda: order_checks.ask_checks(order=found, checks=list(form.cleaned_data["checks"]), by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def order_check_end(request: HttpRequest, desk: Desk, number: int, pk: int) -> HttpResponse:
    """Take back that the work needs the record of a check."""
    check = check_for(desk, number, pk)
    form = BecauseForm(typed(request))
    page = _one(
        check.order,
        form,
        title="Take a check back",
        button="Take it back",
        verb="order.check_taken_back",
        intro=f"{check.plan.title}, asked for by {check.asked_by.name}. The work is then accepted without its record.",
        do=lambda: order_checks.take_back_check(check=check, because=form.cleaned_data["because"], by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def order_files_new(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Put photographs and other files to a work order, several at once."""
    found = order_for(desk, number)
    form = OrderFilesForm(typed(request), request.FILES or None)

    def keep(files: list[KeptFile]) -> str:
        order_files.add_order_files(order=found, files=files, words=form.cleaned_data["words"], by=desk.person)
        return found.get_absolute_url()

    page = OneProvenForm(
        form=form,
        title=f"Photographs and files: work order {found.number}",
        refused="No file was kept",
        button="Keep them",
        back=found.get_absolute_url(),
        intro=f"{found.position or found.asset}: {found.title}",
        verb="order.files_added",
        subject=found,
        template="maintenance/orders/files.html",
        before=form.read_files,
        do=keep,
    )
    return answered_proven(request, desk, page)
