"""Two separate ends: the lockout is closed; and the machine is available, when operations have taken it back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from assets.actions.readings import ReadingFacts, record_reading
from assets.errors import Reason, Refusal
from assets.models import Asset, Person
from assets.permissions import OPERATORS, must_have_role
from assets.proofs import Proof
from maintenance.actions.lockout.opening import LockAct, Stop
from maintenance.actions.overrides_end import stops_forced
from maintenance.compute.lockout import Story
from maintenance.compute.lockout_off import stops_available, stops_closing
from maintenance.models import Lockout, LockoutEntry
from maintenance.permissions.locks import must_be_own
from maintenance.reads.locks_acceptance import CHECKS, FORCED, HOURS, SELECTOR, fields_of
from maintenance.reads.locks_story import locks_of_anyone


def close_lockout(*, lockout: Lockout, by: Person) -> Lockout:
    """Close a lockout when every lock of it is off. That does not make the machine available."""
    must_have_role(by, lockout.site, OPERATORS, to="close a lockout")
    with LockAct.on(lockout, by) as opened:
        story = opened.story()
        Stop.unless_none(stops_closing(story))
        opened.note("closed", text="" if story.hung else "no lock was ever on")
        opened.act.change(opened.lockout, expect={"closed_at": None}, closed_at=opened.at, closed_by=by)
        opened.write("lockout.closed", locks=[h.lock for h in story.hung])
    return opened.lockout


def tell_after(
    *, lockout: Lockout, name: str, how: str, by: Person, happened_at: dt.datetime | None = None
) -> LockoutEntry:
    """Record that somebody concerned was told that the locks are off, before the machine starts: who, how, when."""
    must_have_role(by, lockout.site, OPERATORS, to="record who was told")
    if not name.strip() or not how.strip():
        raise Refusal([Reason("Write who was told.", "name"), Reason("Write how: spoken, radio, phone.", "how")])
    with LockAct.on(lockout, by) as opened:
        story = opened.story()
        if story.on:
            raise Refusal(
                [Reason(f"Lock {h.lock} of {h.owner} is still on; tell them when all are off.") for h in story.on]
            )
        if story.closed_at is None:
            raise Refusal(f"Close lockout {story.number} first; then tell those concerned.")
        for off_at in sorted((h.off_at for h in story.hung if h.off_at is not None), reverse=True)[:1]:
            opened.must_not_be_before(off_at, happened_at, what="when the last lock came off")
        entry = opened.note("told after", topic=name.strip(), text=how.strip(), happened_at=happened_at)
        opened.write("lockout.told_after", happened_at=happened_at, who=name.strip(), how=how.strip())
    return entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance:
    """What operations write down when they take a machine back: each line as typed, by its name.

    `hours`: the hour meter's start value as typed, "" with `no_hours` saying why there is none.
    """

    lines: Mapping[str, str]
    hours: str = ""
    no_hours: str = ""


def accept(*, lockout: Lockout, acceptance: Acceptance, by: Person, proof: Proof) -> Lockout:
    """Take the machine back into operation: after everybody was told, with no lock of anyone on any of its points."""
    must_have_role(by, lockout.site, OPERATORS, to="accept a machine")
    must_be_own(proof, by)
    with LockAct.on(lockout, by) as opened:
        story = opened.story()
        anyone = locks_of_anyone(opened.lockout.position, lockout=opened.lockout)
        stops = stops_available(story, by=by.pk, locks_of_anyone=anyone)
        forced = stops_forced(opened.lockout.position)
        Stop.unless_none([*stops, *forced, *_missing(opened.lockout, story, acceptance)])
        for topic, text in acceptance.lines.items():
            opened.note("acceptance", topic=topic, text=text.strip())
        _note_hours(opened, story, acceptance)
        opened.note("available")
        opened.write("lockout.available", lines=dict(acceptance.lines), hours=acceptance.hours, proof=proof.kind)
    return opened.lockout


def _missing(lockout: Lockout, story: Story, acceptance: Acceptance) -> list[Reason]:
    """Lines that are not written, and lines that nobody asked for."""
    asked = fields_of(lockout, story)
    reasons = []
    for field in asked:
        if field.topic == HOURS:
            if not acceptance.hours.strip() and not acceptance.no_hours.strip():
                reasons.append(Reason("Write what the hour meter starts from, or why there is none.", "hours"))
        elif not acceptance.lines.get(field.topic, "").strip():
            reasons.append(Reason(f"{field.topic}: nothing is written.", field.name))
    known = {field.topic for field in asked} | {SELECTOR, FORCED, CHECKS}
    return reasons + [Reason(f"“{topic}” is no line of this list.") for topic in acceptance.lines if topic not in known]


def _note_hours(opened: LockAct, story: Story, acceptance: Acceptance) -> None:
    if story.fitted is None:
        return
    if not acceptance.hours.strip():
        opened.note("acceptance", topic=HOURS, text=f"none: {acceptance.no_hours.strip()}")
        return
    asset = Asset.objects.select_related("site").get(pk=story.fitted.asset_id)
    facts = ReadingFacts(what="hour meter, start", entered=acceptance.hours, unit="h", face="display")
    try:
        record_reading(of=asset, facts=facts, by=opened.by)
    except Refusal as refusal:
        raise Refusal([Reason(reason.sentence, "hours") for reason in refusal.reasons]) from refusal
    opened.note("acceptance", topic=HOURS, text=f"{acceptance.hours.strip()} h")
