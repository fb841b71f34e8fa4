"""The figures of a day and the water balance, and what counts in it."""

from __future__ import annotations

import datetime as dt

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from assets.permissions import READERS, SUPERVISORS, Desk, for_roles
from maintenance.actions import walks_balance as actions
from maintenance.forms import walks_rounds as forms
from maintenance.permissions.walks import part_for
from maintenance.reads.walks_day import day_page
from maintenance.views.one_form import OneForm, answered, typed


@require_safe
@for_roles(READERS)
def day(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What was counted in a day; without one, in the last that can be read at both ends."""
    asked = request.GET.get("day", "")
    try:
        wanted = dt.date.fromisoformat(asked) if asked else desk.today - dt.timedelta(days=1)
    except ValueError as wrong:
        raise Http404("There is no such day.") from wrong
    if not 1900 < wanted.year < 2200:
        raise Http404("There is no such day.")
    return render(request, "maintenance/walks/day.html", {"page": day_page(desk, wanted, timezone.now())})


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def part_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Let a register or a level count in the balance."""
    form = forms.BalanceForm(typed(request), desk=desk)

    def do() -> str:
        actions.count_in_balance(site=desk.site, typed=form.typed(), by=desk.person)
        return reverse("maintenance:walk-day")

    page = OneForm(
        form=form,
        title="Let a tag count in the water balance",
        refused="Nothing was changed",
        button="Let it count",
        back=reverse("maintenance:walk-day"),
        intro="Totals of one register each, all read at one face. A rate summed up by a computer is no register.",
        verb="balance.part_counted",
        subject=desk.site,
        do=do,
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def part_end(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Let it count no more."""
    part = part_for(desk, pk)
    form = forms.EndPartForm(typed(request))

    def do() -> str:
        actions.end_in_balance(part=part, to_day=form.cleaned_data["to_day"], by=desk.person)
        return reverse("maintenance:walk-day")

    page = OneForm(
        form=form,
        title=f"End {part.position.tag}, {part.what} in the water balance",
        refused="Nothing was changed",
        button="Let it count no more",
        back=reverse("maintenance:walk-day"),
        verb="balance.part_ended",
        subject=part,
        do=do,
    )
    return answered(request, desk, page)
