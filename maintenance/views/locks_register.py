"""Isolation points, the lock register and the boxes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assets.errors import Refusal
from assets.inputs import KeyedForm
from assets.lists import asked_of, file_of
from assets.permissions import READERS, SUPERVISORS, Desk, for_roles
from maintenance.actions import isolation
from maintenance.actions.lockout import register
from maintenance.forms import locks_register as forms
from maintenance.forms.locks import PressForm
from maintenance.models.isolation import PointKind
from maintenance.permissions.locks import lock_for, point_for, service_for
from maintenance.reads import locks_register as reads
from maintenance.views.locks_form import answered
from maintenance.views.one_form import OneForm, typed

BOTH = ["GET", "POST"]
KINDS = {"": "Any kind", **{str(kind): str(kind.label).capitalize() for kind in PointKind}}


@require_safe
@for_roles(READERS)
def points(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every isolation point, what it serves and which locks are on it."""
    return _points(request, desk)


def _points(request: HttpRequest, desk: Desk, refusal: Refusal | None = None) -> HttpResponse:
    asked = asked_of(request, show=reads.POINTS_SHOWN, kind=KINDS, find=None)
    rows = reads.points(desk.site, asked["show"], asked["kind"], asked["find"])
    if asked.file:
        return file_of(asked, desk, "isolation points", reads.POINT_COLUMNS, reads.point_cells(rows))
    shown, pager = asked.cut(rows)
    context = {
        "rows": reads.point_rows(shown),
        "pager": pager,
        "shows": asked.links("show"),
        "kinds": asked.links("kind"),
        "finder": asked.finder("Point, tag or energy"),
        "filtered": asked.is_filtered,
        "may_keep": desk.may(SUPERVISORS) and asked["show"] != "retired",
        "form": PressForm(),
        "refusal": refusal,
    }
    return render(request, "maintenance/locks/points.html", context, status=422 if refusal else 200)


@require_http_methods(BOTH)
@for_roles(SUPERVISORS)
def point_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Register an isolation point."""
    form = forms.PointForm(typed(request), desk=desk, initial={"positions": request.GET.getlist("tag")})

    def do() -> str:
        data = {name: value for name, value in form.cleaned_data.items() if name not in {"key", "version"}}
        isolation.register_point(site=desk.site, by=desk.person, **data)
        return reverse("maintenance:points")

    return answered(
        request,
        desk,
        OneForm(
            form=form,
            title="Register an isolation point",
            refused="The point was not registered",
            button="Register the point",
            back=reverse("maintenance:points"),
            intro="A point may serve several tags: register it once, by the code on its plate.",
            verb="point.registered",
            subject=desk.site,
            do=do,
        ),
    )


@require_http_methods(BOTH)
@for_roles(SUPERVISORS)
def point_serve(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One more tag that a point serves."""
    point = point_for(desk, pk)
    form = forms.ServeForm(typed(request), desk=desk, point=point)

    def do() -> str:
        isolation.serve_position(point=point, position=form.cleaned_data["position"], by=desk.person)
        return reverse("maintenance:points")

    return answered(
        request,
        desk,
        OneForm(
            form=form,
            title=f"{point} serves another tag",
            refused="Nothing was changed",
            button="It serves this tag too",
            back=reverse("maintenance:points"),
            intro="A lock on this point then stops that tag as well, at once.",
            verb="point.serves",
            subject=point,
            do=do,
        ),
    )


