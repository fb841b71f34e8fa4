"""Forced values, holds, bypasses, shelved alarms: the list, one of them, and each act on it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from assets.inputs import KeyedForm
from assets.lists import asked_of, file_of
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, for_roles, position_by_code
from assets.proofs import prove
from maintenance.actions import overrides, overrides_end, overrides_time
from maintenance.forms import overrides as forms
from maintenance.forms.orders import PressForm
from maintenance.forms.proven import ProvenForm
from maintenance.models import Override, OverrideKind
from maintenance.permissions.upkeep import extension_for, override_for
from maintenance.reads import overrides as reads
from maintenance.reads.order_log import log_of
from maintenance.views.one_form import OneForm, OneProvenForm, answered, answered_proven, typed


@require_safe
@for_roles(READERS)
def overrides_list(request: HttpRequest, desk: Desk) -> HttpResponse:
    """All that stand, or all that ended."""
    asked = asked_of(request, show=reads.SHOWN, kind={"": "Any kind", **dict(OverrideKind.choices)}, find=None)
    rows = reads.overrides_of(desk.site, asked["show"], asked["kind"], asked.finds("position__tag", "what"))
    if asked.file:
        cells = reads.override_cells(reads.rows_of(desk, list(rows), timezone.now()))
        return file_of(asked, desk, "forced and held", reads.COLUMNS, cells)
    shown, pager = asked.cut(rows)
    context = {
        "rows": reads.rows_of(desk, shown, timezone.now()),
        "pager": pager,
        "ended": asked["show"] == "ended",
        "links": asked.links("show"),
        "kinds": asked.links("kind"),
        "finder": asked.finder("Tag or what"),
        "filtered": asked["kind"] or asked["find"],
        "may_ask": desk.may(OPERATORS),
    }
    return render(request, "maintenance/overrides/list.html", context)


@require_safe
@for_roles(READERS)
def override(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """One of them: what it is, who carries it, what was seen, what may be done now."""
    found = override_for(desk, number)
    context = {"one": found, "view": reads.override_view(desk, found, timezone.now()), "log": log_of(found)}
    return render(request, "maintenance/overrides/override.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def override_new(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Ask for one at a tag, or write down one that was put on."""
    position = position_by_code(desk, code)
    form = forms.OverrideForm(typed(request), desk=desk, position=position)
    page = OneForm(
        form=form,
        title=f"Force, hold, bypass or shelve at {position.tag}",
        refused="Nothing was written",
        button="Write it down",
        back=reverse("tag", args=[position.label_code]),
        intro="This page writes down; it changes nothing at the plant. What somebody’s safety rests on is bypassed by "
        "the site’s own procedure only, and never because a page let it through.",
        verb="override.asked",
        subject=position,
        do=lambda: overrides.ask_override(position=position, typed=form.typed(), by=desk.person).get_absolute_url(),
    )
    return answered(request, desk, page)


def _one(
    found: Override, form: KeyedForm, title: str, button: str, verb: str, do: Callable[[], object], intro: str = ""
) -> OneForm:
    def done() -> str:
        do()
        return found.get_absolute_url()

    return OneForm(
        form=form,
        title=f"{title}: {found}, {found.position.tag}",
        refused=f"{str(found).capitalize()} was not changed",
        button=button,
        back=found.get_absolute_url(),
        intro=intro or found.what,
        verb=verb,
        subject=found,
        do=done,
    )


