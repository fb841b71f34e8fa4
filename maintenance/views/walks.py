"""The walk: the rounds and last walks, one walk, one check point, its end."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assets.lists import asked_of
from assets.permissions import OPERATORS, READERS, Desk, for_roles
from maintenance.actions import walks as actions
from maintenance.forms.walks import EndWalkForm, PointForm
from maintenance.forms.walks_rounds import PressForm
from maintenance.models import Walk, WalkStop
from maintenance.permissions.walks import round_for, second_for, stop_for, walk_for
from maintenance.reads import walks as reads
from maintenance.reads.walks_stop import StopPage, stop_page
from maintenance.views.one_form import typed

NOT_YOURS = (
    "This was written by somebody else who was signed in on this phone. They sign in again to send it; nothing of it "
    "is lost."
)


@require_safe
@for_roles(READERS)
def walks(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The rounds as they stand today, and the last walks."""
    return _walks_page(request, desk, PressForm())


def _walks_page(request: HttpRequest, desk: Desk, form: PressForm) -> HttpResponse:
    page = reads.walks_page(desk, timezone.now())
    asked = asked_of(request, round=reads.round_words(desk.site))
    wanted = int(asked["round"]) if asked["round"] else None
    shown, pager = asked.cut(reads.walk_rows(desk.site, wanted), files=False)
    context = {
        "page": page,
        "rows": reads.rows_of(shown),
        "form": form,
        "links": asked.links("round", only={"", asked["round"], *(str(one.round.pk) for one in page.rounds)}),
        "pager": replace(
            pager,
            csv_url=f"{reverse('maintenance:walks-csv')}{asked.url()}",
            xlsx_url=f"{reverse('maintenance:walks-xlsx')}{asked.url()}",
        ),
    }
    return render(request, "maintenance/walks/list.html", context, status=422 if form.errors else 200)


@require_POST
@for_roles(OPERATORS)
def walk_begin(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Begin a walk, or go on with the one that is open."""
    found = round_for(desk, pk)
    form = PressForm(request.POST)
    if form.is_valid():
        answer = form.sent(
            desk,
            verb="walk.begun",
            subject=found,
            do=lambda: _go_on(actions.begin_walk(round=found, by=desk.person)),
        )
        if answer is not None:
            return redirect(answer)
    return _walks_page(request, desk, form)


def _go_on(walk: Walk, after: int = 0) -> str:
    """Return the address of the next check point that is left, else of the walk."""
    number = reads.next_number(walk, after)
    return walk.get_absolute_url() if number is None else reverse("maintenance:walk-point", args=[walk.number, number])


@require_safe
@for_roles(READERS)
def walk(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """One walk: how far it is, what was odd, what was written."""
    found = walk_for(desk, number)
    return _walk_page(request, desk, found, EndWalkForm(initial={"person": desk.person.pk}))


def _walk_page(request: HttpRequest, desk: Desk, found: Walk, form: EndWalkForm) -> HttpResponse:
    context = {"page": reads.walk_page(desk, found), "walk": found, "form": form, "person": desk.person}
    return render(request, "maintenance/walks/walk.html", context, status=422 if form.errors else 200)


@require_POST
@for_roles(OPERATORS)
def walk_end(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """End a walk."""
    found = walk_for(desk, number)
    form = EndWalkForm(request.POST)
    if form.is_valid():
        waited = dt.timedelta(seconds=form.cleaned_data["waited"] or 0)
        if form.cleaned_data["person"] not in {None, desk.person.pk}:
            form.add_error(None, NOT_YOURS)
        else:
            answer = form.sent(
                desk,
                verb="walk.ended",
                subject=found,
                do=lambda: actions.end_walk(walk=found, by=desk.person, waited=waited).get_absolute_url(),
            )
            if answer is not None:
                return redirect(answer)
    return _walk_page(request, desk, found, form)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def walk_point(request: HttpRequest, desk: Desk, number: int, point: int) -> HttpResponse:
    """One check point: asked, written, asked again where a number is doubtful."""
    found = walk_for(desk, number)
    stop = stop_for(desk, found, point)
    marks = reads.marks_of(found, stop.number)
    page = stop_page(
        found, stop, marks, timezone.now(), shown=request.POST.get("shown", "") if request.method == "POST" else None
    )
    form = _point_form(request, desk, page)
    if request.method == "POST" and form.is_valid():
        answer = _sent(desk, found, stop, form)
        if answer is not None:
            return redirect(answer)
    return _point_page(request, desk, page, form)


def _point_form(request: HttpRequest, desk: Desk, page: StopPage) -> PointForm:
    anew = page.answer is not None and "anew" in request.GET
    data = typed(request)
    waited = data.get("waited", "") if data is not None else ""
    lain = dt.timedelta(seconds=int(waited)) if waited.isdecimal() and len(waited) < 8 else dt.timedelta(0)
    initial = {"person": desk.person.pk, "shown": page.answer.pk if page.answer is not None and anew else None}
    now = (page.at - lain).astimezone(desk.site.zone)
    return PointForm(data, initial=initial, site=desk.site, views=page.lines, now=now)


def _sent(desk: Desk, found: Walk, stop: WalkStop, form: PointForm) -> str | None:
    if form.cleaned_data["person"] != desk.person.pk:
        form.add_error(None, NOT_YOURS)
        return None

    def do() -> str:
        answer = actions.write_stop(
            stop=stop,
            typed=form.typed(),
            key=form.cleaned_data["key"],
            by=desk.person,
            shown=form.cleaned_data["shown"],
        )
        if answer.beside_id is not None:
            return f"{stop.get_absolute_url()}?second={answer.pk}"
        return _go_on(found, stop.number)

    return form.sent(desk, verb="walk.point_written", subject=found, do=do)


def _point_page(request: HttpRequest, desk: Desk, page: StopPage, form: PointForm) -> HttpResponse:
    asks = page.answer is None or "anew" in request.GET or form.is_bound
    context: dict[str, Any] = {
        "page": page,
        "form": form,
        "walk": page.walk,
        "stop": page.stop,
        "asks": asks and (page.walk.ended_at is None or form.is_bound),
        "entries": reads.entries_of(page.answer),
        "seconds": [(one, reads.entries_of(one)) for one in page.seconds],
        "person": desk.person,
        "machine": page.stop.position is not None and not page.stop.position.measures,
        "done": sum(mark.done and not mark.skipped for mark in page.stops),
        "skipped": sum(mark.skipped for mark in page.stops),
        "left": sum(not mark.done for mark in page.stops),
    }
    return render(request, "maintenance/walks/point.html", context, status=422 if form.errors else 200)


@require_POST
@for_roles(OPERATORS)
def second_take(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Let the answer that came second count."""
    second = second_for(desk, pk)
    form = PressForm(request.POST)
    where = second.stop.get_absolute_url()
    if not form.is_valid():
        return redirect(where)
    shown = request.POST.get("shown", "")
    answer = form.sent(
        desk,
        verb="walk.second_taken",
        subject=second.stop.walk,
        do=lambda: actions.take_second(
            second=second, by=desk.person, shown=int(shown) if shown.isdecimal() and len(shown) < 16 else None
        ).stop.get_absolute_url(),
    )
    if answer is None:
        for fault in form.faults:
            messages.error(request, fault.sentence)
    return redirect(answer or where)
