"""The steps before work: told, shut down, points set, energy let off, keys in the box, tested.

Order after 29 CFR 1910.147 (c)(9), (d)(1) to (d)(6), second-hand; the plant's written procedure goes first.
"""

from __future__ import annotations

import datetime as dt

from assets.errors import NotAllowed, Reason, Refusal
from assets.models import Asset, Person
from assets.permissions import OPERATORS, must_have_role
from assets.proofs import Proof
from maintenance.actions.lockout.opening import LockAct, Stop
from maintenance.actions.lockout.sharing import Sharing
from maintenance.compute.lockout import Fits, Run, Source, Story, fits, is_locked, run_of, standing
from maintenance.compute.lockout_off import fits_question
from maintenance.models import Application, Lockout, LockoutEntry, LockoutLine
from maintenance.permissions.locks import must_be_own, must_be_qualified
from maintenance.reads.locks_testers import tester_of


def tell_before(
    *, lockout: Lockout, name: str, how: str, by: Person, happened_at: dt.datetime | None = None
) -> LockoutEntry:
    """Record that somebody concerned was told, before the locks go on: who, how, when."""
    must_have_role(by, lockout.site, OPERATORS, to="record who was told")
    _must_say(name, "name", "Write who was told.")
    _must_say(how, "how", "Write how: spoken, radio, phone.")
    with LockAct.on(lockout, by) as opened:
        opened.must_be_open()
        told = {note.topic.casefold() for note in opened.story().told("told before")}
        if name.strip().casefold() in told:
            raise Refusal(f"{name.strip()} is recorded as told already.", field="name")
        entry = opened.note("told before", topic=name.strip(), text=how.strip(), happened_at=happened_at)
        opened.write("lockout.told_before", happened_at=happened_at, who=name.strip(), how=how.strip())
    return entry


def record_shut_down(
    *, lockout: Lockout, selector: str, by: Person, text: str = "", happened_at: dt.datetime | None = None
) -> LockoutEntry:
    """Record the orderly shutdown, and at what the selector was found (hand, off, auto), so that it can be restored.

    Once, since it is the start of all that was locked and tested after it; again only after a test run has ended.
    """
    must_have_role(by, lockout.site, OPERATORS, to="shut down for a lockout")
    _must_say(selector, "selector", "Write at what the selector was found: hand, off, auto, or that there is none.")
    with LockAct.on(lockout, by) as opened:
        opened.must_be_open()
        story = opened.story()
        _refuse_run(story)
        if not story.told("told before"):
            raise Refusal("Tell those concerned first; then shut down.")
        _refuse_second_shut_down(story)
        opened.note("selector found", text=selector.strip(), happened_at=happened_at)
        entry = opened.note("shut down", text=text.strip(), happened_at=happened_at)
        opened.write("lockout.shut_down", happened_at=happened_at, selector=selector.strip(), text=text.strip())
    return entry


def set_point(
    *, lockout: Lockout, line: LockoutLine, by: Person, happened_at: dt.datetime | None = None
) -> LockoutEntry:
    """Record that a point stands in its safe state, before a lock goes on it."""
    must_have_role(by, lockout.site, OPERATORS, to="set an isolation point")
    with LockAct.on(lockout, by) as opened:
        opened.must_be_open()
        must_be_qualified(by, lockout.site, at=opened.at, to="set an isolation point")
        story = opened.story()
        _refuse_run(story)
        source = _source_in(story, line)
        if source.point_id is None:
            raise Refusal(f"{source} has no isolation point to set.")
        if not story.told("shut down"):
            raise Refusal("Shut down first; then the points are set.")
        elsewhere = Sharing.run_at(story, source.point_id)
        if elsewhere is not None:
            raise Refusal(f"A test run of lockout {elsewhere} keeps {source.point} energized; wait until it has ended.")
        if is_locked(story, source):
            raise Refusal(f"A lock is on {source.point}; a locked point is not moved.")
        entry = opened.note("point set", line=line, text=source.safe_state, happened_at=happened_at)
        opened.write("lockout.point_set", happened_at=happened_at, point=source.point, state=source.safe_state)
    return entry


def let_off(
    *, lockout: Lockout, line: LockoutLine, found: str, by: Person, happened_at: dt.datetime | None = None
) -> LockoutEntry:
    """Record that the stored energy of a source was let off, discharged or blocked, after every point is locked."""
    must_have_role(by, lockout.site, OPERATORS, to="let stored energy off")
    _must_say(found, "found", "Write what was read or seen afterwards, like: gauge PI-72 at 0 kPa.")
    with LockAct.on(lockout, by) as opened:
        opened.must_be_open()
        must_be_qualified(by, lockout.site, at=opened.at, to="let stored energy off")
        story = opened.story()
        _refuse_run(story)
        source = _source_in(story, line)
        if not source.stores_energy:
            raise Refusal(f"{source}: the procedure says {source.relief}.")
        Stop.unless_none(Reason(f"No lock is on {s.point} yet.") for s in standing(story).unlocked)
        entry = opened.note("relieved", line=line, text=found.strip(), happened_at=happened_at)
        opened.write("lockout.let_off", happened_at=happened_at, source=str(source), found=found.strip())
    return entry


