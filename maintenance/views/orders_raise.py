"""Work orders raised: by hand, from a template, for due items, or asked for by anybody."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from assets.models import Position
from assets.permissions import OPERATORS, READERS, Desk, for_roles, position_by_code
from maintenance.actions import order_templates, orders, orders_from_due
from maintenance.forms import orders as forms
from maintenance.models import OrderTemplate
from maintenance.permissions.upkeep import template_for
from maintenance.reads.order_templates import template_view, templates_for
from maintenance.reads.orders import chosen_items
from maintenance.views.one_form import OneProvenForm, answered_proven, typed


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def order_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Raise a work order by hand, from a template, or for due items chosen in the list."""
    lines = [int(n) for n in (request.POST or request.GET).getlist("line") if n.isdecimal() and len(n) < 16]
    if lines:
        return _order_of_lines(request, desk, lines)
    if request.method == "GET" and request.GET.get("from") == "due":
        messages.warning(request, "No due item was chosen. Tick those that one work order is for, then raise it.")
        return redirect("maintenance:due")
    tag = request.GET.get("tag", "")
    position = position_by_code(desk, tag) if tag else None
    asked = request.GET.get("template", "")
    if asked.isdecimal() and len(asked) < 16:
        return _order_from_template(request, desk, template_for(desk, int(asked)), position)
    form = forms.OrderForm(
        typed(request), request.FILES or None, desk=desk, initial={"position": position.pk} if position else {}
    )
    page = OneProvenForm(
        form=form,
        title="Raise a work order",
        refused="The work order was not raised",
        button="Raise the work order",
        back=reverse("maintenance:orders"),
        template="maintenance/orders/new.html",
        intro="A supervisor plans it; work that cannot wait may be started at once.",
        verb="order.raised",
        subject=desk.site,
        before=form.read_files,
        do=lambda files: orders.raise_work_order(
            site=desk.site,
            position=form.cleaned_data["position"],
            title=form.cleaned_data["title"],
            reason=form.cleaned_data["reason"],
            type=form.cleaned_data["type"],
            wanted_by=form.cleaned_data["wanted_by"],
            files=files,
            by=desk.person,
        ).get_absolute_url(),
        more={"templates": templates_for(position) if position else (), "tag": position},
    )
    return answered_proven(request, desk, page)


def _order_from_template(
    request: HttpRequest, desk: Desk, template: OrderTemplate, position: Position | None
) -> HttpResponse:
    start = {"position": position.pk if position else None, "title": template.title, "reason": template.reason}
    form = forms.TemplateOrderForm(typed(request), request.FILES or None, desk=desk, initial=start)
    page = OneProvenForm(
        form=form,
        title=f"Raise a work order: {template.title}",
        refused="The work order was not raised",
        button="Raise the work order",
        back=reverse("maintenance:orders"),
        template="maintenance/orders/new.html",
        intro=f"{template.get_type_display()}. Its steps and parts come from the template as it stands now.",
        verb="order.steps_added",
        subject=desk.site,
        before=form.read_files,
        do=lambda files: order_templates.raise_from_template(
            template=template,
            position=form.cleaned_data["position"],
            title=form.cleaned_data["title"],
            reason=form.cleaned_data["reason"],
            wanted_by=form.cleaned_data["wanted_by"],
            files=files,
            by=desk.person,
        ).get_absolute_url(),
        more={"lines": template_view(template)},
    )
    return answered_proven(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(READERS)
def order_ask(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Ask for work at a tag, as anybody who may read."""
    tag = request.GET.get("tag", "")
    form = forms.AskForm(
        typed(request),
        request.FILES or None,
        desk=desk,
        initial={"position": position_by_code(desk, tag).pk} if tag else {},
    )
    page = OneProvenForm(
        form=form,
        title="Ask for work",
        refused="Nothing was asked for",
        button="Ask for it",
        back=reverse("maintenance:orders"),
        template="maintenance/orders/new.html",
        intro="It becomes a work order in your name; a supervisor plans it.",
        verb="order.asked_for",
        subject=desk.site,
        before=form.read_files,
        do=lambda files: orders.ask_for_work(
            site=desk.site,
            position=form.cleaned_data["position"],
            title=form.cleaned_data["title"],
            reason=form.cleaned_data["reason"],
            files=files,
            by=desk.person,
        ).get_absolute_url(),
    )
    return answered_proven(request, desk, page)


def _order_of_lines(request: HttpRequest, desk: Desk, lines: list[int]) -> HttpResponse:
    items = chosen_items(desk.site, lines)
    if not items:
        raise Http404("The chosen due items have ended meanwhile, or belong to another site.")
    one = items[0].plan
    start = {"title": one.title if len(items) == 1 else ""}
    form = forms.DueOrderForm(typed(request), request.FILES or None, initial=start)
    page = OneProvenForm(
        form=form,
        title="Raise a work order for due items",
        refused="The work order was not raised",
        button="Raise the work order",
        back=reverse("maintenance:due"),
        template="maintenance/orders/new_from_due.html",
        verb="order.raised",
        subject=desk.site,
        before=form.read_files,
        do=lambda files: orders_from_due.raise_for_due_items(
            site=desk.site,
            items=items,
            title=form.cleaned_data["title"],
            reason=form.cleaned_data["reason"],
            wanted_by=form.cleaned_data["wanted_by"],
            files=files,
            by=desk.person,
        ).get_absolute_url(),
        more={"items": items, "left_out": len(set(lines)) - len(items)},
    )
    return answered_proven(request, desk, page)
