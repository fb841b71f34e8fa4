"""The one thing to do next in a lockout, for one person; and the words that head its page."""

from __future__ import annotations

from dataclasses import dataclass

from maintenance.compute.lockout import Fits, Hung, Run, Standing, Story, fits, is_locked, run_of, standing
from maintenance.compute.lockout_off import fits_question, not_told, still_on
from maintenance.compute.lockout_steps import is_ending


@dataclass(frozen=True, slots=True)
class Next:
    """What to do: `key` names the act, `target` the row it is about (0 for none); key "" is a wait with its reason."""

    key: str
    title: str
    text: str = ""
    target: int = 0


def next_act(story: Story, person: int) -> Next:
    """Tell one person of the plant what comes next; where it is somebody else's act, whom it waits for."""
    if story.closed_at is not None:
        return _after(story)
    run = run_of(story)
    if fits(story) is Fits.OPEN:
        return Next("fits", "Answer: does the procedure still fit?", fits_question(story))
    if run is not Run.NONE:
        return _run(story, run, person)
    return _off(story, person) if is_ending(story) else _on(story, standing(story), person)


def _after(story: Story) -> Next:
    if story.told("available"):
        return Next("", "Nothing is left to do", "The machine was taken back into operation.")
    if not story.told("told after") or not_told(story):
        left = ", ".join(not_told(story)) or "those concerned"
        return Next("tell_after", "Tell them that the locks are off", f"Before anything starts: {left}.")
    return Next("accept", "Operations take it back", "Each line of the acceptance list is written down.")


def _run(story: Story, run: Run, person: int) -> Next:
    if run is Run.RUNNING:
        return Next("run_end", "End the test run", "Energy off, controls at off; then every lock goes on again.")
    own = _own(story, person)
    if own is not None:
        return Next("off", f"Take your own lock {own.lock} off for the test run", f"On {own.place}.", own.id)
    if story.on:
        return Next("", "Waiting for locks to come off", _named(story.on))
    if story.in_charge.id != person:
        return Next("", "Waiting for the person in charge", f"{story.in_charge} begins the test run.")
    return Next("run_begin", "Begin the test run", "Nobody is protected while it lasts.")


def _off(story: Story, person: int) -> Next:
    own = _own(story, person)
    if own is not None:
        empty = (
            f"{story.box[:1].upper()}{story.box[1:]} is empty of personal locks: you may take yours. "
            if story.box
            else ""
        )
        return Next(
            "off", f"Take your own lock {own.lock} off {own.place}", f"{empty}Each takes off their own.", own.id
        )
    if story.on:
        return Next("", "Waiting for locks to come off", _named(story.on))
    return Next("close", "Close the lockout", "Every lock of it is off. That does not make the machine available.")


def _on(story: Story, stand: Standing, person: int) -> Next:
    if not stand.told:
        return Next("tell_before", "Tell those concerned", "Before the locks go on: who, how, when.")
    if not stand.shut_down:
        return Next("down", "Shut down", "In the order of the written procedure; read the selector.")
    for source in stand.unset:
        if not is_locked(story, source):
            return Next("set", f"Set {source.point}: {source.safe_state}", source.energy, source.id)
    if stand.unlocked:
        source = stand.unlocked[0]
        return Next("on_point", f"Put your own lock on {source.point}", source.energy, source.id)
    return _keys(story, stand, person) or _tests(story, stand, person)


def _keys(story: Story, stand: Standing, person: int) -> Next | None:
    if story.box_id is None or stand.box_closed:
        return None
    own = next((h for h in stand.keys_out if h.owner.id == person), None)
    if own is not None:
        return Next("key", f"Put the key of lock {own.lock} into {story.box}", "By your own hand.", own.id)
    if stand.keys_out:
        names = ", ".join(f"{h.lock} ({h.owner})" for h in stand.keys_out)
        return Next("", f"Waiting for keys in {story.box}", f"Locks {names}.")
    return Next("box", f"Close {story.box}", "The key of every point’s lock is in it.")


def _tests(story: Story, stand: Standing, person: int) -> Next:
    if stand.unrelieved:
        source = stand.unrelieved[0]
        return Next("relieve", f"Let stored energy off: {source.energy}", source.relief, source.id)
    if stand.untested:
        source = stand.untested[0]
        return Next("test", f"Test: {source}", source.test, source.id)
    own = _own(story, person)
    if own is not None and own.box_id is not None:
        return Next("off", f"Work done? Take your own lock {own.lock} off", "Not finished? Leave it on.", own.id)
    if story.box_on:
        return Next("", "Work is going on", _named(story.box_on))
    if own is not None:
        return Next("off", f"Work done? Take your own lock {own.lock} off", "Not finished? Leave it on.", own.id)
    return Next("", "Waiting for whoever works", "Each hangs a lock of their own before they begin.")


def _own(story: Story, person: int) -> Hung | None:
    """The person's lock that comes off first: the one on the box before those on points."""
    own = [h for h in story.on if h.owner.id == person]
    return min(own, key=lambda h: (h.box_id is None, h.number), default=None)


def _named(locks: tuple[Hung, ...]) -> str:
    return "; ".join(f"{still_on(h)} on {h.place}" for h in locks)


@dataclass(frozen=True, slots=True)
class Headline:
    """What is true now, in one line, and whether it forbids work or starting."""

    word: str
    shape: str
    ink: str
    text: str


def headline(story: Story) -> Headline:
    """Say what a lockout amounts to now; never that anything is safe."""
    stand = standing(story)
    if story.closed_at is not None:
        return _closed(story)
    if stand.run is Run.RUNNING:
        return Headline("Test run", "refused", "bad", "Energy is on. Nobody is protected. Stay out.")
    if stand.run is Run.ASKED:
        return Headline("Test run asked for", "refused", "bad", "Do not work. Each owner takes off their own lock.")
    if story.withdrawn_because:
        return Headline("Stop work", "refused", "bad", f"The procedure was withdrawn: {story.withdrawn_because}.")
    if not story.in_charge_may:
        return Headline("Stop work", "refused", "bad", "Nobody is in charge until somebody of the plant takes charge.")
    if stand.fits is Fits.NO:
        return Headline("Stop work", "refused", "bad", "The procedure was said not to fit what is fitted.")
    if is_ending(story):
        return Headline("Locks are coming off", "now", "", f"{story.tag} must not be started.")
    return _going_on(story, stand)


def _closed(story: Story) -> Headline:
    if story.told("available"):
        return Headline("Available", "accepted", "", "Operations took it back.")
    return Headline(
        "All locks off", "lockoff", "", f"{story.tag} is NOT in service. Operations have not taken it back."
    )


def _going_on(story: Story, stand: Standing) -> Headline:
    if stand.verified and stand.verified_by is not None:
        return Headline("Tested", "done", "", "No energy was found at any source, since the last lock on a point.")
    if stand.locked and story.points:
        return Headline("Locks on, NOT yet tested", "refused", "bad", "Do not work.")
    return Headline("Not locked out yet", "notyet", "", "Do not work.")