@require_POST
@for_roles(SUPERVISORS)
def service_end(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """A point no longer serves a tag."""
    service = service_for(desk, pk)
    form = PressForm(request.POST)
    return _pressed(
        request,
        desk,
        form,
        verb="point.parted",
        subject=service.point,
        do=lambda: isolation.end_service(service=service, by=desk.person),
        again=_points,
        to="points",
    )


@require_POST
@for_roles(SUPERVISORS)
def point_retire(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """A point is gone from the plant."""
    point = point_for(desk, pk)
    return _pressed(
        request,
        desk,
        PressForm(request.POST),
        verb="point.retired",
        subject=point,
        do=lambda: isolation.retire_point(point=point, by=desk.person),
        again=_points,
        to="points",
    )


def _pressed(
    request: HttpRequest,
    desk: Desk,
    form: KeyedForm,
    *,
    verb: str,
    subject: Any,
    do: Callable[[], Any],
    again: Callable[..., HttpResponse],
    to: str,
) -> HttpResponse:
    """A button in a list: done, back to the list; refused, the list with the reasons."""

    def done() -> str:
        do()
        return reverse(f"maintenance:{to}")

    unread = form.refused_unread(site=desk.site, by=desk.person, verb=verb, subject=subject)
    answer = None if unread else form.sent(desk, verb=verb, subject=subject, do=done)
    if answer is not None:
        return redirect(answer)
    reasons = [str(sentence) for sentences in form.errors.values() for sentence in sentences]
    return again(request, desk, Refusal(" ".join(reasons)))


@require_safe
@for_roles(READERS)
def lock_register(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every lock: whose, issued to whom, where it hangs."""
    return _register(request, desk)


def _register(request: HttpRequest, desk: Desk, refusal: Refusal | None = None) -> HttpResponse:
    asked = asked_of(request, show=reads.LOCKS_SHOWN, find=None)
    rows = reads.locks(desk.site, asked["show"], asked.finds("number", "issued_to__name", "issuer__name"))
    if asked.file:
        return file_of(asked, desk, "lock register", reads.LOCK_COLUMNS, reads.lock_cells(rows, desk.site.zone))
    shown, pager = asked.cut(rows)
    context = {
        "rows": reads.lock_rows(shown),
        "pager": pager,
        "shows": asked.links("show"),
        "finder": asked.finder("Lock, person or company"),
        "filtered": asked.is_filtered,
        "may_keep": desk.may(SUPERVISORS),
        "form": PressForm(),
        "refusal": refusal,
    }
    return render(request, "maintenance/locks/register.html", context, status=422 if refusal else 200)


@require_http_methods(BOTH)
@for_roles(SUPERVISORS)
def lock_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Register a lock of the plant or of a visiting company."""
    form = forms.LockNewForm(typed(request), desk=desk)

    def do() -> str:
        data = {name: value for name, value in form.cleaned_data.items() if name not in {"key", "version"}}
        register.register_lock(site=desk.site, by=desk.person, **data)
        return reverse("maintenance:lock-register")

    return answered(
        request,
        desk,
        OneForm(
            form=form,
            title="Register a lock",
            refused="The lock was not registered",
            button="Register the lock",
            back=reverse("maintenance:lock-register"),
            intro="One person uses a lock, and has its only key. A visitor’s lock is registered with their company.",
            verb="lock.registered",
            subject=desk.site,
            do=do,
        ),
    )


@require_POST
@for_roles(SUPERVISORS)
def lock_lost(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """A lock is lost and cannot be put on again."""
    lock = lock_for(desk, pk)
    return _pressed(
        request,
        desk,
        PressForm(request.POST),
        verb="lock.lost",
        subject=lock,
        do=lambda: register.mark_lock_lost(lock=lock, by=desk.person),
        again=_register,
        to="lock-register",
    )


@require_safe
@for_roles(READERS)
def boxes(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The lock boxes and what they serve now."""
    asked = asked_of(request, show=reads.BOXES_SHOWN, find=None)
    rows = reads.boxes(desk.site, asked["show"], asked.finds("name", "plate_code"))
    if asked.file:
        return file_of(asked, desk, "lock boxes", reads.BOX_COLUMNS, reads.box_cells(rows))
    shown, pager = asked.cut(rows)
    context = {
        "rows": reads.box_rows(shown),
        "pager": pager,
        "shows": asked.links("show"),
        "finder": asked.finder("Box or plate code"),
        "filtered": asked.is_filtered,
        "may_keep": desk.may(SUPERVISORS),
    }
    return render(request, "maintenance/locks/boxes.html", context)


@require_http_methods(BOTH)
@for_roles(SUPERVISORS)
def box_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Register a lock box."""
    form = forms.BoxForm(typed(request))

    def do() -> str:
        data = {name: form.cleaned_data[name] for name in ("name", "plate_code")}
        register.register_box(site=desk.site, by=desk.person, **data)
        return reverse("maintenance:boxes")

    return answered(
        request,
        desk,
        OneForm(
            form=form,
            title="Register a lock box",
            refused="The box was not registered",
            button="Register the box",
            back=reverse("maintenance:boxes"),
            verb="box.registered",
            subject=desk.site,
            do=do,
        ),
    )
