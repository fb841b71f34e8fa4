"""The site itself, the history of a record, and the labels."""

from __future__ import annotations

import io
from dataclasses import replace

import segno
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe

from assets import actions, reads
from assets.forms.people import SiteForm
from assets.lists import asked_of, file_of
from assets.permissions import EVERYBODY, PEOPLE_KEEPERS, READERS, Desk, for_roles, position_by_code
from assets.reads import plant
from assets.reads.log import COLUMNS, events_of, log_cells
from assets.views.form_page import FormPage, answered, posted
from assets.views.people import people_path
from assets.views.plant import tag_path

ABOUT_PEOPLE = {"assets.person", "assets.company", "assets.site"}


@for_roles(PEOPLE_KEEPERS)
def site_edit(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Change what is known about the site."""
    names = ("name", "time_zone", "unit_system", "decimal_mark", "address", "ask_name", "ask_phone", "version")
    form = SiteForm(posted(request), initial={name: getattr(desk.site, name) for name in names})

    def do() -> str:
        version = form.cleaned_data["version"]
        actions.change_site(site=desk.site, facts=form.facts(), by=desk.person, version=version)
        return reverse("assets:site-edit")

    page = FormPage(
        form=form,
        title="The site",
        refused="The site was not changed",
        button="Save the site",
        back=people_path(),
        back_word="People",
        verb="site.changed",
        subject=desk.site,
        do=do,
        intro="Moments stay what they are when the time zone changes; days are counted by the new one.",
    )
    return answered(request, desk, page)


@require_safe
@for_roles(EVERYBODY)
def history(request: HttpRequest, desk: Desk, kind: str, pk: str) -> HttpResponse:
    """What happened to one record; the people's is for those who keep them, the plant's for those who read it."""
    roles = PEOPLE_KEEPERS if kind in ABOUT_PEOPLE else READERS
    asked = asked_of(request)
    events = events_of(desk, kind, pk) if desk.may(roles) else None
    if events is None or not events.exists():
        raise Http404("There is no history of such a record at this site.")
    if asked.file:
        return file_of(asked, desk, "history", COLUMNS, log_cells(events, desk.site.zone))
    shown, pager = asked.cut(events)
    return render(request, "assets/history.html", {"log": reads.log_of(events, shown, kind, pk), "pager": pager})


@require_safe
@for_roles(READERS)
def label(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """A printed label was scanned, its address in capitals: to the page of its tag."""
    return redirect(tag_path(position_by_code(desk, code).label_code))


@require_safe
@for_roles(READERS)
def labels(request: HttpRequest, desk: Desk) -> HttpResponse:
    """A sheet of labels to print; none without the address that their codes lead to."""
    chosen = frozenset(int(key) for key in request.GET.getlist("tag") if key.isascii() and key.isdecimal()) or None
    asked = asked_of(request, area=plant.areas_of(desk).words, find=None)
    rows = plant.label_tags(desk, tags=chosen).filter(asked.finds("tag", "service"))
    if asked["area"]:
        rows = rows.filter(area=int(asked["area"]))
    # Labels of chosen tags come on one page; of the others fifty at a time, since each code takes its time to draw.
    shown, pager = (replace(asked, number=0) if chosen else asked).cut(rows if desk.site.address else (), files=False)
    context = {
        "labels": [{"label": one, "qr": qr(one.address)} for one in reads.labels(desk, shown)],
        "pager": None if chosen else pager,
        "where": asked.links("area"),
        "finder": asked.finder("Tag or service"),
        "has_address": bool(desk.site.address),
        "may_set": desk.may(PEOPLE_KEEPERS),
    }
    return render(request, "assets/labels.html", context)


def qr(text: str) -> SafeString:
    """Draw a QR code as SVG, without script or style; a quarter of it may be scratched off (level H allows 30 %)."""
    drawn = io.BytesIO()
    code = segno.make(text, error="h", boost_error=False, micro=False)
    code.save(drawn, kind="svg", xmldecl=False, svgns=False, svgclass="qr", lineclass=None, omitsize=True, border=4)
    return mark_safe(drawn.getvalue().decode())  # noqa: S308 - drawn by segno from our own address