def put_key_in_box(*, application: Application, by: Person) -> Application:
    """Record that the key of a point's lock lies in the box, by the lock's owner."""
    with LockAct.on(application.lockout, by) as opened:
        fresh = Application.objects.select_related("lock", "lockout__box").get(pk=application.pk)
        if fresh.applied_by_id != by.pk:
            raise NotAllowed(f"The key of {fresh.lock} is in its owner's hand; its owner puts it into the box.")
        if opened.lockout.box is None or fresh.point_id is None:
            raise Refusal("Only the key of a point's lock goes into the box of its lockout.")
        if fresh.removed_at is not None:
            raise Refusal(f"{fresh.lock} is off; its key belongs to no box.")
        opened.act.close(fresh, key_in_box_number=opened.number())
        opened.write("lockout.key_in_box", lock=fresh.lock.number, box=str(opened.lockout.box))
    return fresh


def close_box(*, lockout: Lockout, by: Person, happened_at: dt.datetime | None = None) -> LockoutEntry:
    """Record that the box is closed over the key of a lock on every point."""
    must_have_role(by, lockout.site, OPERATORS, to="close the box")
    with LockAct.on(lockout, by) as opened:
        opened.must_be_open()
        must_be_qualified(by, lockout.site, at=opened.at, to="close the box")
        if opened.lockout.box is None:
            raise Refusal("This lockout uses no box.")
        stand = standing(opened.story())
        if stand.box_closed:
            raise Refusal("The box is recorded as closed already.")
        missing = [Reason(f"No lock is on {s.point} yet.") for s in stand.unlocked]
        missing += [Reason(f"The key of lock {h.lock} ({h.owner}) is not in the box.") for h in stand.keys_out]
        Stop.unless_none(missing)
        entry = opened.note("box closed", happened_at=happened_at)
        opened.write("lockout.box_closed", happened_at=happened_at, box=str(opened.lockout.box))
    return entry


def record_test(
    *,
    lockout: Lockout,
    line: LockoutLine,
    tester: Asset,
    reading: str,
    by: Person,
    proof: Proof,
) -> LockoutEntry:
    """Record the test that shows no energy at one source: with what, in date, and what it read. Never entered late."""
    must_have_role(by, lockout.site, OPERATORS, to="test that no energy is left")
    must_be_own(proof, by)
    _must_say(reading, "reading", "Write what the tester read.")
    with LockAct.on(lockout, by) as opened:
        opened.must_be_open()
        must_be_qualified(by, lockout.site, at=opened.at, to="test that no energy is left")
        story = opened.story()
        source = _source_in(story, line)
        Stop.unless_none([*_before_test(story), *_unfit(lockout, tester, opened.at)])
        entry = opened.note("tested", line=line, tester=tester, text=reading.strip())
        opened.write("lockout.tested", source=str(source), tester=str(tester), reading=reading, proof=proof.kind)
    return entry


def _before_test(story: Story) -> list[Reason]:
    stand = standing(story)
    reasons = [Reason(f"No lock is on {s.point} yet.") for s in stand.unlocked]
    reasons += [Reason(f"Stored energy of {s} is not let off yet.") for s in stand.unrelieved]
    if run_of(story) is not Run.NONE:
        reasons.append(Reason(f"A test run is {run_of(story)}; the test comes after it, when the locks are on again."))
    if fits(story) is Fits.OPEN:
        reasons.append(Reason(f"Answer first: {fits_question(story)}"))
    if fits(story) is Fits.NO:
        reasons.append(Reason("The procedure was said not to fit what is fitted; a source may be missing in it."))
    return reasons


def _unfit(lockout: Lockout, tester: Asset, at: dt.datetime) -> list[Reason]:
    if tester.site_id != lockout.site_id or tester.retired_at is not None:
        return [Reason(f"{tester} is no tester of this site.", "tester")]
    refused = tester_of(tester, today=at.astimezone(lockout.site.zone).date()).refused
    return [Reason(refused, "tester")] if refused else []


def _refuse_run(story: Story) -> None:
    if run_of(story) is Run.RUNNING:
        raise Refusal("A test run is under way: energy is on. End it first.")


def _refuse_second_shut_down(story: Story) -> None:
    """Refuse to move what others locked and tested by: only energy that came on in a test run asks for it anew."""
    before = story.last("shut down")
    if before is None:
        return
    begun = story.last("test run begun")
    if begun is None or begun.number < before.number:
        raise Refusal(
            "The shutdown is recorded already; it is recorded again only after a test run has begun and ended."
        )
    Stop.unless_none(Reason(f"Lock {h.lock} of {h.owner} is on already; shut down comes before.") for h in story.on)


def _source_in(story: Story, line: LockoutLine) -> Source:
    found = next((s for s in story.sources if s.id == line.pk), None)
    if found is None:
        raise Refusal("This line belongs to another lockout.")
    return found


def _must_say(text: str, field: str, sentence: str) -> None:
    if not text.strip():
        raise Refusal(sentence, field=field)
