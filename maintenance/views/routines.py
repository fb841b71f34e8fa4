"""Routines: the list by area, one routine, and how it begins, changes and ends."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from assets.lists import asked_of, file_of
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, for_roles, position_by_code
from maintenance.actions import routines as actions
from maintenance.compute.presets import BY_KEY, GROUPS, Preset
from maintenance.compute.worked import Kind
from maintenance.compute.worked_kinds import BY_CODE as KIND_BY_CODE
from maintenance.compute.worked_kinds import KINDS
from maintenance.forms.intervals import TermForm
from maintenance.forms.routines import RetireForm, RoutineForm
from maintenance.forms.turned import TURN
from maintenance.models import Plan
from maintenance.permissions.upkeep import may_keep_routines, plan_for
from maintenance.reads.bearing import bears_on
from maintenance.reads.order_log import log_of
from maintenance.reads.routine_list import (
    ROUTINE_COLUMNS,
    by_area,
    list_words,
    listed_routines,
    routine_cells,
)
from maintenance.reads.routines import routine_rows, routine_view
from maintenance.views.one_form import OneForm, answered, typed


@require_safe
@for_roles(READERS)
def routines(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Routines in force, or those that were retired, area by area."""
    asked = asked_of(request, **list_words(desk.site), find=None)
    rows = listed_routines(desk.site, asked.chosen, asked.finds("title", "position__tag", "asset__serial"))
    if asked.file:
        return file_of(asked, desk, "routines", ROUTINE_COLUMNS, routine_cells(routine_rows(list(rows), desk.today)))
    shown, pager = asked.cut(rows)
    context = {
        "areas": by_area(routine_rows(shown, desk.today)),
        "pager": pager,
        "shows": asked.links("show"),
        "kinds": asked.links("kind"),
        "where": asked.links("area"),
        "finder": asked.finder("Tag or what is done"),
        "filtered": asked.is_filtered,
        "narrowed": asked["kind"] or asked["area"],
        "retired": asked["show"] == "retired",
        "may_keep": may_keep_routines(desk),
    }
    return render(request, "maintenance/routines/list.html", context)


@require_safe
@for_roles(READERS)
def routine(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One routine: its turns, the records of its work and why some do not count, its intervals so far."""
    plan = plan_for(desk, pk)
    context = {
        "plan": plan,
        "view": routine_view(plan, desk.today),
        "log": log_of(plan),
        "may_keep": may_keep_routines(desk) and plan.retired_at is None,
        "may_work": desk.may(OPERATORS) and plan.retired_at is None,
        "may_correct": desk.may(OPERATORS) and plan.by_hand,
        "bears": bears_on(plan, desk.today),
    }
    return render(request, "maintenance/routines/routine.html", context)


@require_safe
@for_roles(SUPERVISORS)
def routines_offered(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Routines that are offered, each with where it comes from and a link that fills the form with it."""
    context = {"groups": GROUPS, "tag": request.GET.get("tag", "")}
    return render(request, "maintenance/routines/offered.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def routine_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Register a routine; the address may name its tag, an offered routine, or what is worked out."""
    tag = request.GET.get("tag", "")
    start = {"position": position_by_code(desk, tag).pk} if tag else {}
    offered = _offered(request)
    kind = _kind(request, offered.computes if offered is not None else "")
    form = RoutineForm(_sent(request), desk=desk, initial=start, kind=kind, offered=offered, turned=_turned(request))
    page = OneForm(
        form=form,
        title="Register a routine",
        refused="The routine was not registered",
        button="Register the routine",
        back=reverse("maintenance:routines"),
        template="maintenance/routines/form.html",
        intro="Without a record of earlier work it is due today, not one interval from now.",
        verb="routine.registered",
        subject=desk.site,
        do=lambda: actions.register_routine(
            site=desk.site, target=form.target, work=form.work, interval=form.interval, by=desk.person
        ).get_absolute_url(),
        more={"kinds": KINDS, "tag": tag, "offered": offered, "kept": form.kept},
    )
    return answered(request, desk, page)


def _turned(request: HttpRequest) -> QueryDict | None:
    """What was typed when only the boxes are to change, to those of a reading or of a value that is worked out."""
    return request.POST if TURN in request.POST else None


def _sent(request: HttpRequest) -> QueryDict | None:
    """What was sent to be done; None where the form is only asked for, with what was typed or without."""
    return None if TURN in request.POST else typed(request)


def _offered(request: HttpRequest) -> Preset | None:
    """The offered routine that the address names."""
    key = request.GET.get("preset", "")
    if key and key not in BY_KEY:
        raise Http404("No routine of this name is offered.")
    return BY_KEY.get(key)


def _kind(request: HttpRequest, otherwise: str) -> Kind | None:
    """What is worked out, as the address asks; `none` turns back to a reading."""
    code = request.GET.get("computes", otherwise)
    if code and code != "none" and code not in KIND_BY_CODE:
        raise Http404("Nothing of this name is worked out.")
    return KIND_BY_CODE.get(code)


def _standing(desk: Desk, pk: int) -> Plan:
    plan = plan_for(desk, pk)
    if plan.retired_at is not None:
        raise Http404("This routine is retired.")
    return plan


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def term_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Give a routine another interval."""
    plan = _standing(desk, pk)
    term = plan.terms.order_by("-from_day", "-id")[0]
    form = TermForm(_sent(request), term=term, desk=desk, kind=_kind(request, term.computes), turned=_turned(request))
    page = OneForm(
        form=form,
        title=f"Change the interval: {plan}",
        refused="The interval was not changed",
        button="Change the interval",
        back=plan.get_absolute_url(),
        template="maintenance/routines/form.html",
        intro=f"Now {term}. A longer interval cures nothing that is overdue; a shorter one is not late before today.",
        verb="routine.term_changed",
        subject=plan,
        do=lambda: actions.change_term(
            plan=plan,
            interval=form.interval,
            from_day=form.cleaned_data["from_day"],
            why=form.cleaned_data["why"],
            by=desk.person,
        ).plan.get_absolute_url(),
        more={"kinds": KINDS, "kept": form.kept},
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def routine_retire(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """End a routine."""
    plan = plan_for(desk, pk)
    form = RetireForm(typed(request))
    page = OneForm(
        form=form,
        title=f"Retire: {plan}",
        refused="The routine was not retired",
        button="Retire the routine",
        back=plan.get_absolute_url(),
        verb="routine.retired",
        subject=plan,
        do=lambda: actions.retire_routine(
            plan=plan, because=form.cleaned_data["because"], by=desk.person
        ).get_absolute_url(),
    )
    return answered(request, desk, page)
