"""The list of checks, the page of one check, where a check is begun, corrected and reviewed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assets.errors import Refusal
from assets.history import door
from assets.lists import Asked, page_number
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, asset_for, for_roles, position_for
from assets.proofs import prove
from calibration.actions.drafts import begin_correction, begin_draft
from calibration.actions.reviews import review_check
from calibration.compute.methods import METHODS
from calibration.forms.checks import CheckFilterForm, CorrectForm, ReviewForm
from calibration.models import Check, Draft
from calibration.permissions import check_for, lot_for, may_check, may_review, requirement_for
from calibration.reads.checks import VERDICTS, CheckFilter, listed_checks, methods_used, places, rows_of
from calibration.reads.drafts import all_uses, due_of, others_begun
from calibration.reads.known import term_in_force
from calibration.reads.own_fields import is_test
from calibration.reads.panels import limit_rows, others_here, rule_words, setting_rows
from calibration.reads.result import result_page
from calibration.reads.sheet import fitted_at
from calibration.reads.words import proves_words

REFUSED = 422


def filter_of(request: HttpRequest, desk: Desk) -> tuple[CheckFilter, Asked]:
    """Return the filter that a link asks for, and the link."""
    form = CheckFilterForm(request.GET)
    form.is_valid()
    asked = form.cleaned_data
    position = position_for(desk, asked["tag"]) if asked.get("tag") else None
    lot = lot_for(desk, asked["lot"]) if asked.get("lot") else None
    which = CheckFilter(
        position=position,
        verdict=asked.get("verdict") or "",
        lot=lot,
        reference=asset_for(desk, asked["asset"]) if asked.get("asset") else None,
        method=asked.get("method") or "",
    )
    names = ("tag", "lot", "asset", "method", "verdict")
    return which, Asked(
        chosen={name: str(asked.get(name) or "") for name in names},
        number=page_number(request.GET.get("page", "1")),
        words={"verdict": {"": "All", **VERDICTS}, "method": {"": "Every kind", **dict(methods_used(desk.site))}},
    )


@require_safe
@for_roles(READERS)
def checks(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Signed checks, newest first, and the tags where one may be begun."""
    which, asked = filter_of(request, desk)
    shown, pager = asked.cut(listed_checks(desk.site, which), files=False)
    kinds = asked.links("method")
    files = {name: f"{reverse(f'calibration:checks-{name}')}{asked.url()}" if shown else "" for name in ("csv", "xlsx")}
    context = {
        "rows": tuple(rows_of(shown)),
        "pager": replace(pager, csv_url=files["csv"], xlsx_url=files["xlsx"]),
        "links": asked.links("verdict"),
        "kinds": kinds if len(kinds) > 2 else (),
        "which": which,
        "places": () if asked.is_filtered or asked.number != 1 else places(desk.site),
        "may_check": may_check(desk),
        "all_url": reverse("calibration:checks"),
    }
    return render(request, "calibration/checks.html", context)


@require_safe
@for_roles(READERS)
def check(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """One signed check."""
    row = check_for(desk, number)
    return render(request, "calibration/check.html", _page_of(row, desk))


def _page_of(row: Check, desk: Desk, **forms: Any) -> dict[str, Any]:
    reviewable = may_review(desk, row)
    return {
        "page": result_page(row, desk.person, due=due_of(row.plan_id)),
        "check": row,
        "withdrawals": row.withdrawals.select_related("recall"),
        "position": row.position,
        "may_check": may_check(desk) and row.position.retired_at is None,
        "may_review": reviewable,
        "review_form": forms.get("review_form") or (ReviewForm() if reviewable else None),
        "uses": all_uses(row.position),
        "method": METHODS[row.method],
        "proves": proves_words(METHODS[row.method]),
        **forms,
    }


@require_safe
@for_roles(READERS)
def check_paper(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """One signed check on one sheet of paper."""
    row = check_for(desk, number)
    context = {
        "page": result_page(row, desk.person, due=due_of(row.plan_id)),
        "check": row,
        "withdrawals": row.withdrawals.select_related("recall"),
        "position": row.position,
        "method": METHODS[row.method],
        "proves": proves_words(METHODS[row.method]),
    }
    return render(request, "calibration/check_paper.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def check_start(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """What to know before a check; sending it begins the draft."""
    requirement = requirement_for(desk, pk)
    term = term_in_force(requirement, desk.today)
    context: dict[str, Any] = {
        "requirement": requirement,
        "position": requirement.position,
        "method": METHODS[requirement.method],
        "is_test": is_test(METHODS[requirement.method]),
        "others": others_here(requirement),
        "settings": setting_rows(term) if term is not None else (),
        "limits": limit_rows(term) if term is not None else (),
        "rule": rule_words(term) if term is not None else "",
        "uses": all_uses(requirement.position),
        "due": due_of(requirement.plan_id),
        "fitting": fitted_at(requirement.position, timezone.now()),
        "draft": Draft.objects.filter(requirement=requirement, person=desk.person).first(),
        "begun_by_others": others_begun(requirement, desk.person),
        "last": Check.objects.filter(requirement=requirement).order_by("-begun_at").first(),
    }
    if request.method == "POST":
        number, stage = request.POST.get("check", ""), request.POST.get("stage") or "as found"
        before = check_for(desk, int(number)) if number.isdecimal() else None
        try:
            with door(site=desk.site, by=desk.person, verb="check.begun", subject=requirement):
                draft = begin_draft(requirement=requirement, by=desk.person, stage=stage, check=before)
        except Refusal as refusal:
            context["reasons"] = refusal.reasons
            return render(request, "calibration/check_start.html", context, status=REFUSED)
        return redirect(draft)
    return render(request, "calibration/check_start.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def correct(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Say what is wrong with a signed check; it begins a new one that will name it."""
    row = check_for(desk, number)
    form = CorrectForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        answer = form.sent(
            desk,
            verb="check.correction_begun",
            subject=row,
            do=lambda: begin_correction(check=row, why=form.cleaned_data["why"], by=desk.person).get_absolute_url(),
        )
        if answer is not None:
            return redirect(answer)
    context = {"form": form, "check": row, "position": row.position}
    return render(request, "calibration/correct.html", context, status=REFUSED if form.errors else 200)


@require_POST
@for_roles(SUPERVISORS)
def check_review(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Sign a check as reviewed."""
    row = check_for(desk, number)
    form = ReviewForm(request.POST)
    if form.is_valid():
        try:
            proof = prove(desk.person, form.cleaned_data["proof"], site=desk.site)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            answer = form.sent(
                desk,
                verb="check.reviewed",
                subject=row,
                do=lambda: review_check(
                    check=row, note=form.cleaned_data["note"], proof=proof, by=desk.person
                ).check_of.get_absolute_url(),
            )
            if answer is not None:
                return redirect(answer)
    return render(request, "calibration/check.html", _page_of(row, desk, review_form=form), status=REFUSED)
