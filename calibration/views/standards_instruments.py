"""Instruments that carry a value: as standards, their certificates, and where they are."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from assets.models import Asset
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, asset_for, for_roles
from calibration.actions.certificates import take_in_certificate
from calibration.actions.custody import send_out, take_back
from calibration.actions.standards_instruments import end_standard_use, serve_as_standard
from calibration.forms.standards_instruments import BackForm, EndForm, IntakeForm, SendForm, UseForm
from calibration.models import StandardUse
from calibration.reads.custody import away_now
from calibration.reads.instrument_page import instrument_page
from calibration.views.sent import form_page


def _path(asset: Asset) -> str:
    return StandardUse(asset=asset).get_absolute_url()


def _open_use(asset: Asset) -> StandardUse:
    use = StandardUse.objects.filter(asset=asset, ended_at=None).select_related("asset").first()
    if use is None:
        raise Http404("This instrument serves as no standard.")
    return use


@require_safe
@for_roles(READERS)
def instrument(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One instrument as a standard, and where it is."""
    context = {
        "page": instrument_page(asset_for(desk, pk), desk.today),
        "today": desk.today,
        "may_keep": desk.may(SUPERVISORS),
        "may_write": desk.may(OPERATORS),
    }
    return render(request, "calibration/instrument.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def serve(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Let an instrument serve as a standard."""
    asset = asset_for(desk, pk)
    form = UseForm(request.POST or None)

    def do() -> str:
        return serve_as_standard(asset=asset, use=form.use, by=desk.person).get_absolute_url()

    return form_page(
        request,
        desk,
        form,
        template="calibration/instrument_serve.html",
        context={"asset": asset, "back": _path(asset)},
        verb="asset.serves as standard",
        subject=asset,
        do=do,
    )


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def end(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """End that an instrument serves as a standard."""
    asset = asset_for(desk, pk)
    use = _open_use(asset)
    form = EndForm(request.POST or None)

    def do() -> str:
        return end_standard_use(use=use, why=form.cleaned_data["why"], by=desk.person).get_absolute_url()

    return form_page(
        request,
        desk,
        form,
        template="calibration/instrument_end.html",
        context={"asset": asset, "use": use, "back": _path(asset)},
        verb="asset.serves no more",
        subject=asset,
        do=do,
    )


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def intake(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Take in a certificate: accept it, or refuse it with a reason."""
    asset = asset_for(desk, pk)
    use = _open_use(asset)
    form = IntakeForm(request.POST or None, request.FILES or None, desk=desk, use=use)

    def do() -> str:
        typed = form.cleaned_data
        take_in_certificate(
            asset=asset, read=form.read, accepted=form.accepted, because=typed["because"], by=desk.person
        )
        return _path(asset)

    return form_page(
        request,
        desk,
        form,
        template="calibration/instrument_intake.html",
        context={"asset": asset, "use": use, "back": _path(asset)},
        verb="certificate.taken in",
        subject=asset,
        do=do,
    )


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def send(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Send an instrument out."""
    asset = asset_for(desk, pk)
    fitted = asset.fittings.now().select_related("position").first()
    form = SendForm(request.POST or None, desk=desk, asset=asset, initial={"sent_on": desk.today})

    def do() -> str:
        send_out(asset=asset, sending=form.sending, by=desk.person)
        return _path(asset)

    return form_page(
        request,
        desk,
        form,
        template="calibration/instrument_send.html",
        context={"asset": asset, "back": _path(asset), "fitted": fitted},
        verb="asset.sent out",
        subject=asset,
        do=do,
    )


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def back(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Write that an instrument is back."""
    asset = asset_for(desk, pk)
    absence = away_now(asset)
    if absence is None:
        return redirect(_path(asset))
    form = BackForm(request.POST or None, initial={"back_on": desk.today})

    def do() -> str:
        typed = form.cleaned_data
        take_back(
            absence=absence,
            back_on=typed["back_on"],
            condition=typed["condition"],
            certificate=typed["certificate"],
            by=desk.person,
        )
        return _path(asset)

    return form_page(
        request,
        desk,
        form,
        template="calibration/instrument_back.html",
        context={"asset": asset, "absence": absence, "back": _path(asset)},
        verb="asset.back",
        subject=asset,
        do=do,
    )
