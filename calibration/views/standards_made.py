"""New kinds of standards, dilutions that are made here, and values given to blocks."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_safe

from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, for_roles
from calibration.actions.standards_kinds import add_kind
from calibration.actions.standards_made import assign_value, make_dilution
from calibration.compute.families import FAMILIES
from calibration.forms.standards_made import AssignmentForm, DilutionForm, KindForm
from calibration.permissions import kind_for, lot_for
from calibration.reads.lots import kind_view
from calibration.views.sent import form_page


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def kind_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write down a new kind of standard."""
    form = KindForm(request.POST or None, desk=desk)

    def add() -> str:
        return add_kind(site=desk.site, kind=form.kind, by=desk.person).get_absolute_url()

    template = "calibration/kind_new.html"
    return form_page(
        request, desk, form, template=template, context={}, verb="standard_kind.added", subject=desk.site, do=add
    )


@require_safe
@for_roles(READERS)
def kind(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One kind of standard: its value at temperature, what can hurt, its lots here."""
    row = kind_for(desk, pk)
    return render(request, "calibration/kind.html", {"view": kind_view(row, desk.site)})


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def dilution_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write down a lot that was made here from others."""
    initial = {"made_on": desk.today, "volume_unit": "mL"}
    form = DilutionForm(request.POST or None, desk=desk, initial=initial)

    def make() -> str:
        return make_dilution(site=desk.site, made=form.made, by=desk.person).get_absolute_url()

    cautions = [family.caution for family in FAMILIES.values() if family.caution]
    return form_page(
        request,
        desk,
        form,
        template="calibration/dilution_new.html",
        context={"cautions": cautions},
        verb="lot.made",
        subject=desk.site,
        do=make,
    )


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def assign(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Give a block its value on one instrument."""
    lot = lot_for(desk, pk)
    form = AssignmentForm(request.POST or None, desk=desk, lot=lot, initial={"on": desk.today})

    def give() -> str:
        assign_value(lot=lot, asset=form.cleaned_data["asset"], given=form.given, by=desk.person)
        return lot.get_absolute_url()

    template = "calibration/lot_assign.html"
    context = {"lot": lot}
    return form_page(
        request, desk, form, template=template, context=context, verb="lot.value assigned", subject=lot, do=give
    )