def _proven(
    desk: Desk, found: Override, form: ProvenForm, title: str, button: str, verb: str, do: Callable[[Any], object]
) -> OneProvenForm:
    def done(proof: Any) -> str:
        do(proof)
        return found.get_absolute_url()

    return OneProvenForm(
        form=form,
        title=f"{title}: {found}, {found.position.tag}",
        refused=f"{str(found).capitalize()} was not changed",
        button=button,
        back=found.get_absolute_url(),
        intro=f"{found.what} {found.value} {found.unit}".strip(),
        verb=verb,
        subject=found,
        before=lambda: prove(desk.person, form.cleaned_data["proof"], site=desk.site),
        do=done,
    )


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def override_approve(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Approve it as another person."""
    found = override_for(desk, number)
    form = forms.ApproveForm(typed(request), initial={"version": found.version})
    page = _proven(
        desk,
        found,
        form,
        "Approve",
        "Approve it",
        "override.approved",
        lambda proof: overrides.approve_override(
            override=found, proof=proof, by=desk.person, version=form.cleaned_data["version"]
        ),
    )
    return answered_proven(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def override_refuse(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Refuse it, with a reason."""
    found = override_for(desk, number)
    form = forms.RefuseForm(typed(request), initial={"version": found.version})
    page = _one(
        found,
        form,
        "Refuse",
        "Refuse it",
        "override.refused",
        lambda: overrides.refuse_override(
            override=found,
            because=form.cleaned_data["because"],
            by=desk.person,
            version=form.cleaned_data["version"],
        ),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def override_on(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Write that it was put on."""
    found = override_for(desk, number)
    form = forms.AtForm(typed(request), initial={"version": found.version})
    page = _one(
        found,
        form,
        "Put on",
        "Write that it was put on",
        "override.put_on",
        lambda: overrides.put_on(
            override=found, at=form.cleaned_data["at"], by=desk.person, version=form.cleaned_data["version"]
        ),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def override_extend(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Ask for more time."""
    found = override_for(desk, number)
    form = forms.ExtendForm(typed(request))
    page = _one(
        found,
        form,
        "More time",
        "Ask for more time",
        "override.extension_asked",
        lambda: overrides_time.ask_extension(
            override=found, to_at=form.cleaned_data["to_at"], reason=form.cleaned_data["reason"], by=desk.person
        ),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def extension_grant(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Grant more time, signed."""
    extension = extension_for(desk, pk)
    form = forms.ApproveForm(typed(request))
    page = _proven(
        desk,
        extension.override,
        form,
        "Grant more time",
        "Grant it",
        "override.extension_decided",
        lambda proof: overrides_time.decide_extension(
            extension=extension, granted=True, because="", proof=proof, by=desk.person
        ),
    )
    return answered_proven(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(SUPERVISORS)
def extension_refuse(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Refuse more time, with a reason."""
    extension = extension_for(desk, pk)
    form = forms.RefuseForm(typed(request))
    page = _one(
        extension.override,
        form,
        "Refuse more time",
        "Refuse it",
        "override.extension_decided",
        lambda: overrides_time.decide_extension(
            extension=extension, granted=False, because=form.cleaned_data["because"], proof=None, by=desk.person
        ),
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def override_look(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Hold it against independent evidence."""
    found = override_for(desk, number)
    form = forms.LookForm(typed(request), desk=desk, override=found)
    page = _one(
        found,
        form,
        "Look",
        "Write this look",
        "override.looked_at",
        lambda: overrides_time.look_at_override(override=found, typed=form.typed(), by=desk.person),
        intro="A second meter, a tank drop, a bench reading, a valve’s trend: never the forced signal itself.",
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def override_take_over(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Carry it from now on."""
    found = override_for(desk, number)
    page = _one(
        found,
        PressForm(typed(request)),
        "Take over",
        "I carry it from now on",
        "override.taken_over",
        lambda: overrides_end.take_over_override(override=found, by=desk.person),
        intro=f"{found.owner.name} carries it now. {found.what}: {found.measures}",
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def override_off(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Write that it was taken off."""
    found = override_for(desk, number)
    form = forms.TakeOffForm(typed(request))
    page = _one(
        found,
        form,
        "Taken off",
        "Write that it was taken off",
        "override.taken_off",
        lambda: overrides_end.take_off(
            override=found, at=form.cleaned_data["at"], words=form.cleaned_data["words"], by=desk.person
        ),
        intro="Another person then sees that the function works again; until then it stays in the list.",
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def override_restored(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """See, as another person, that the function works again."""
    found = override_for(desk, number)
    form = forms.RestoredForm(typed(request))
    page = _proven(
        desk,
        found,
        form,
        "It works again",
        "Sign that it works again",
        "override.seen_restored",
        lambda proof: overrides_end.see_restored(
            override=found, how=form.cleaned_data["how"], words=form.cleaned_data["words"], proof=proof, by=desk.person
        ),
    )
    return answered_proven(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def override_not_restored(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Say that it does not work yet."""
    found = override_for(desk, number)
    form = forms.NotRestoredForm(typed(request))
    page = _one(
        found,
        form,
        "It does not work yet",
        "Write that it does not work yet",
        "override.not_restored",
        lambda: overrides_end.say_not_restored(override=found, words=form.cleaned_data["words"], by=desk.person),
        intro="It counts as in force again, until it is taken off anew.",
    )
    return answered(request, desk, page)
