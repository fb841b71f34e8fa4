"""A lock goes on, and comes off by its own owner's hand: never by time, by a work order, a swap or another person."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from assets.errors import NotAllowed, Reason, Refusal
from assets.models import Person
from assets.proofs import Proof
from maintenance.actions import due
from maintenance.actions.lockout.opening import LockAct, Stop
from maintenance.actions.lockout.seen import PRESENCE, Seen
from maintenance.actions.lockout.sharing import Sharing
from maintenance.compute.lockout import Run, Story, is_set, run_of, standing
from maintenance.compute.lockout_off import questions_of, stops_off
from maintenance.models import Application, IsolationPoint, Lock, LockBox, Lockout
from maintenance.permissions.locks import must_be_on_the_job, must_be_own, must_be_qualified


def put_on(
    *,
    lockout: Lockout,
    lock: Lock,
    place: IsolationPoint | LockBox,
    seen: Seen,
    proof: Proof,
    by: Person,
    happened_at: dt.datetime | None = None,
) -> Application:
    """Record one's own lock as on, at a point of the lockout or on its box, as read there."""
    must_be_own(proof, by)
    if lock.issued_to_id != by.pk:
        raise NotAllowed(f"{lock} is the lock of {lock.issued_to.name}; each puts on their own.")
    point = place if isinstance(place, IsolationPoint) else None
    box = place if isinstance(place, LockBox) else None
    seen.must_be(lock.pk, point_id=point.pk if point else None, box_id=box.pk if box else None)
    with LockAct.on(lockout, by) as opened:
        opened.must_be_open()
        must_be_on_the_job(by, opened.lockout, to="put a lock on")
        must_be_qualified(by, lockout.site, at=opened.at, to="put a lock on")
        opened.must_be_within("lock on", happened_at)
        Stop.unless_none(_stops_on(opened.story(), place))
        row = opened.act.add(
            Application(
                lockout=opened.lockout,
                number=opened.number(),
                lock=lock,
                point=point,
                box=box,
                applied_by=by,
                applied_at=happened_at or opened.at,
                recorded_at=opened.at,
            )
        )
        facts = {"lock": lock.number, "on": str(place), "presence": PRESENCE, "proof": proof.kind}
        due.rewrite_blocks_of(opened.act, row)
        opened.write("lock.put_on", happened_at=happened_at, **facts)
    return row


def _stops_on(story: Story, place: IsolationPoint | LockBox) -> list[Reason]:
    run = run_of(story)
    if run is not Run.NONE:
        return [Reason(f"A test run is {run}; locks go on again after it has ended.")]
    if isinstance(place, LockBox):
        return _stops_on_box(story, place)
    source = next((s for s in story.points if s.point_id == place.pk), None)
    if source is None:
        return [Reason(f"{place} is no point of this lockout.")]
    elsewhere = Sharing.run_at(story, place.pk)
    if elsewhere is not None:
        return [Reason(f"A test run of lockout {elsewhere} keeps {source.point} energized; wait until it has ended.")]
    if not story.told("told before"):
        return [Reason("Tell those concerned before a lock goes on.")]
    if not is_set(story, source):
        return [Reason(f"{source.point} is not recorded in its safe state yet: {source.safe_state}.")]
    return []


def _stops_on_box(story: Story, box: LockBox) -> list[Reason]:
    if story.box_id != box.pk:
        return [Reason(f"{box} is not the box of this lockout.")]
    stand = standing(story)
    reasons = [Reason(f"No lock is on {s.point} yet.") for s in stand.unlocked]
    reasons += [Reason(f"The key of lock {h.lock} ({h.owner}) is not in {box}.") for h in stand.keys_out]
    if not reasons and not stand.box_closed:
        reasons.append(Reason(f"{box} is not recorded as closed over the keys yet."))
    return reasons


def take_off(
    *,
    application: Application,
    seen: Seen,
    proof: Proof,
    by: Person,
    answers: Mapping[str, str] | None = None,
) -> Application:
    """Record one's own lock as off, after each question is answered yes. `answers` holds question and yes or no.

    No role and no training is asked: nothing keeps a person from taking their own lock off. Entered as it happens;
    the moment is the server's.
    """
    must_be_own(proof, by)
    with LockAct.on(application.lockout, by) as opened:
        fresh = Application.objects.select_related("lock", "applied_by", "point", "box").get(pk=application.pk)
        if fresh.applied_by_id == by.pk:
            seen.must_be(fresh.lock_id, point_id=fresh.point_id, box_id=fresh.box_id)
            note_answers(opened, answers or {})
        story = opened.story()
        hung = next(h for h in story.hung if h.id == fresh.pk)
        Stop.unless_none(stops_off(story, hung, by=by.pk, now=opened.at))
        fresh.lockout = opened.lockout
        number = opened.number()
        opened.act.close(
            fresh, removed_at=opened.at, removed_by=by, removed_number=number, removed_recorded_at=opened.at
        )
        place = str(fresh.point or fresh.box)
        facts = {"lock": fresh.lock.number, "from": place, "presence": PRESENCE, "proof": proof.kind}
        due.rewrite_blocks_of(opened.act, fresh)
        opened.write("lock.taken_off", answers=dict(answers or {}), happened_at=None, **facts)
        if fresh.point_id is not None:
            Sharing.release(opened, {fresh.point_id}, why=f"lock {fresh.lock.number} of {opened.lockout} came off")
    return fresh


def note_answers(opened: LockAct, answers: Mapping[str, str]) -> None:
    """Add answers to the log, in the act that asked for them."""
    asked = questions_of(opened.story())
    for topic, answer in answers.items():
        if topic not in asked:
            raise Refusal(f"“{topic}” is no question of this lockout.")
        opened.note("answered", topic=topic, answer=answer)


def answer_questions(*, lockout: Lockout, answers: Mapping[str, str], by: Person) -> Lockout:
    """Keep answers, yes or no, before a lock comes off; each counts for who gave it and while it is fresh."""
    given = {topic: answer for topic, answer in answers.items() if answer}
    if not given:
        raise Refusal("Nothing is answered yet.")
    with LockAct.on(lockout, by) as opened:
        opened.must_be_open()
        _must_have_a_say(by, opened)
        note_answers(opened, given)
        opened.write("lockout.answered", answers=given)
    return opened.lockout


def _must_have_a_say(by: Person, opened: LockAct) -> None:
    """Whoever has a lock on may answer whatever became of their role; others take a role on the job."""
    if not opened.lockout.applications.filter(applied_by=by, removed_at__isnull=True).exists():
        must_be_on_the_job(by, opened.lockout, to="answer for the machine")
