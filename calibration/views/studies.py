"""The page of a history: charts, drift, advice on the interval; a supervisor fixes a baseline and decides."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from assets.permissions import READERS, SUPERVISORS, Desk, for_roles
from calibration.actions.studies import decide_interval, fix_baseline
from calibration.compute.methods import METHODS
from calibration.forms.studies import BaselineForm, IntervalForm
from calibration.models import Requirement
from calibration.permissions import requirement_for
from calibration.reads.history import history_of
from calibration.reads.seen import choices_in, seen_of

REFUSED = 422


def _context(row: Requirement, desk: Desk, **forms: Any) -> dict[str, Any]:
    told = history_of(row)
    may = desk.may(SUPERVISORS)
    initial = {"first": told.choices[0][0], "last": told.choices[-1][0]} if told.choices else {}
    usual = {
        "baseline_form": BaselineForm(choices=told.choices, initial=initial) if may and told.choices else None,
        "interval_forms": [
            (one, IntervalForm(initial={"method": one.method, "days": one.days, "from_day": desk.today}))
            if may and one.days is not None and one.days != one.now
            else (one, None)
            for one in told.advice
        ],
    }
    return {
        "requirement": row,
        "position": row.position,
        "method": METHODS[row.method],
        "told": told,
        "checks_url": f"{reverse('calibration:checks')}?tag={row.position_id}",
        **usual,
        **forms,
    }


@require_safe
@for_roles(READERS)
def history(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """What the checks of an instrument say together."""
    row = requirement_for(desk, pk)
    return render(request, "calibration/history.html", _context(row, desk))


@require_POST
@for_roles(SUPERVISORS)
def baseline(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Fix the checks that the limits of the chart are taken from."""
    row = requirement_for(desk, pk)
    choices = choices_in(seen_of(row, METHODS[row.method].headline), row)
    form = BaselineForm(request.POST, choices=choices)
    if form.is_valid():
        typed = form.cleaned_data
        answer = form.sent(
            desk,
            verb="baseline.fixed",
            subject=row,
            do=lambda: _fixed(row, typed, desk),
        )
        if answer is not None:
            return redirect(answer)
    return render(request, "calibration/history.html", _context(row, desk, baseline_form=form), status=REFUSED)


def _fixed(row: Requirement, typed: dict[str, Any], desk: Desk) -> str:
    headline = METHODS[row.method].headline
    fix_baseline(
        requirement=row, figure=headline, first=typed["first"], last=typed["last"], why=typed["why"], by=desk.person
    )
    return reverse("calibration:history-of", args=[row.pk])


@require_POST
@for_roles(SUPERVISORS)
def interval(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Take or leave advice on the interval."""
    row = requirement_for(desk, pk)
    form = IntervalForm(request.POST)
    if form.is_valid():
        typed = form.cleaned_data
        answer = form.sent(desk, verb="interval.decided", subject=row, do=lambda: _decided(row, typed, desk))
        if answer is not None:
            return redirect(answer)
    context = _context(row, desk, refused_form=form)
    return render(request, "calibration/history.html", context, status=REFUSED)


def _decided(row: Requirement, typed: dict[str, Any], desk: Desk) -> str:
    decide_interval(
        requirement=row,
        method=typed["method"],
        days=typed["days"],
        taken=typed["taken"] == "yes",
        why=typed["why"],
        from_day=typed["from_day"],
        by=desk.person,
    )
    return reverse("calibration:history-of", args=[row.pk])
