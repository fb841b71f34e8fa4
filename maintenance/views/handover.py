"""Handover: what is to be handed over now, one handover, and taking it over."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from assets.lists import asked_of, file_of
from assets.permissions import OPERATORS, READERS, Desk, for_roles
from assets.proofs import prove
from maintenance.actions import handover as actions
from maintenance.forms.handover import HandOverForm, TakeOverForm
from maintenance.permissions.upkeep import handover_for
from maintenance.reads import handover as reads
from maintenance.reads.handover_list import COLUMNS, SHOWN, handover_cells, listed_handovers
from maintenance.views.one_form import typed


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def hand_over(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What the shift leaves, generated from what was written; signed by who hands over."""
    now = timezone.now()
    start = reads.shift_of(desk.site, now).astimezone(desk.site.zone)
    form = HandOverForm(typed(request), initial={"shift_from": f"{start:%Y-%m-%d %H:%M}"})
    if request.method == "POST" and form.is_valid():
        answer = form.sent_after(
            lambda: prove(desk.person, form.cleaned_data["proof"], site=desk.site),
            lambda proof: actions.hand_over(
                site=desk.site,
                shift_from=form.cleaned_data["shift_from"],
                words=form.cleaned_data["words"],
                proof=proof,
                by=desk.person,
            ).get_absolute_url(),
            site=desk.site,
            by=desk.person,
            verb="shift.handed_over",
            subject=desk.site,
        )
        if answer is not None:
            return redirect(answer)
    told = reads.told_at(desk.site, desk.person, start, now)
    context = {
        "form": form,
        "told": [(reads.shown_kind(one.kind), one) for one in told],
        "before": reads.handovers(desk.site),
        "untaken": reads.untaken(desk),
    }
    return render(request, "maintenance/handover/new.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(READERS)
def handover(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """One handover; the oncoming person chooses what they take over and signs."""
    found = handover_for(desk, number)
    view = reads.handover_view(desk, found)
    form = TakeOverForm(typed(request), handover=found)
    if request.method == "POST" and form.is_valid():
        answer = form.sent_after(
            lambda: prove(desk.person, form.cleaned_data["proof"], site=desk.site),
            lambda proof: actions.take_over(
                handover=found,
                items=list(form.cleaned_data["items"]),
                words=form.cleaned_data["words"],
                proof=proof,
                by=desk.person,
            ).get_absolute_url(),
            site=desk.site,
            by=desk.person,
            verb="shift.taken_over",
            subject=found,
        )
        if answer is not None:
            return redirect(answer)
        view = reads.handover_view(desk, found)
    context = {"view": view, "handover": found, "form": form, "notes": found.notes.select_related("written_by")}
    return render(request, "maintenance/handover/handover.html", context, status=422 if form.errors else 200)


@require_safe
@for_roles(READERS)
def handovers(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every handover of the site."""
    asked = asked_of(request, show=SHOWN, find=None)
    rows = listed_handovers(desk.site, asked["show"], asked.finds("made_by__name", "words"))
    if asked.file:
        return file_of(asked, desk, "handovers", COLUMNS, handover_cells(rows, desk.site.zone))
    shown, pager = asked.cut(rows)
    context = {
        "rows": shown,
        "pager": pager,
        "shows": asked.links("show"),
        "finder": asked.finder("Person or their words"),
        "filtered": asked.is_filtered,
        "may_work": desk.may(OPERATORS),
    }
    return render(request, "maintenance/handover/list.html", context)
