"""A contractor's job on a phone: in by a personal link, every lock of the pump, one's own on and off by a code.

Opening an address changes nothing: message programs fetch links before people do.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from assets.actions.links import token_hash
from assets.errors import Refusal
from assets.proofs import Proof, prove_by_code
from maintenance.actions.lockout import hang, runs
from maintenance.actions.lockout.seen import Seen
from maintenance.forms import locks as forms
from maintenance.permissions.locks_job import JOB_IN_SESSION, Job, job_of, link_by_hash, own_application
from maintenance.reads.locks_job import JobPage, job_page
from maintenance.views.locks_hang import asked_on, place_of, shown_at, taken

HOME = "maintenance:job"
REFUSED = {
    "on": "Refused. Your lock is not recorded as on",
    "off": "Refused. Your lock stays recorded as on",
    "answers": "Your answers were not kept",
    "run": "No test run was asked for",
}
OFF_ALREADY = "Nothing was recorded; your lock is off already"
ON_ALREADY = "Nothing was recorded; your lock is on already"


@never_cache
@require_safe
def enter(request: HttpRequest, token: str) -> HttpResponse:
    """Swap the secret address for a session on a clean one."""
    link = link_by_hash(token_hash(token))
    request.session.cycle_key()
    request.session[JOB_IN_SESSION] = link.pk
    response = redirect(HOME)
    response["Referrer-Policy"] = "no-referrer"  # this one address holds the secret
    return response


def on_the_job(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Let a view be reached by the holder of a link alone; the plant's time zone is in force inside it."""

    @never_cache
    @wraps(view)
    def entered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        found = job_of(request.session.get(JOB_IN_SESSION))
        request.shell_site = found.site  # type: ignore[attr-defined]
        request.shell_person = found.person.name  # type: ignore[attr-defined]
        with timezone.override(found.site.zone):
            return view(request, found, *args, **kwargs)

    return entered


@require_safe
@on_the_job
def job(request: HttpRequest, found: Job) -> HttpResponse:
    """The pump, every lock on it, one's own, and what still stops it."""
    return _drawn(request, found)


def _drawn(request: HttpRequest, found: Job, *, form: forms.LockForm | None = None, which: str = "") -> HttpResponse:
    """The page of the job; `form` is one that was refused, `which` of them it is."""
    page = job_page(found)
    own: dict[str, Any] = {}
    if found.is_live and page.own is not None:
        application = own_application(found, page.own.id)
        own["off"] = _off_form(request, found, application)
        own["run"] = forms.WhyForm()
    elif found.is_live:
        own["on"] = _on_form(request, found)
    is_shown = which in own or (which == "answers" and "off" in own)
    if form is not None:
        own[which] = form
    context = {
        "job": found,
        "page": page,
        "forms": own,
        "sent": form if is_shown else None,
        "faults": [] if form is None or is_shown else form.faults,
        "refused": _title(which, page),
    }
    return render(request, "maintenance/locks/job.html", context, status=422 if form is not None else 200)


def _title(which: str, page: JobPage) -> str:
    """What was not done, by how the lock stands now: another phone may have done it first."""
    if which == "off" and page.own is None and page.was is not None:
        return OFF_ALREADY
    if which == "on" and page.own is not None:
        return ON_ALREADY
    return REFUSED.get(which, "")


def _on_form(request: HttpRequest, found: Job, data: Any = None) -> forms.OnForm:
    place = found.story.box or "the place it hangs"
    return forms.OnForm(data, person=found.person, site=found.site, place=place, outside=True)


def _off_form(request: HttpRequest, found: Job, application: Any, data: Any = None) -> forms.OffForm:
    return forms.OffForm(
        data,
        story=found.story,
        lock=application.lock.number,
        place=str(place_of(application)),
        asked=asked_on(request, found.lockout, application),
        outside=True,
    )


@require_POST
@on_the_job
def job_on(request: HttpRequest, found: Job) -> HttpResponse:
    """Put one's own lock on the box."""
    form = _on_form(request, found, request.POST)
    box = found.lockout.box

    def before() -> tuple[Proof, Seen]:
        found.must_be_live()
        if box is None:
            raise Refusal(f"This lockout uses no box. Ask {found.story.in_charge} where your lock goes.")
        data = form.cleaned_data
        seen = Seen.at(box, data["lock"], stamp=data["stamp"], plate=data["plate"])
        return prove_by_code(found.link, data["proof"]), seen

    def do(shown: tuple[Proof, Seen]) -> str:
        assert box is not None
        hang.put_on(
            lockout=found.lockout,
            lock=form.cleaned_data["lock"],
            place=box,
            proof=shown[0],
            seen=shown[1],
            by=found.person,
        )
        return reverse(HOME)

    return _done(request, found, form, "on", verb="lock.put_on", before=before, do=do)


@require_POST
@on_the_job
def job_off(request: HttpRequest, found: Job, pk: int) -> HttpResponse:
    """Take one's own lock off."""
    application = own_application(found, pk)
    form = _off_form(request, found, application, request.POST)

    def proof() -> Proof:
        found.must_be_live()
        return prove_by_code(found.link, form.cleaned_data["proof"])

    before = shown_at(form, application, proof)
    do = taken(form, application, found.person, reverse(HOME))
    return _done(request, found, form, "off", verb="lock.taken_off", before=before, do=do)


def _done(
    request: HttpRequest,
    found: Job,
    form: forms.LockForm,
    which: str,
    *,
    verb: str,
    before: Callable[[], Any],
    do: Callable[[Any], str],
) -> HttpResponse:
    who: dict[str, Any] = {"site": found.site, "by": found.person, "verb": verb, "subject": found.lockout}
    if not form.refused_unread(**who):
        answer = form.sent_after(before, do, **who)
        if answer is not None:
            return redirect(answer)
    # Read again: another person may have changed what stops it meanwhile.
    return _drawn(request, job_of(found.link.pk), form=form, which=which)


@require_POST
@on_the_job
def job_answers(request: HttpRequest, found: Job) -> HttpResponse:
    """Keep one's answers before the lock comes off."""
    form = forms.AnswersForm(request.POST, story=found.story)

    def do(_: object) -> str:
        hang.answer_questions(lockout=found.lockout, answers=form.answers, by=found.person)
        return reverse(HOME)

    return _done(request, found, form, "answers", verb="lockout.answered", before=found.must_be_live, do=do)


@require_POST
@on_the_job
def job_run(request: HttpRequest, found: Job) -> HttpResponse:
    """Ask for a test run."""
    form = forms.WhyForm(request.POST)

    def do(_: object) -> str:
        runs.ask_for_test_run(lockout=found.lockout, why=form.cleaned_data["why"], by=found.person)
        return reverse(HOME)

    return _done(request, found, form, "run", verb="lockout.test_run_asked", before=found.must_be_live, do=do)


@require_POST
def leave(request: HttpRequest) -> HttpResponse:
    """Forget the link on this device; nothing else changes."""
    request.session.pop(JOB_IN_SESSION, None)
    return render(request, "maintenance/locks/left.html")
