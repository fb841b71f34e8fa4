"""Spare parts: the list, one part, and each act on its stock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from assets.inputs import KeyedForm
from assets.lists import Asked, asked_of, csv_answer, xlsx_answer
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, for_roles
from maintenance.actions import parts as actions
from maintenance.forms import parts as forms
from maintenance.forms.orders import BecauseForm
from maintenance.models import Part
from maintenance.permissions.upkeep import part_for
from maintenance.reads import parts as reads
from maintenance.reads.order_log import log_of
from maintenance.views.one_form import OneForm, answered, typed


@require_safe
@for_roles(READERS)
def parts(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Parts with their stock, how long it lasts, what is below its least and what expires."""
    asked = _asked(request)
    group = asked["which"]
    shown, pager = asked.cut(reads.parts_of(desk.site, group, desk.today, asked.finds("name", "bin")), files=False)
    context = {
        "rows": reads.part_lines(shown, desk.today),
        "group": reads.GROUPS[group],
        "groups": asked.links("which", reads.group_counts(desk.site, desk.today)),
        "finder": asked.finder("Part or bin"),
        "pager": replace(
            pager,
            csv_url=f"{reverse('maintenance:parts-csv')}{asked.url()}",
            xlsx_url=f"{reverse('maintenance:parts-xlsx')}{asked.url()}",
        ),
        "may_keep": desk.may(SUPERVISORS),
    }
    return render(request, "maintenance/orders/parts.html", context)


@require_safe
@for_roles(READERS)
def parts_csv(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The same parts as a file."""
    return csv_answer(_sheet(request, desk), f"parts-{desk.today}")


@require_safe
@for_roles(READERS)
def parts_xlsx(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The same as a spreadsheet."""
    return xlsx_answer("Parts", _sheet(request, desk), f"parts-{desk.today}")


def _asked(request: HttpRequest) -> Asked:
    return asked_of(request, which=reads.GROUPS, find=None)


def _sheet(request: HttpRequest, desk: Desk) -> list[tuple[str, ...]]:
    asked = _asked(request)
    rows = reads.parts_of(desk.site, asked["which"], desk.today, asked.finds("name", "bin"))
    return [reads.PART_COLUMNS, *reads.part_sheet(list(rows), desk.today)]


@require_safe
@for_roles(READERS)
def part(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One part: what is left by its last day, how long it lasts, its moves."""
    found = part_for(desk, pk)
    context = {
        "part": found,
        "view": reads.part_view(found, desk.today),
        "log": log_of(found),
        "may_work": desk.may(OPERATORS) and found.retired_at is None,
        "may_keep": desk.may(SUPERVISORS) and found.retired_at is None,
    }
    return render(request, "maintenance/orders/part.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def part_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Register a part."""
    form = forms.PartForm(typed(request))
    page = OneForm(
        form=form,
        title="Register a part",
        refused="The part was not registered",
        button="Register the part",
        back=reverse("maintenance:parts"),
        intro="Nothing is in stock until it is received or counted.",
        verb="part.registered",
        subject=desk.site,
        do=lambda: actions.register_part(site=desk.site, part=form.part, by=desk.person).get_absolute_url(),
    )
    return answered(request, desk, page)


def _one(found: Part, form: KeyedForm, title: str, button: str, verb: str, do: Callable[[], object]) -> OneForm:
    def act() -> str:
        do()
        return found.get_absolute_url()

    return OneForm(
        form=form,
        title=f"{title}: {found.name}",
        refused="Nothing was written",
        button=button,
        back=found.get_absolute_url(),
        intro=f"Bin {found.bin}" if found.bin else "",
        verb=verb,
        subject=found,
        do=act,
    )


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def part_change(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Change what is written of a part."""
    found = part_for(desk, pk)
    form = forms.ChangePartForm(typed(request), was=found)
    page = _one(
        found,
        form,
        "Change",
        "Change the part",
        "part.changed",
        lambda: actions.change_part(part=found, typed=form.part, version=form.cleaned_data["version"], by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def part_receive(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Put a delivery into stock."""
    found = part_for(desk, pk)
    form = forms.ReceiveForm(typed(request), part=found)
    said = ("amount", "expires", "price")
    page = _one(
        found,
        form,
        "Received",
        "Put into stock",
        "part.received",
        lambda: actions.receive_part(part=found, by=desk.person, **{name: form.cleaned_data[name] for name in said}),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def part_count(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Write what was counted on the shelf."""
    found = part_for(desk, pk)
    form = forms.CountForm(typed(request), part=found)
    said = ("counted", "because")
    page = _one(
        found,
        form,
        "Counted",
        "Write the count",
        "part.counted",
        lambda: actions.count_part(part=found, by=desk.person, **{name: form.cleaned_data[name] for name in said}),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def part_scrap(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Take out of stock what is thrown away."""
    found = part_for(desk, pk)
    form = forms.ScrapForm(typed(request), part=found)
    said = ("amount", "because")
    page = _one(
        found,
        form,
        "Thrown away",
        "Take it out of stock",
        "part.scrapped",
        lambda: actions.scrap_part(part=found, by=desk.person, **{name: form.cleaned_data[name] for name in said}),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def part_retire(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Keep a part no longer."""
    found = part_for(desk, pk)
    form = BecauseForm(typed(request))
    page = _one(
        found,
        form,
        "Keep no longer",
        "Keep it no longer",
        "part.retired",
        lambda: actions.retire_part(part=found, because=form.cleaned_data["because"], by=desk.person),
    )
    return answered(request, desk, page)
