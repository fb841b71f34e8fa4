"""Signing in and out, and the page where people keep their own PIN, password and site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.contrib.auth import authenticate, login, logout, update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from assets import actions
from assets.errors import Refusal
from assets.forms.signing_in import OwnPasswordForm, OwnPinForm, SignInForm, SiteChoiceForm
from assets.inputs import KeyedForm
from assets.models import Person, Site
from assets.permissions import EVERYBODY, SITE_IN_SESSION, Desk, for_roles, sites_of
from assets.proofs import prove
from assets.views.form_page import posted

WRONG = "This name and this password do not belong together. After five wrong tries the name is closed for 15 minutes."
NO_ROLE = "You have no role at any site now. Ask your supervisor to give you one."


@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Ask for name and password; every refusal stands in the history, and axes counts them."""
    leads_to = own_path(request, request.POST.get("next") or request.GET.get("next") or "")
    if request.method == "GET" and isinstance(request.user, Person) and sites_of(request.user):
        return redirect(leads_to or "today")
    form = SignInForm(posted(request))
    if request.method == "POST" and form.is_valid():
        person = authenticate(request, **form.cleaned_data)
        why = WRONG if not isinstance(person, Person) else "" if sites_of(person) else NO_ROLE
        if isinstance(person, Person) and not why:
            login(request, person)
            actions.record_sign_in(by=person)
            return redirect(leads_to or "today")
        if getattr(request, "axes_locked_out", False):
            why = "Five wrong tries: the name is closed for 15 minutes."
        known = person if isinstance(person, Person) else None
        actions.record_refused_sign_in(sign_in=form.cleaned_data["sign_in"], why=why, by=known)
        form.add_error(None, why)
    _name_the_only_site(request)
    return render(request, "sign_in.html", {"form": form, "next": leads_to}, status=422 if form.errors else 200)


def own_path(request: HttpRequest, wanted: str) -> str:
    """Return where to go on, if that is a path of this tool; else nothing."""
    hosts = {request.get_host()}
    if wanted.startswith("/") and url_has_allowed_host_and_scheme(wanted, hosts, require_https=request.is_secure()):
        return wanted
    return ""


def _name_the_only_site(request: HttpRequest) -> None:
    sites = list(Site.objects.all()[:2])
    if len(sites) == 1:
        request.shell_site = sites[0]  # type: ignore[attr-defined]


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End this session."""
    logout(request)
    return redirect("assets:sign-in")


@dataclass(frozen=True, slots=True)
class _Own:
    """The forms of one's own page; the one that was sent is bound."""

    pin: OwnPinForm
    password: OwnPasswordForm
    site: SiteChoiceForm
    sites: list[Site]


def _own_forms(request: HttpRequest, desk: Desk) -> _Own:
    sent = request.POST.get("do") if request.method == "POST" else None

    def data(of: str) -> Any:
        return request.POST if sent == of else None

    sites = sites_of(desk.person)
    return _Own(
        pin=OwnPinForm(data("pin"), prefix="pin"),
        password=OwnPasswordForm(data("password"), prefix="password"),
        site=SiteChoiceForm(data("site"), sites=sites, initial={"site": str(desk.site.pk)}),
        sites=sites,
    )


@never_cache
@sensitive_post_parameters()
@for_roles(EVERYBODY)
def me(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Keep one's own PIN, password and site."""
    own = _own_forms(request, desk)
    done = {"pin": _set_pin, "password": _set_password, "site": _choose_site}.get(request.POST.get("do", ""))
    if request.method == "POST" and done is not None and done(request, desk, own):
        return redirect("assets:me")
    bad = any(form.errors for form in (own.pin, own.password, own.site))
    return render(request, "assets/me.html", {"own": own, "desk": desk}, status=422 if bad else 200)


def _choose_site(request: HttpRequest, desk: Desk, own: _Own) -> bool:
    if not own.site.is_valid():
        return False
    request.session[SITE_IN_SESSION] = int(own.site.cleaned_data["site"])
    return True


def _set_pin(request: HttpRequest, desk: Desk, own: _Own) -> bool:
    def do(proven: Any) -> str:
        actions.set_pin(
            site=desk.site, person=desk.person, pin=own.pin.cleaned_data["pin"], by=desk.person, proof=proven
        )
        return reverse("assets:me")

    if _proven_and_sent(own.pin, desk, verb="pin.set", do=do):
        messages.success(request, "Your new PIN holds from now on.")
        return True
    return False


def _set_password(request: HttpRequest, desk: Desk, own: _Own) -> bool:
    def do(proven: Any) -> str:
        typed = own.password.cleaned_data["password"]
        actions.set_password(site=desk.site, person=desk.person, password=typed, by=desk.person, proof=proven)
        return reverse("assets:me")

    if _proven_and_sent(own.password, desk, verb="password.set", do=do):
        desk.person.refresh_from_db()
        update_session_auth_hash(request, desk.person)
        messages.success(request, "Your new password holds from now on. Your other devices are signed out.")
        return True
    return False


def _proven_and_sent(form: KeyedForm, desk: Desk, *, verb: str, do: Any) -> bool:
    """Check the present password before any transaction, then send the form once."""
    if not form.is_valid():
        return False
    try:
        proven = prove(desk.person, form.cleaned_data["proof"], site=desk.site)
    except Refusal as refusal:
        form.refuse(refusal)
        return False
    return form.sent(desk, verb=verb, subject=desk.person, do=lambda: do(proven)) is not None
