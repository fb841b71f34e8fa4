"""Templates of work orders: the list, one of them, and how supervisors keep them."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assets.inputs import KeyedForm
from assets.lists import asked_of, file_of
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, for_roles
from maintenance.actions import order_templates as actions
from maintenance.forms.order_records import OrderPartForm
from maintenance.forms.order_templates import NewTemplateForm, TemplateForm
from maintenance.forms.orders import BecauseForm, PressForm, StepForm
from maintenance.models import OrderTemplate
from maintenance.permissions.upkeep import template_for, template_part_for, template_step_for
from maintenance.reads.order_log import log_of
from maintenance.reads.order_templates import (
    SHOWN,
    TEMPLATE_COLUMNS,
    TYPE_WORDS,
    listed_templates,
    template_cells,
    template_rows,
    template_view,
)
from maintenance.views.one_form import OneForm, answered, typed


@require_safe
@for_roles(READERS)
def order_templates(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Templates by kind of machine."""
    asked = asked_of(request, show=SHOWN, type=TYPE_WORDS, find=None)
    rows = listed_templates(desk.site, asked["show"], asked["type"], asked.finds("title", "machine"))
    if asked.file:
        return file_of(asked, desk, "templates of work orders", TEMPLATE_COLUMNS, template_cells(rows))
    shown, pager = asked.cut(rows)
    context = {
        "rows": template_rows(shown),
        "pager": pager,
        "shows": asked.links("show"),
        "types": asked.links("type"),
        "finder": asked.finder("What is done, or the machine"),
        "filtered": asked.is_filtered,
        "may_keep": desk.may(SUPERVISORS),
    }
    return render(request, "maintenance/orders/templates.html", context)


@require_safe
@for_roles(READERS)
def order_template(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One template: its steps with what they read, its parts."""
    return _template_page(request, desk, template_for(desk, pk), PressForm())


def _template_page(request: HttpRequest, desk: Desk, found: OrderTemplate, form: KeyedForm) -> HttpResponse:
    context = {
        "template": found,
        "view": template_view(found),
        "log": log_of(found),
        "form": form,
        "may_keep": desk.may(SUPERVISORS) and found.retired_at is None,
        "may_raise": desk.may(OPERATORS) and found.retired_at is None,
    }
    return render(request, "maintenance/orders/template.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def order_template_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write a template."""
    form = NewTemplateForm(typed(request), desk=desk)
    page = OneForm(
        form=form,
        title="Write a template",
        refused="The template was not written",
        button="Write the template",
        back=reverse("maintenance:order-templates"),
        intro="Work that comes again in the same steps at machines of one kind.",
        verb="template.registered",
        subject=desk.site,
        do=lambda: actions.register_template(
            site=desk.site, template=form.template, steps=form.cleaned_data["steps"], by=desk.person
        ).get_absolute_url(),
    )
    return answered(request, desk, page)


def _one(
    found: OrderTemplate, form: KeyedForm, title: str, button: str, verb: str, do: Callable[[], object]
) -> OneForm:
    def act() -> str:
        do()
        return found.get_absolute_url()

    return OneForm(
        form=form,
        title=f"{title}: {found.title}",
        refused="The template was not changed",
        button=button,
        back=found.get_absolute_url(),
        verb=verb,
        subject=found,
        do=act,
    )


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def order_template_change(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Change the head of a template."""
    found = template_for(desk, pk)
    form = TemplateForm(typed(request), desk=desk, was=found)
    page = _one(
        found,
        form,
        "Change",
        "Change the template",
        "template.changed",
        lambda: actions.change_template(
            template=found, typed=form.template, version=form.cleaned_data["version"], by=desk.person
        ),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def order_template_retire(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Offer a template no longer."""
    found = template_for(desk, pk)
    form = BecauseForm(typed(request))
    page = _one(
        found,
        form,
        "Offer no longer",
        "Offer it no longer",
        "template.retired",
        lambda: actions.retire_template(template=found, because=form.cleaned_data["because"], by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def order_template_step(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Put one more step behind those the template has."""
    found = template_for(desk, pk)
    form = StepForm(typed(request))
    page = _one(
        found,
        form,
        "Add a step",
        "Add the step",
        "template.step_added",
        lambda: actions.add_template_step(template=found, step=form.step, by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def order_template_part(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Say which part an order from the template needs."""
    found = template_for(desk, pk)
    form = OrderPartForm(typed(request), desk=desk)
    page = _one(
        found,
        form,
        "Add a part",
        "Add the part",
        "template.part_added",
        lambda: actions.add_template_part(
            template=found, part=form.cleaned_data["part"], amount=form.cleaned_data["amount"], by=desk.person
        ),
    )
    return answered(request, desk, page)


@require_POST
@for_roles(SUPERVISORS)
def order_template_step_end(request: HttpRequest, desk: Desk, pk: int, line: int) -> HttpResponse:
    """Take a step out of a template."""
    step = template_step_for(desk, pk, line)
    return _pressed(
        request,
        desk,
        step.template,
        "template.step_taken_out",
        lambda: actions.end_template_step(step=step, by=desk.person),
    )


@require_POST
@for_roles(SUPERVISORS)
def order_template_part_end(request: HttpRequest, desk: Desk, pk: int, line: int) -> HttpResponse:
    """Take a part out of a template."""
    part = template_part_for(desk, pk, line)
    return _pressed(
        request,
        desk,
        part.template,
        "template.part_taken_out",
        lambda: actions.end_template_part(part=part, by=desk.person),
    )


def _pressed(
    request: HttpRequest, desk: Desk, found: OrderTemplate, verb: str, do: Callable[[], object]
) -> HttpResponse:
    form = PressForm(request.POST)

    def act() -> str:
        do()
        return found.get_absolute_url()

    if form.is_valid():
        answer = form.sent(desk, verb=verb, subject=found, do=act)
        if answer is not None:
            return redirect(answer)
    return _template_page(request, desk, found, form)
