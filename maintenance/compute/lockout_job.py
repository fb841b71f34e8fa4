"""What a contractor's personal link still lets its holder do, and what their page says.

The link is live while a lock of theirs is on, however long that is; before the first one, and while a test run keeps it
off. After that it can be read for 30 days. Closing the link by hand, or making a newer one, ends it at once.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from maintenance.compute.lockout import Foreign, Hung, Run, Story, box_is_closed, newest, run_of
from maintenance.compute.lockout_off import not_told

READ_FOR = dt.timedelta(days=30)


class Life(StrEnum):
    """What the link is good for."""

    LIVE = "live"
    READ_ONLY = "for reading only"
    ENDED = "ended"


def own_locks(story: Story, person: int) -> tuple[Hung, ...]:
    """The person's lock records in this lockout, oldest first."""
    return tuple(h for h in story.hung if h.owner.id == person)


def own_on(story: Story, person: int) -> tuple[Hung, ...]:
    """The person's locks that are on."""
    return tuple(h for h in own_locks(story, person) if h.is_on)


def off_for_a_run(story: Story, person: int) -> bool:
    """Whether the person's last lock came off while a test run was asked for, so that it goes on again."""
    off = newest(h.off_number for h in own_locks(story, person))
    asked = newest(n.number for n in story.told("test run asked") if n.number < off)
    ended = newest(n.number for n in story.told("test run ended") if n.number < off)
    return asked > ended


def life_of(story: Story, person: int, *, closed: bool, now: dt.datetime) -> Life:
    """Tell what a link is good for now; `closed`: it was ended by hand or replaced by a newer one."""
    if closed:
        return Life.ENDED
    if own_on(story, person):
        return Life.LIVE
    if story.closed_at is None and (not own_locks(story, person) or off_for_a_run(story, person)):
        return Life.LIVE
    moments = [h.off_at for h in own_locks(story, person) if h.off_at is not None]
    since = max(moments) if moments else story.closed_at
    return Life.READ_ONLY if since is None or now - since <= READ_FOR else Life.ENDED


def read_until(story: Story, person: int) -> dt.datetime | None:
    """Until when a link can be read, None while it is live."""
    moments = [h.off_at for h in own_locks(story, person) if h.off_at is not None]
    since = max(moments) if moments else story.closed_at
    return since + READ_FOR if since else None


def waits_to_put_on(story: Story) -> tuple[str, ...]:
    """What has to happen before a personal lock can go on the box, in sentences."""
    run = run_of(story)
    if run is not Run.NONE:
        return (f"A test run is {run}. Stay out.",)
    if story.box_id is None:
        return ("This lockout uses no box: ask the person in charge where your lock goes.",)
    missing = [f"Waiting for a lock on {s.point}." for s in story.points if not _is_on(story, s.point_id)]
    missing += [
        f"Waiting for {h.owner} to put the key of lock {h.lock} into {story.box}."
        for h in story.points_on
        if h.key_in is None
    ]
    if not missing and not box_is_closed(story):
        missing.append(f"Waiting for {story.box} to be closed over the keys: {story.in_charge}.")
    return tuple(missing)


def _is_on(story: Story, point: int | None) -> bool:
    return any(h.point_id == point for h in story.points_on)


@dataclass(frozen=True, slots=True)
class Left:
    """One thing left before the machine is available: whether it is done, what, and whose it is."""

    done: bool
    text: str
    whose: str = ""


def left(story: Story, *, anyone: tuple[Foreign, ...], checks: tuple[str, ...]) -> tuple[Left, ...]:
    """What is left after the locks are off, before the machine is available: none of it is the contractor's to give."""
    done = bool(story.told("available"))
    on = ", ".join(f"{f.lock} ({f.owner.name}) on {f.point}" for f in anyone)
    told = [n.topic for n in story.told("told after")]
    missing = not_told(story)
    found = story.first("selector found")
    rows = [
        Left(story.closed_at is not None, f"Lockout {story.number} closed", story.in_charge.name),
        Left(not anyone, f"No lock of anyone on any of its points{f': still on: {on}' if on else ''}"),
        Left(bool(told) and not missing, f"Told that the locks are off: {', '.join(missing or told) or 'nobody yet'}"),
        Left(
            done, f"Selector, found at {found.text}, put where it belongs" if found else "Selector put where it belongs"
        ),
        Left(done, "Forced values on its signals removed or written down"),
    ]
    if story.fitted is not None:
        rows.append(Left(done, f"Hour meter of {story.fitted.name} written"))
    if checks:
        rows.append(Left(done, f"Checks due before use, {len(checks)}: {', '.join(checks)}"))
    return (*rows, Left(done, f"{', '.join(story.acceptance) or 'Run'}: accepted by operations"))
