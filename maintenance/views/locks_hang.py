"""Locks on and off by people of the plant, the test run between, and whether the procedure fits."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from assets.permissions import OPERATORS, READERS, Desk, for_roles
from assets.proofs import Proof, prove
from maintenance.actions.lockout import hang, runs
from maintenance.actions.lockout.seen import Seen
from maintenance.compute.lockout_off import field_of, fits_question, questions_of, unanswered
from maintenance.forms import locks as forms
from maintenance.models import Application, IsolationPoint, Lock, LockBox, Lockout
from maintenance.permissions.locks import application_of, line_of, lockout_for
from maintenance.reads.locks_story import story_of
from maintenance.views.locks_form import ProvenForm, answered, page_of, proof_in, proven
from maintenance.views.locks_steps import step_page, typed_of
from maintenance.views.one_form import typed

BOTH = ["GET", "POST"]


def place_of(application: Application) -> IsolationPoint | LockBox:
    """Where a lock hangs."""
    place = application.point or application.box
    assert place is not None
    return place


def asked_on(request: HttpRequest, lockout: Lockout, application: Application) -> list[int]:
    """Numbers of the questions to ask: those without an answer that counts now, and those answered in what was sent."""
    story = story_of(lockout)
    hung = next(h for h in story.hung if h.id == application.pk)
    missing = {int(reason.field[1:]) for reason in unanswered(story, hung, now=timezone.now())}
    sent = {number for number in range(1, len(questions_of(story)) + 1) if field_of(number) in request.POST}
    return sorted(missing | sent)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def on_point(request: HttpRequest, desk: Desk, number: int, pk: int) -> HttpResponse:
    """Put one's own lock on a point."""
    lockout = lockout_for(desk, number)
    point = line_of(lockout, pk).point
    if point is None:
        raise Http404("This line has no isolation point.")
    return _on(request, desk, lockout, point)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def on_box(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Put one's own lock on the box."""
    lockout = lockout_for(desk, number)
    if lockout.box is None:
        raise Http404("This lockout uses no box.")
    return _on(request, desk, lockout, lockout.box)


def _on(request: HttpRequest, desk: Desk, lockout: Lockout, place: IsolationPoint | LockBox) -> HttpResponse:
    own = Lock.objects.filter(site=desk.site, issued_to=desk.person, lost_at=None)
    free = own.exclude(pk__in=Application.objects.on().values("lock"))
    form = forms.OnForm(typed(request), person=desk.person, site=desk.site, place=str(place))

    def before() -> tuple[Proof, Seen]:
        data = form.cleaned_data
        seen = Seen.at(place, data["lock"], stamp=data["stamp"], plate=data["plate"])
        return prove(desk.person, data["proof"], site=desk.site), seen

    def do(shown: tuple[Proof, Seen]) -> str:
        data = form.cleaned_data
        hang.put_on(
            lockout=lockout,
            lock=data["lock"],
            place=place,
            proof=shown[0],
            seen=shown[1],
            by=desk.person,
            happened_at=data["happened_at"],
        )
        return page_of(lockout)

    page = ProvenForm(
        form=form,
        title=f"Your own lock on {place}",
        refused="The lock is not recorded as on",
        button="My lock is on",
        verb="lock.put_on",
        intro=f"{place.what}. Hang the lock first, with your own key; then write what you read there."
        if isinstance(place, IsolationPoint)
        else "Hang the lock first, with your own key; then write what you read there.",
        before=before,
        do=do,
        more={"reads_there": True, "own_locks": list(free)},
    )
    return proven(request, desk, lockout, page)


@require_http_methods(BOTH)
@for_roles(READERS)
def off(request: HttpRequest, desk: Desk, number: int, pk: int) -> HttpResponse:
    """Take one's own lock off: whatever the role, only its owner can."""
    lockout = lockout_for(desk, number)
    application = application_of(lockout, pk)
    if application.removed_at is not None and request.method != "POST":
        raise Http404("This lock is recorded as off already.")
    story = story_of(lockout)
    place = place_of(application)
    form = forms.OffForm(
        typed(request),
        story=story,
        lock=application.lock.number,
        place=str(place),
        asked=asked_on(request, lockout, application),
    )
    page = ProvenForm(
        form=form,
        title=f"Take lock {application.lock.number} off {place}",
        refused=lambda: refused_off(application),
        button=f"My lock {application.lock.number} is off",
        verb="lock.taken_off",
        before=shown_at(form, application, lambda: prove(desk.person, form.cleaned_data["proof"], site=desk.site)),
        do=taken(form, application, desk.person, page_of(lockout)),
        template="maintenance/locks/off.html",
        more={"application": application, "own": application.applied_by_id == desk.person.pk, "story": story},
    )
    return proven(request, desk, lockout, page)


def refused_off(application: Application) -> str:
    """What became of a lock whose coming off was refused, read anew: another page may have recorded it meanwhile."""
    number = application.lock.number
    if Application.objects.on().filter(pk=application.pk).exists():
        return f"Lock {number} stays recorded as on"
    return f"Nothing was recorded; lock {number} is off already"


def shown_at(
    form: forms.OffForm, application: Application, proof: Callable[[], Proof]
) -> Callable[[], tuple[Proof, Seen]]:
    """What is shown before a lock comes off: what was read at the lock, and who reads it."""

    def before() -> tuple[Proof, Seen]:
        data = form.cleaned_data
        seen = Seen.at(place_of(application), application.lock, stamp=data["stamp"], plate=data["plate"])
        return proof(), seen

    return before


def taken(form: forms.OffForm, application: Application, by: Any, answer: str) -> Callable[[tuple[Proof, Seen]], str]:
    """Take the lock off with what was shown and answered."""

    def do(shown: tuple[Proof, Seen]) -> str:
        hang.take_off(application=application, proof=shown[0], seen=shown[1], by=by, answers=form.answers)
        return answer

    return do


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def answers(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Keep answers without taking a lock off, as after a test run with which the work ends."""
    lockout = lockout_for(desk, number)
    form = forms.AnswersForm(typed(request), story=story_of(lockout))
    page = step_page(
        lockout,
        form,
        title="Answer for the machine",
        button="Keep my answers",
        verb="lockout.answered",
        intro="At the machine, with your own eyes. What you do not know stays unanswered.",
        do=lambda: hang.answer_questions(lockout=lockout, answers=form.answers, by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def fits(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """The plant answers whether the procedure fits what is fitted now."""
    lockout = lockout_for(desk, number)
    form = forms.FitsForm(typed(request))
    page = step_page(
        lockout,
        form,
        title="Does the procedure still fit?",
        button="Answer for the plant",
        verb="lockout.fits_answered",
        intro=fits_question(story_of(lockout)),
        do=lambda: runs.answer_fits(lockout=lockout, by=desk.person, **typed_of(form)),
    )
    return answered(request, desk, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def run_ask(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Ask for a test run."""
    lockout = lockout_for(desk, number)
    form = forms.WhyForm(typed(request))
    page = step_page(
        lockout,
        form,
        title="Ask for a test run",
        button="Ask for the test run",
        verb="lockout.test_run_asked",
        intro="It ends everybody’s protection. All locks come off by their owners, everybody is out; then every lock "
        "goes on again and every source is tested again.",
        do=lambda: runs.ask_for_test_run(lockout=lockout, why=form.cleaned_data["why"], by=desk.person),
    )
    return answered(request, desk, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def run_begin(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Begin the test run, by the person in charge."""
    lockout = lockout_for(desk, number)
    form = forms.RunBeginForm(typed(request))

    def do(proof: Proof) -> str:
        runs.begin_test_run(lockout=lockout, minutes=form.cleaned_data["minutes"], by=desk.person, proof=proof)
        return page_of(lockout)

    page = ProvenForm(
        form=form,
        title="Begin the test run",
        refused="The test run has not begun",
        button="Begin the test run",
        verb="lockout.test_run_begun",
        intro="Nobody is protected while it lasts. Everybody is out and stays out.",
        before=proof_in(desk, form),
        do=do,
    )
    return proven(request, desk, lockout, page)


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def run_end(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """End the test run, or give it up."""
    lockout = lockout_for(desk, number)
    form = forms.RunEndForm(typed(request))
    page = step_page(
        lockout,
        form,
        title="End the test run",
        button="The test run is over",
        verb="lockout.test_run_ended",
        intro="Energy is off again and the controls stand at off. Nothing is locked by that: points, locks, relief and "
        "tests follow anew.",
        do=lambda: runs.end_test_run(lockout=lockout, by=desk.person, **typed_of(form)),
    )
    return answered(request, desk, page)
