"""Rounds as a supervisor keeps them: the order of check points, what each asks."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assets.inputs import KeyedForm
from assets.lists import asked_of, file_of
from assets.permissions import READERS, SUPERVISORS, Desk, for_roles
from maintenance.actions import walks_rounds as actions
from maintenance.forms import walks_rounds as forms
from maintenance.models import PointLine, Round
from maintenance.permissions.walks import line_for, point_for, round_for
from maintenance.reads import walks_rounds as reads
from maintenance.views.one_form import OneForm, answered, typed


@require_safe
@for_roles(READERS)
def rounds(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every round that is walked, or was; as a file every line that their check points ask."""
    asked = asked_of(request, show=reads.SHOWN, find=None)
    rows = reads.listed_rounds(desk, asked["show"], asked.finds("name"))
    if asked.file:
        return file_of(asked, desk, "rounds", reads.COLUMNS, reads.round_cells(desk, rows))
    shown, pager = asked.cut(rows)
    context = {
        "rounds": reads.round_rows(desk, shown),
        "pager": pager,
        "shows": asked.links("show"),
        "finder": asked.finder("Name of the round"),
        "filtered": asked.is_filtered,
        "may_keep": desk.may(SUPERVISORS),
    }
    return render(request, "maintenance/walks/rounds.html", context)


@require_safe
@for_roles(READERS)
def round_page(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One round: its check points in walking order, and what each asks."""
    return _round(request, desk, round_for(desk, pk), forms.PressForm())


def _round(request: HttpRequest, desk: Desk, found: Round, form: KeyedForm) -> HttpResponse:
    context = {"page": reads.round_page(desk, found), "form": form}
    return render(request, "maintenance/walks/round.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def round_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write a round."""
    form = forms.RoundForm(typed(request), desk=desk, initial={"days": list("1234567")})
    page = OneForm(
        form=form,
        title="Write a round",
        refused="The round was not written",
        button="Write the round",
        back=reverse("maintenance:rounds"),
        intro="Its check points follow, in the order in which they are walked.",
        verb="round.registered",
        subject=desk.site,
        do=lambda: actions.register_round(site=desk.site, typed=form.typed(), by=desk.person).get_absolute_url(),
    )
    return answered(request, desk, page)


def _one(found: Round, form: KeyedForm, title: str, button: str, verb: str, do: Callable[[], object]) -> OneForm:
    def done() -> str:
        do()
        return found.get_absolute_url()

    return OneForm(
        form=form,
        title=title,
        refused=f"{found.name} was not changed",
        button=button,
        back=found.get_absolute_url(),
        intro="A walk that was begun keeps what it was asked.",
        verb=verb,
        subject=found,
        do=done,
    )


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def round_edit(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Change when a round is asked and which routine it fulfils."""
    found = round_for(desk, pk)
    initial = {
        "name": found.name,
        "days": list(found.days),
        "asked_from": found.asked_from,
        "plan": found.plan_id,
        "version": found.version,
    }
    form = forms.RoundForm(typed(request), desk=desk, round=found, initial=initial)
    page = _one(
        found,
        form,
        f"Change {found.name}",
        "Change the round",
        "round.changed",
        lambda: actions.change_round(
            round=found, typed=form.typed(), by=desk.person, version=form.cleaned_data["version"]
        ),
    )
    return answered(request, desk, page)


def _pressed(
    request: HttpRequest, desk: Desk, found: Round, verb: str, do: Callable[[], object], form: KeyedForm
) -> HttpResponse:
    if form.is_valid():

        def done() -> str:
            do()
            return found.get_absolute_url()

        answer = form.sent(desk, verb=verb, subject=found, do=done)
        if answer is not None:
            return redirect(answer)
    return _round(request, desk, round_for(desk, found.pk), form)


@require_POST
@for_roles(SUPERVISORS)
def round_retire(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """End a round."""
    found = round_for(desk, pk)
    form = forms.PressForm(request.POST)
    return _pressed(
        request, desk, found, "round.retired", lambda: actions.retire_round(round=found, by=desk.person), form
    )


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def point_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Add a check point behind the others."""
    found = round_for(desk, pk)
    form = forms.CheckPointForm(typed(request), desk=desk)
    page = _one(
        found,
        form,
        f"Add a check point to {found.name}",
        "Add the check point",
        "round.point_added",
        lambda: actions.add_point(round=found, typed=form.typed(), by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def point_edit(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Change where a check point is and its caution."""
    point = point_for(desk, pk)
    initial = {"name": point.name, "position": point.position_id, "caution": point.caution, "version": point.version}
    form = forms.CheckPointForm(typed(request), desk=desk, initial=initial)
    page = _one(
        point.round,
        form,
        f"Change the check point {point.name}",
        "Change the check point",
        "round.point_changed",
        lambda: actions.change_point(
            point=point, typed=form.typed(), by=desk.person, version=form.cleaned_data["version"]
        ),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def point_place(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Put a check point at another place of the walk."""
    point = point_for(desk, pk)
    form = forms.PlaceForm(typed(request))
    page = _one(
        point.round,
        form,
        f"Place of {point.name} in the walk",
        "Put it there",
        "round.points_ordered",
        lambda: actions.move_point(point=point, to=form.cleaned_data["to"], by=desk.person),
    )
    return answered(request, desk, page)


@require_POST
@for_roles(SUPERVISORS)
def point_retire(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Ask a check point no more."""
    point = point_for(desk, pk)
    form = forms.PressForm(request.POST)
    return _pressed(
        request,
        desk,
        point.round,
        "round.point_retired",
        lambda: actions.retire_point(point=point, by=desk.person),
        form,
    )


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def line_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Ask one more thing at a check point."""
    point = point_for(desk, pk)
    form = forms.LineForm(typed(request), desk=desk)
    page = _one(
        point.round,
        form,
        f"Ask something at {point.name}",
        "Ask this",
        "round.line_asked",
        lambda: actions.add_line(point=point, typed=form.typed(), by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def line_edit(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Ask it otherwise; what was asked before is ended."""
    line = line_for(desk, pk)
    form = forms.LineForm(typed(request), desk=desk, initial=_initial(line))
    page = _one(
        line.point.round,
        form,
        f"Change what is asked at {line.point.name}",
        "Ask this instead",
        "round.line_asked",
        lambda: actions.add_line(point=line.point, typed=form.typed(), by=desk.person, instead_of=line),
    )
    return answered(request, desk, page)


def _initial(line: PointLine) -> dict[str, object]:
    names = ("kind", "what", "unit", "face", "hint", "low", "high", "modulus", "constant")
    own = {name: getattr(line, name) for name in names}
    return {**own, "position": line.position_id, "twin": line.twin_id}


@require_POST
@for_roles(SUPERVISORS)
def line_end(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Ask one thing no more."""
    line = line_for(desk, pk)
    form = forms.PressForm(request.POST)
    return _pressed(
        request,
        desk,
        line.point.round,
        "round.line_ended",
        lambda: actions.end_line(line=line, by=desk.person),
        form,
    )
