"""The steps of a lockout as its page lists them: what is done, what is next, what it waits for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from maintenance.compute.lockout import Note, Run, Standing, Story, newest, run_of, standing
from maintenance.compute.lockout_off import not_told


@dataclass(frozen=True, slots=True)
class Mark:
    """A word and its shape."""

    word: str
    shape: str
    ink: str = ""


DONE = Mark("Done", "done")
NOW = Mark("Now", "now")
NOT_YET = Mark("Not yet", "notyet")
STOPS = Mark("Stops work", "refused", "bad")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step: its state, what it is, what is still missing of it, who last did something of it and when."""

    key: str
    state: Mark
    text: str
    missing: tuple[str, ...] = ()
    who: str = ""
    at: dt.datetime | None = None

    @property
    def is_done(self) -> bool:
        """Whether nothing is missing."""
        return self.state is DONE


def steps(story: Story) -> tuple[Step, ...]:
    """List the steps in the order of the work; the first that is not done is the one to do now."""
    stand = standing(story)
    parts = _off(story) if is_ending(story) else [*_on(story, stand), *_tested(story, stand), *_later(story)]
    found: list[Step] = []
    for part in [_first(story), *parts, *_end(story)]:
        is_next = part.state is NOT_YET and all(step.state is not NOW for step in found)
        found.append(_marked(part, NOW) if is_next else part)
    return tuple(found)


def is_ending(story: Story) -> bool:
    """Whether the locks are coming off for good: one came off, no test run is meant, and none went on after it."""
    if story.closed_at is not None:
        return True
    if run_of(story) is not Run.NONE or story.box_on:
        return False
    runs = newest(n.number for n in story.notes if n.kind in {"test run begun", "test run ended"})
    off = newest(h.off_number for h in story.hung if h.off_number is not None and h.off_number > runs)
    return off > 0 and all(h.number < off for h in story.on)


def _marked(step: Step, mark: Mark) -> Step:
    return Step(key=step.key, state=mark, text=step.text, missing=step.missing, who=step.who, at=step.at)


def _step(
    key: str, text: str, *, missing: Iterable[object] = (), notes: Iterable[Note] = (), done: bool = True
) -> Step:
    """A step is done when it was begun and nothing of it is missing."""
    left = tuple(str(item) for item in missing)
    log = sorted(notes, key=lambda n: n.number)
    last = log[-1] if log else None
    who = ", ".join(dict.fromkeys(n.by.name for n in log))
    return Step(
        key=key,
        state=DONE if done and not left else NOT_YET,
        text=text,
        missing=left,
        who=who,
        at=last.at if last else None,
    )


def _first(story: Story) -> Step:
    return Step(key="begun", state=DONE, text=f"Begun under revision {story.revision} of the written procedure")


def _on(story: Story, stand: Standing) -> list[Step]:
    box = story.box_id is not None
    found = [
        _step(
            "told", "Everybody concerned told, before the locks go on", notes=story.told("told before"), done=stand.told
        ),
        _step("down", "Shut down, selector read", notes=story.told("shut down"), done=stand.shut_down),
        _step("set", "Each point in its safe state", missing=stand.unset, notes=story.told("point set")),
        _locks(story, stand),
    ]
    if box:
        keys = [f"key of lock {h.lock}" for h in stand.keys_out]
        text = f"Key of each point’s lock in {story.box}, box closed"
        found.append(_step("box", text, missing=keys, notes=story.told("box closed"), done=stand.box_closed))
    return found


def _locks(story: Story, stand: Standing) -> Step:
    last = max(story.points_on, key=lambda h: h.number, default=None)
    return Step(
        key="locks",
        state=NOT_YET if stand.unlocked else DONE,
        text="A lock on each point",
        missing=tuple(str(s) for s in stand.unlocked),
        who=", ".join(dict.fromkeys(h.owner.name for h in story.points_on)),
        at=last.on_at if last else None,
    )


def _tested(story: Story, stand: Standing) -> list[Step]:
    found = [
        _step("relieved", "Stored energy let off", missing=stand.unrelieved, notes=story.told("relieved")),
        _step(
            "tested",
            "Tested: no energy found, at each source",
            missing=stand.untested,
            notes=[n for n in story.told("tested") if not stand.untested],
        ),
    ]
    if story.box_id is not None:
        names = ", ".join(dict.fromkeys(h.owner.name for h in story.box_on))
        found.append(_step("personal", "Own lock of everybody who works on the box", done=bool(story.box_on)))
        found[-1] = Step(key="personal", state=found[-1].state, text=found[-1].text, who=names)
    return [*found, *_run(story, stand)]


def _run(story: Story, stand: Standing) -> list[Step]:
    notes = [n for n in story.notes if n.kind.startswith("test run")]
    if not notes:
        return []
    text = {
        Run.NONE: "Test run: everybody out, all locks off by their owners, then on again",
        Run.ASKED: "Test run asked for: everybody out, each owner takes off their lock",
        Run.RUNNING: "Test run under way: energy is on, nobody is protected",
    }[stand.run]
    return [_marked(_step("run", text, notes=notes), DONE if stand.run is Run.NONE else STOPS)]


def _later(story: Story) -> list[Step]:
    return [] if story.closed_at is not None else [_step("off", "Work done: each lock off, by its owner", done=False)]


def _off(story: Story) -> list[Step]:
    left = [f"lock {h.lock}, {h.owner.name}" for h in story.on]
    return [_step("off", "Each lock off, by its owner", missing=left)]


def _end(story: Story) -> list[Step]:
    told = story.told("told after")
    return [
        _step("closed", "Lockout closed", notes=story.told("closed"), done=story.closed_at is not None),
        _step(
            "after",
            "Everybody concerned told that the locks are off",
            missing=not_told(story) if told else (),
            notes=told,
            done=bool(told),
        ),
        _step(
            "available", "Operations take it back", notes=story.told("available"), done=bool(story.told("available"))
        ),
    ]
