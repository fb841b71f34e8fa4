"""Locks: the list, one lockout, its record on paper, and its beginning."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from assets.lists import asked_of, file_of
from assets.models import Person
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, for_roles, position_for
from maintenance.actions.lockout.begin import begin_lockout
from maintenance.forms import locks as forms
from maintenance.models import LockBox, WorkOrder
from maintenance.permissions.locks import lockout_for
from maintenance.reads import locks as reads
from maintenance.reads.locks_acceptance import checks_before_use
from maintenance.reads.locks_procedures import version_in_force
from maintenance.views.locks_form import answered, page_of
from maintenance.views.one_form import OneForm, typed

NEXT_URLS = {
    "tell_before": "lockout-tell-before",
    "down": "lockout-down",
    "set": "lockout-set",
    "on_point": "lockout-on-point",
    "key": "lockout-key",
    "box": "lockout-close-box",
    "relieve": "lockout-relieve",
    "test": "lockout-test",
    "fits": "lockout-fits",
    "off": "lockout-off",
    "run_begin": "lockout-run-begin",
    "run_end": "lockout-run-end",
    "close": "lockout-close",
    "tell_after": "lockout-tell-after",
    "accept": "lockout-accept",
}


@require_safe
@for_roles(READERS)
def locks(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What is locked now, what waits to be taken back, and what needs seeing to; by a link what has ended."""
    asked = asked_of(request, show=reads.SHOWN, find=None)
    ended = asked["show"] == "ended"
    found = asked.finds("position__tag", "why")
    if asked.file:
        rows = reads.lockouts_ended(desk.site) if ended else reads.lockouts_now(desk.site)
        cells = reads.lockout_cells(reads.list_rows(rows.filter(found)), desk.site.zone)
        return file_of(asked, desk, "lockouts", reads.LOCKOUT_COLUMNS, cells)
    # What is locked now has no pages: a lock that is on never stands on a second one.
    shown, pager = asked.cut(reads.lockouts_ended(desk.site).filter(found) if ended else ())
    begin = reads.with_procedure(desk.site, asked.finds("tag", "service"))
    context = {
        "page": None if ended else reads.locks_page(desk, found),
        "ended": reversed(reads.list_rows(reads.of_pks(shown))) if ended else (),
        "begin": () if ended else begin,
        "pager": pager,
        "shows": asked.links("show"),
        "finder": asked.finder("Tag or why"),
        "csv_url": asked.url(**{"as": "csv"}),
        "xlsx_url": asked.url(**{"as": "xlsx"}),
        "may_work": desk.may(OPERATORS),
        "may_keep": desk.may(SUPERVISORS),
    }
    return render(request, "maintenance/locks/list.html", context)


@require_safe
@for_roles(READERS)
def lockout(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """One lockout: what it amounts to, every lock, the steps, the next act."""
    row = lockout_for(desk, number)
    page = reads.lockout_page(desk, row)
    name = NEXT_URLS.get(page.next.key)
    args = [row.number, page.next.target] if page.next.target else [row.number]
    context = {
        "lockout": row,
        "page": page,
        "view": page.view,
        "story": page.view.story,
        "next_url": reverse(f"maintenance:{name}", args=args) if name else "",
        "me": desk.person.pk,
        "may_work": page.may_work,
        "may_invite": desk.may(SUPERVISORS),
        "checks": checks_before_use(row.position),
    }
    return render(request, "maintenance/locks/lockout.html", context)


@require_safe
@for_roles(READERS)
def lockout_record(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """The tag to hang at the machine and the whole record, for paper: event time and entry time of each line."""
    row = lockout_for(desk, number)
    page = reads.lockout_page(desk, row)
    return render(request, "maintenance/locks/record.html", {"lockout": row, "page": page, "view": page.view})


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def lockout_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Begin a lockout of a tag."""
    position = position_for(desk, pk)
    here = Person.objects.filter(
        memberships__site=desk.site, memberships__to_at=None, memberships__role__in=["operator", "supervisor"]
    )
    form = forms.BeginForm(
        typed(request),
        people=here.filter(is_active=True).order_by("name"),
        boxes=LockBox.objects.filter(site=desk.site).exclude(lockouts__closed_at=None, lockouts__isnull=False),
        orders=WorkOrder.objects.open().filter(position=position),
        initial={"in_charge": desk.person.pk, "order": request.GET.get("order")},
    )
    page = OneForm(
        form=form,
        title=f"Begin a lockout of {position.tag}",
        refused="The lockout was not begun",
        button="Begin the lockout",
        back=reverse("tag", args=[position.label_code]),
        template="maintenance/locks/begin.html",
        verb="lockout.begun",
        subject=position,
        more={"position": position, "version": version_in_force(position)},
        do=lambda: page_of(
            begin_lockout(
                position=position,
                why=form.cleaned_data["why"],
                in_charge=form.cleaned_data["in_charge"],
                box=form.cleaned_data["box"],
                order=form.cleaned_data["order"],
                by=desk.person,
            )
        ),
    )
    return answered(request, desk, page)
