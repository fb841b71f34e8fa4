"""A lot or an instrument is withdrawn: first the list of what relied on it, then the signature under it."""

from __future__ import annotations

import datetime as dt

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from assets.errors import Refusal
from assets.models import Asset
from assets.permissions import READERS, SUPERVISORS, Desk, asset_for, for_roles
from assets.proofs import prove
from calibration.actions.recall import withdraw_standard
from calibration.forms.standards_instruments import RecallLook, RecallSign
from calibration.models import Lot, StandardUse
from calibration.permissions import lot_for, recall_for
from calibration.reads.instrument_page import recall_view
from calibration.reads.recall import preview_rows, reach_of
from calibration.views.sent import REFUSED


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def recall_lot(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Withdraw a lot."""
    return _withdraw(request, desk, lot_for(desk, pk))


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def recall_asset(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Withdraw an instrument."""
    return _withdraw(request, desk, asset_for(desk, pk))


def _withdraw(request: HttpRequest, desk: Desk, standard: Lot | Asset) -> HttpResponse:
    called = f"lot {standard.number}" if isinstance(standard, Lot) else str(standard)
    url = (standard if isinstance(standard, Lot) else StandardUse(asset=standard)).get_absolute_url()
    context: dict[str, object] = {"standard": standard, "called": called, "back": url}
    if request.method == "POST":
        return _sign(request, desk, standard, context)
    asked = "because" in request.GET
    look = RecallLook(request.GET if asked else None, initial={"since": request.GET.get("from") or desk.today})
    context["form"] = look
    if asked and look.is_valid():
        context |= _shown(desk, standard, look.cleaned_data["since"], look.cleaned_data["because"])
    return render(request, "calibration/recall_look.html", context, status=REFUSED if look.errors else 200)


def _shown(desk: Desk, standard: Lot | Asset, since: dt.date, because: str) -> dict[str, object]:
    lot = standard if isinstance(standard, Lot) else None
    asset = standard if isinstance(standard, Asset) else None
    reach = reach_of(site=desk.site, lot=lot, asset=asset, from_day=since)
    rows = preview_rows(reach)
    seen = " ".join(str(row.number) for row in rows)
    sign = RecallSign(initial={"since": since, "because": because, "seen": seen})
    return {"rows": rows, "reach": reach, "sign": sign, "since": since, "because": because, "looked": True}


def _sign(request: HttpRequest, desk: Desk, standard: Lot | Asset, context: dict[str, object]) -> HttpResponse:
    sign = RecallSign(request.POST)
    if sign.is_valid():
        typed = sign.cleaned_data
        try:
            proof = prove(desk.person, typed["proof"], site=desk.site)
        except Refusal as refusal:
            sign.refuse(refusal)
        else:
            answer = sign.sent(
                desk,
                verb="standard.withdrawn",
                subject=standard,
                do=lambda: withdraw_standard(
                    site=desk.site,
                    standard=standard,
                    from_day=typed["since"],
                    because=typed["because"],
                    seen=sign.numbers,
                    proof=proof,
                    by=desk.person,
                ).get_absolute_url(),
            )
            if answer is not None:
                return redirect(answer)
    since, because = sign.cleaned_data.get("since"), sign.cleaned_data.get("because", "")
    context["form"] = RecallLook({"since": request.POST.get("since", ""), "because": because})
    if since is not None:
        # What is shown is what is found now; a list that changed meanwhile is signed only after it was looked at.
        context |= _shown(desk, standard, since, because)
    context["refused_form"] = sign
    return render(request, "calibration/recall_look.html", context, status=REFUSED)


@require_safe
@for_roles(READERS)
def recall(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One withdrawal, and every check it reached."""
    return render(request, "calibration/recall.html", {"view": recall_view(recall_for(desk, pk))})
