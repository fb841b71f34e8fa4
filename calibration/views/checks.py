"""The list of checks, the page of one check, where a check is begun, corrected and reviewed."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assets.errors import Refusal
from assets.history import door
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, asset_for, for_roles, position_for
from assets.proofs import prove
from calibration.actions.drafts import begin_correction, begin_draft
from calibration.actions.reviews import review_check
from calibration.compute.methods import METHODS
from calibration.forms.checks import CheckFilterForm, CorrectForm, ReviewForm
from calibration.models import Check, Draft
from calibration.permissions import check_for, lot_for, may_check, may_review, requirement_for
from calibration.reads.checks import PAGE, VERDICTS, CheckFilter, check_page, methods_used, places
from calibration.reads.drafts import all_uses, due_of, others_begun
from calibration.reads.known import term_in_force
from calibration.reads.own_fields import is_test
from calibration.reads.panels import limit_rows, others_here, rule_words, setting_rows
from calibration.reads.result import result_page
from calibration.reads.sheet import fitted_at
from calibration.reads.words import proves_words
from calibration.views.pages import Link, Pager

REFUSED = 422


def filter_of(request: HttpRequest, desk: Desk) -> tuple[CheckFilter, int, dict[str, Any]]:
    """Return the filter a link asks for, its page, and the parts of its address."""
    form = CheckFilterForm(request.GET)
    form.is_valid()
    asked = form.cleaned_data
    position = position_for(desk, asked["tag"]) if asked.get("tag") else None
    lot = lot_for(desk, asked["lot"]) if asked.get("lot") else None
    names = ("tag", "lot", "asset", "method", "verdict")
    parts = {name: asked.get(name) for name in names}
    which = CheckFilter(
        position=position,
        verdict=asked.get("verdict") or "",
        lot=lot,
        reference=asset_for(desk, asked["asset"]) if asked.get("asset") else None,
        method=asked.get("method") or "",
    )
    return which, asked.get("page") or 1, {name: value for name, value in parts.items() if value}


def _url(parts: dict[str, Any], **other: Any) -> str:
    query = urlencode({name: value for name, value in {**parts, **other}.items() if value})
    return f"{reverse('calibration:checks')}?{query}" if query else reverse("calibration:checks")


def _file_url(name: str, parts: dict[str, Any]) -> str:
    where = reverse(f"calibration:{name}")
    return f"{where}?{urlencode(parts)}" if parts else where


@require_safe
@for_roles(READERS)
def checks(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Signed checks, newest first, and the tags where one may be begun."""
    which, number, parts = filter_of(request, desk)
    page = check_page(desk.site, which, number=number)
    links = [
        Link(word, _url(parts, verdict=key), which.verdict == key) for key, word in {"": "All", **VERDICTS}.items()
    ]
    kinds = [
        Link(word, _url(parts, method=key), which.method == key)
        for key, word in (("", "Every kind"), *methods_used(desk.site))
    ]
    pager = Pager(
        first=page.first,
        last=page.first + len(page.rows) - 1 if page.rows else 0,
        total=f"{(number - 1) * PAGE + len(page.rows)}{'+' if page.more else ''}",
        before_url=_url(parts, page=number - 1) if number > 1 else "",
        after_url=_url(parts, page=number + 1) if page.more else "",
    )
    context = {
        "page": page,
        "pager": pager,
        "links": links,
        "kinds": kinds if len(kinds) > 2 else (),
        "which": which,
        "places": places(desk.site) if not parts else (),
        "may_check": may_check(desk),
        "csv_url": _file_url("checks-csv", parts) if page.rows else "",
        "xlsx_url": _file_url("checks-xlsx", parts) if page.rows else "",
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
