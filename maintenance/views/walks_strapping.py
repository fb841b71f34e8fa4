"""Strapping tables: those that count, one with its rows and what lies between two levels, written anew and ended."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from assets.permissions import READERS, SUPERVISORS, Desk, for_roles
from maintenance.actions import walks_strapping as actions
from maintenance.forms import walks_strapping as forms
from maintenance.permissions.walks import strapping_for
from maintenance.reads import walks_strapping as reads
from maintenance.views.one_form import OneForm, answered, typed


@require_safe
@for_roles(READERS)
def strappings(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The tables that count today."""
    context = {"rows": reads.table_rows(desk.site, desk.today), "may_keep": desk.may(SUPERVISORS)}
    return render(request, "maintenance/walks/strappings.html", context)


@require_safe
@for_roles(READERS)
def strapping(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One table; asked for with a level, or two, it says what the tank holds and what was drawn."""
    found = strapping_for(desk, pk)
    mark = desk.site.decimal_mark
    asked = request.GET if "level" in request.GET else None
    form = forms.LevelsForm(asked, table=found, decimal_mark=mark)
    between = None
    if form.is_valid():
        said = form.cleaned_data
        between = reads.between(found, said["level"], said["then"], said["minutes"], decimal_mark=mark)
    context = {
        "view": reads.table_view(found, desk.today),
        "table": found,
        "form": form,
        "between": between,
        "may_keep": desk.may(SUPERVISORS),
    }
    return render(request, "maintenance/walks/strapping.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def strapping_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write a table; one that is written anew begins with the rows of the older one."""
    asked = request.GET.get("instead", "")
    was = strapping_for(desk, int(asked)) if asked.isdecimal() and len(asked) < 16 else None
    form = forms.StrappingForm(typed(request), desk=desk, was=was)
    page = OneForm(
        form=form,
        title="Write a strapping table",
        refused="No table was written",
        button="Write the table",
        back=reverse("maintenance:strappings"),
        intro="What the tank holds at each level. Between two rows the volume lies on the straight line; beyond the "
        "first and the last row nothing is guessed.",
        verb="strapping.written",
        subject=desk.site,
        do=lambda: actions.write_strapping(site=desk.site, typed=form.typed(), by=desk.person).get_absolute_url(),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def strapping_end(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Let a table count no more."""
    found = strapping_for(desk, pk)
    form = forms.EndStrappingForm(typed(request))

    def do() -> str:
        said = form.cleaned_data
        actions.end_strapping(table=found, from_day=said["from_day"], why=said["why"], by=desk.person)
        return reverse("maintenance:strappings")

    page = OneForm(
        form=form,
        title=f"End the strapping table of {found.position.tag}, {found.what}",
        refused="Nothing was changed",
        button="Let it count no more",
        back=found.get_absolute_url(),
        intro="The table stays on record; days before keep it.",
        verb="strapping.ended",
        subject=found.position,
        do=do,
    )
    return answered(request, desk, page)
