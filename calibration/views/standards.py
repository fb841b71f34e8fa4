"""Lots of every kind, and certificates of assets that others rely on."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from assets.lists import asked_of, file_of
from assets.models import FitForUse
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, asset_for, for_roles
from calibration.actions.certificates import accept_certificate, withdraw_fitness
from calibration.actions.lots import record_lot_fact, register_lot
from calibration.forms.standards import CertificateForm, LotFactForm, LotForm, UnfitForm
from calibration.models import StandardKind
from calibration.permissions import lot_for
from calibration.reads.custody import away_at
from calibration.reads.lots import lot_view, relied_on
from calibration.reads.standard_list import (
    FAMILY_WORDS,
    SHOWN,
    STANDARD_COLUMNS,
    families,
    listed_standards,
    standard_cells,
)

REFUSED = 422
ASSIGNED = ("turbidity block", "chlorine standard", "absorbance standard")
"""Families whose value may be given to one instrument."""


@require_safe
@for_roles(READERS)
def standards(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The standards of the site by family, and whether each may be used."""
    asked = asked_of(request, show=SHOWN, family=FAMILY_WORDS, find=None)
    rows = listed_standards(desk.site, desk.today, shown=asked["show"], family=asked["family"], find=asked["find"])
    if asked.file:
        return file_of(asked, desk, "standards", STANDARD_COLUMNS, standard_cells(rows))
    shown, pager = asked.cut(rows)
    context = {
        "families": families(shown),
        "pager": pager,
        "shows": asked.links("show"),
        "kinds": asked.links("family"),
        "finder": asked.finder("Lot or instrument"),
        "gone": asked["show"] == "gone",
        "filtered": asked.is_filtered,
        "narrowed": asked["family"],
        "away": () if asked.is_filtered else away_at(desk.site, desk.today),
        "may_register": desk.may(SUPERVISORS),
        "may_write": desk.may(OPERATORS),
        "no_tables": not StandardKind.objects.exists(),
    }
    return render(request, "calibration/standards.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def lot_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Register a lot."""
    form = LotForm(request.POST or None, desk=desk)
    if request.method == "POST" and form.is_valid():
        answer = form.sent(
            desk,
            verb="lot.registered",
            subject=desk.site,
            do=lambda: register_lot(site=desk.site, lot=form.lot, by=desk.person).get_absolute_url(),
        )
        if answer is not None:
            return redirect(answer)
    return render(request, "calibration/lot_new.html", {"form": form}, status=REFUSED if form.errors else 200)


@require_safe
@for_roles(READERS)
def lot(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One lot, what became of it, and the checks that relied on it."""
    row = lot_for(desk, pk)
    context = {
        "view": lot_view(row, desk.today),
        "lot": row,
        "facts": row.facts.select_related("recorded_by"),
        "relied": relied_on(row),
        "may_write": desk.may(OPERATORS),
        "may_withdraw": desk.may(SUPERVISORS),
        "may_assign": desk.may(OPERATORS) and row.kind.of_family in ASSIGNED,
        "recalls": row.recalls.all(),
        "checks_url": f"{reverse('calibration:checks')}?lot={row.pk}",
    }
    return render(request, "calibration/lot.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def lot_fact(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Record what became of a lot."""
    row = lot_for(desk, pk)
    form = LotFactForm(request.POST or None, desk=desk, initial={"day": desk.today})
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        answer = form.sent(
            desk,
            verb=f"lot.{typed['kind']}",
            subject=row,
            do=lambda: record_lot_fact(
                lot=row, kind=typed["kind"], day=typed["day"], why=typed["why"], by=desk.person
            ).lot.get_absolute_url(),
        )
        if answer is not None:
            return redirect(answer)
    context = {"form": form, "lot": row, "relied": len(relied_on(row))}
    return render(request, "calibration/lot_fact.html", context, status=REFUSED if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def certificate_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Accept a certificate of an asset, or say that it must not be relied on."""
    asset = asset_for(desk, pk)
    back = reverse("assets:asset", args=[asset.pk])
    unfit = request.method == "POST" and request.POST.get("do") == "unfit"
    form = CertificateForm(request.POST if not unfit and request.method == "POST" else None, request.FILES or None)
    unfit_form = UnfitForm(request.POST if unfit else None)
    asked = unfit_form if unfit else form

    def accept() -> str:
        typed = form.cleaned_data
        accept_certificate(
            asset=asset,
            from_day=typed["from_day"],
            until=typed["until"],
            issuer=typed["issuer"],
            number=typed["number"],
            file_hash=typed["file"],
            by=desk.person,
        )
        return back

    def withdraw() -> str:
        withdraw_fitness(asset=asset, why=unfit_form.cleaned_data["why"], by=desk.person)
        return back

    if request.method == "POST" and asked.is_valid():
        verb = "asset.not fit" if unfit else "certificate.accepted"
        answer = asked.sent(desk, verb=verb, subject=asset, do=withdraw if unfit else accept)
        if answer is not None:
            return redirect(answer)
    context = {
        "form": form,
        "unfit_form": unfit_form,
        "asset": asset,
        "history": FitForUse.objects.filter(asset=asset).select_related("recorded_by")[:20],
        "today": desk.today,
    }
    return render(request, "calibration/certificate_new.html", context, status=REFUSED if asked.errors else 200)
