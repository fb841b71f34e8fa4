"""What a tag is checked by: set, changed, read."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from assets.errors import NotAllowed
from assets.models import Position
from assets.permissions import READERS, SUPERVISORS, Desk, for_roles, position_for
from calibration.actions.requirements import change_requirement, set_requirement
from calibration.compute.methods import METHODS, short_name
from calibration.forms.requirements import NEW_ROUTINE, ChangeForm, RequirementForm, of_term, preset
from calibration.models import Requirement, RequirementTerm
from calibration.permissions import requirement_for
from calibration.reads.drafts import due_of
from calibration.reads.fitting import OF_MACHINES, asked_for, methods_for
from calibration.reads.known import term_in_force
from calibration.reads.own_fields import is_test
from calibration.reads.panels import limit_rows, rule_words, setting_rows
from maintenance.actions.routines import Interval, Work, register_routine
from maintenance.models import Plan

REFUSED = 422
WEEK = 7


def presets_at(desk: Desk, method: str) -> list[tuple[str, str]]:
    """Return the presets to begin from: the method's own, and those in force at other tags of the site."""
    rows = (
        Requirement.objects.filter(site=desk.site, method=method).select_related("position").order_by("position__tag")
    )
    return [
        ("", "The limits this tool starts with"),
        *((str(row.pk), f"As at {row.position.tag}") for row in rows[:50]),
    ]


def _initial(request: HttpRequest, desk: Desk, method: str) -> dict[str, Any]:
    asked = request.GET.get("as", "")
    if asked.isdecimal():
        other = requirement_for(desk, int(asked))
        term = term_in_force(other, desk.today)
        if term is not None and other.method == method:
            return {**of_term(term), "from_day": desk.today}
    return {**preset(method), "from_day": desk.today}


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def requirement_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Set what a tag is checked by; a routine may be made with it."""
    position = position_for(desk, pk)
    code = asked_for(position, request.GET.get("method", ""))
    if not position.measures and code not in OF_MACHINES:
        raise Http404("A machine shows no value that such a check could judge.")
    there = Requirement.objects.filter(position=position, method=code).first()
    if there is not None:
        return redirect(there)
    initial = _initial(request, desk, code)
    form = RequirementForm(request.POST or None, position=position, method=code, initial=initial)
    if request.method == "POST" and form.is_valid():
        answer = form.sent(
            desk,
            verb="requirement.set",
            subject=position,
            do=lambda: _set(form, position, code, desk).get_absolute_url(),
        )
        if answer is not None:
            return redirect(answer)
    context = {
        "form": form,
        "position": position,
        "method": METHODS[code],
        "methods": methods_for(position, code),
        "presets": presets_at(desk, code),
        "asked": request.GET.get("as", ""),
    }
    return render(request, "calibration/requirement_new.html", context, status=REFUSED if form.errors else 200)


def _set(form: RequirementForm, position: Position, code: str, desk: Desk) -> Requirement:
    typed = form.cleaned_data
    plan: Plan | None = None
    if typed["plan"] == NEW_ROUTINE:
        plan = register_routine(
            site=desk.site,
            target=position,
            work=_work(code),
            interval=Interval(
                mode="floating",
                every=typed["every"],
                unit="day",
                source=typed["interval_source"],
                early=min(WEEK, typed["every"] - 1),
                late=typed["late"] or 0,
            ),
            by=desk.person,
        )
    elif typed["plan"] != "none":
        plan = Plan.objects.at(desk.site).get(pk=int(typed["plan"]))
    return set_requirement(position=position, method=code, terms=form.terms, plan=plan, by=desk.person)


def _work(code: str) -> Work:
    """Name the routine after its check; a test that nothing is read again after only verifies."""
    if code == "ph":
        return Work(kind="calibrate", title="Calibrate pH")
    method = METHODS[code]
    name = short_name(method)
    return (
        Work(kind="verify", title=f"Test: {name}")
        if is_test(method)
        else Work(kind="calibrate", title=f"Check: {name}")
    )


@require_http_methods(["GET", "POST"])
@for_roles(READERS)
def requirement(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """What a tag is checked by, since when and why; supervisors change it here."""
    row = requirement_for(desk, pk)
    term = term_in_force(row, desk.today)
    may = desk.may(SUPERVISORS)
    initial = {**(of_term(term) if term is not None else preset(row.method)), "from_day": desk.today}
    form = ChangeForm(request.POST or None, method=row.method, initial=initial) if may else None
    if request.method == "POST" and form is None:
        raise NotAllowed(f"Your role, {desk.role.label}, reads these limits; a supervisor changes them.")
    if request.method == "POST" and form is not None and form.is_valid():
        answer = form.sent(
            desk,
            verb="requirement.changed",
            subject=row,
            do=lambda: change_requirement(
                requirement=row, terms=form.terms, why=form.cleaned_data["why"], by=desk.person
            ).requirement.get_absolute_url(),
        )
        if answer is not None:
            return redirect(answer)
    context = {
        "requirement": row,
        "position": row.position,
        "method": METHODS[row.method],
        "term": term,
        "limits": limit_rows(term) if term is not None else (),
        "rule": rule_words(term) if term is not None else "",
        "settings": setting_rows(term) if term is not None else (),
        "terms": _terms(row),
        "form": form,
        "due": due_of(row.plan_id),
        "plan_url": reverse("maintenance:routine", args=[row.plan_id]) if row.plan_id is not None else "",
    }
    status = REFUSED if form is not None and form.errors else 200
    return render(request, "calibration/requirement.html", context, status=status)


def _terms(row: Requirement) -> list[tuple[RequirementTerm, tuple[Any, ...], str]]:
    terms = row.terms.select_related("recorded_by", "requirement").order_by("-from_day", "-pk")
    return [(term, limit_rows(term), rule_words(term)) for term in terms]
