"""What still stops a lock from coming off, a test run, the end of a lockout, and the machine from being available.

Each function gives sentences; none means that nothing recorded stops it. Basis: 29 CFR 1910.147 (e)(1) to (e)(3),
(f)(1), (f)(3), second-hand. The 15 minutes are our own.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from assets.errors import Reason
from maintenance.compute.lockout import (
    PEOPLE,
    TOOLS,
    Fits,
    Foreign,
    Hung,
    Note,
    Run,
    Story,
    Who,
    fits,
    newest,
    run_of,
)

PEOPLE_OUT_COUNTS_FOR = dt.timedelta(minutes=15)


def field_of(number: int) -> str:
    """Name of the form field of a question, by its place in the list."""
    return f"q{number}"


def questions_of(story: Story) -> tuple[str, ...]:
    """The questions asked before a lock comes off: all of them for good, tools and people alone for a test run."""
    if run_of(story) is Run.ASKED:
        return (TOOLS, PEOPLE)
    return (*story.questions, TOOLS, PEOPLE)


def counts_after(story: Story, hung: Hung) -> int:
    """Number after which an answer counts for this lock.

    For a personal lock its own going on; for a lock whose key is in the box the newest lock of anyone, since work may
    have gone on after it. A test run makes every earlier answer void.
    """
    begun = story.last("test run begun")
    asked = story.last("test run asked") if run_of(story) is Run.ASKED else None
    own = hung.number if hung.is_personal else newest(h.number for h in story.hung)
    return newest([own, begun.number if begun else 0, asked.number if asked else 0])


def last_entry(story: Story) -> int:
    """Number of the last lock that went on: somebody may have gone in with it."""
    return newest(h.number for h in story.hung)


def answer_to(story: Story, topic: str, *, after: int, by: Who | None) -> Note | None:
    """The newest answer to a question given after a number, by one person or by anyone."""
    given = [
        n for n in story.told("answered") if n.topic == topic and n.number > after and (by is None or n.by.id == by.id)
    ]
    return max(given, key=lambda n: n.number, default=None)


def stops_by_answer(note: Note | None, topic: str) -> str:
    """Say why an answer does not do: not given, or no; "" when it is yes."""
    asked = topic.removesuffix("?")
    if note is None:
        return f"{asked}: not answered."
    return "" if note.answer == "yes" else f"{asked}: {note.by.name} answered no."


def stops_by_age(note: Note | None, topic: str, *, now: dt.datetime, entry: int) -> str:
    """Say why "people out" does not do: as any answer, or older than 15 minutes, or from before the last lock on."""
    sentence = stops_by_answer(note, topic)
    if sentence or note is None:
        return sentence
    if note.number < entry:
        return f"{topic}: {note.by.name} answered before the last lock went on; answer again, now."
    if now - note.recorded_at > PEOPLE_OUT_COUNTS_FOR:
        return f"{topic}: answered {_ago(note, now)} ago, older than 15 minutes; answer again, now."
    return ""


def stops_by(story: Story, topic: str, *, after: int, by: Who | None, now: dt.datetime) -> str:
    """Say why the newest answer to a question does not let a lock come off; "" when it does."""
    note = answer_to(story, topic, after=after, by=by)
    if topic == PEOPLE:
        return stops_by_age(note, topic, now=now, entry=last_entry(story))
    return stops_by_answer(note, topic)


def unanswered(story: Story, hung: Hung, *, now: dt.datetime) -> list[Reason]:
    """Questions that still stop this lock, each with its field."""
    after = counts_after(story, hung)
    by = hung.owner if hung.is_personal else None
    asked = ((n, stops_by(story, topic, after=after, by=by, now=now)) for n, topic in enumerate(questions_of(story), 1))
    return [Reason(sentence, field_of(number)) for number, sentence in asked if sentence]


def stops_off(story: Story, hung: Hung, *, by: int, now: dt.datetime) -> list[Reason]:
    """What stops a person from recording a lock as off: it is another's, the box is in use, an answer is missing."""
    if not hung.is_on:
        return [Reason(f"Lock {hung.lock} is recorded as off already.")]
    if by != hung.owner.id:
        return [Reason(f"Lock {hung.lock} is the lock of {hung.owner}. Nobody else can take it off.")]
    if not hung.is_personal and story.box_on:
        return [Reason(f"{still_on(h)} is still on {story.box}.") for h in story.box_on]
    return [*_misfit(story), *unanswered(story, hung, now=now)]


def _misfit(story: Story) -> list[Reason]:
    if fits(story) is not Fits.OPEN:
        return []
    return [Reason(f"Waiting for {story.in_charge} to answer for the plant: {fits_question(story)}", "fits")]


def fits_question(story: Story) -> str:
    """The question a swapped asset raises."""
    if story.fitted is None:
        return ""
    before = f"was written for {story.written_for}" if story.written_for else "names no asset"
    return (
        f"{story.fitted.name} is fitted; revision {story.revision} {before}. Does it still fit: "
        "no further source of energy, no heater, drive capacitor or flywheel?"
    )


def still_on(hung: Hung) -> str:
    """A lock with its owner and phone."""
    return f"{hung.lock} ({hung.owner})"


def shared(foreign: Iterable[Foreign]) -> list[Reason]:
    """Locks of other lockouts on shared points, each with whom to phone."""
    return [
        Reason(f"Lock {f.lock} of {f.owner} is on {f.point}, for lockout {f.lockout}; that job needs it off energy.")
        for f in foreign
    ]


def stops_asking(story: Story) -> list[Reason]:
    """What stops a test run from being asked for."""
    if story.closed_at is not None:
        return [Reason("This lockout is closed.")]
    if run_of(story) is not Run.NONE:
        return [Reason(f"A test run is {run_of(story)} already.")]
    if not story.points_on:
        return [Reason("No lock is on a point: there is nothing to take off for a test run.")]
    reasons = [*_misfit(story), *shared(story.foreign)]
    if fits(story) is Fits.NO:
        reasons.append(Reason("The procedure was said not to fit what is fitted; it is mended first.", "fits"))
    return reasons


def stops_running(story: Story, *, now: dt.datetime) -> list[Reason]:
    """What stops energy from going on for a test run: in the order of 29 CFR 1910.147 (f)(1), second-hand."""
    asked = story.last("test run asked")
    if asked is None or run_of(story) is not Run.ASKED:
        return [Reason("Ask for the test run first; then each owner takes off their lock.")]
    reasons = [Reason(f"{still_on(h)} is still on {h.place}.") for h in story.on]
    reasons += shared(story.foreign)
    answers = (stops_by(story, topic, after=asked.number, by=None, now=now) for topic in (TOOLS, PEOPLE))
    return [*reasons, *(Reason(sentence) for sentence in answers if sentence)]


def stops_closing(story: Story) -> list[Reason]:
    """What stops a lockout from being closed: a lock of its own on, a test run, an unanswered question."""
    if story.closed_at is not None:
        return [Reason("This lockout is closed already.")]
    if run_of(story) is not Run.NONE:
        return [Reason(f"A test run is {run_of(story)}; end it first.")]
    if story.on:
        return [Reason(f"{still_on(h)} is still on {h.place}.") for h in story.on]
    if not story.hung:
        return []
    begun = story.last("test run begun")
    after = newest([last_entry(story), begun.number if begun else 0])
    answers = (stops_by_answer(answer_to(story, t, after=after, by=None), t) for t in questions_of(story))
    return [*_misfit(story), *(Reason(sentence) for sentence in answers if sentence)]


def not_told(story: Story) -> list[str]:
    """Names of those who were told before the locks went on and not yet told that they are off."""
    before = dict.fromkeys(n.topic for n in story.told("told before"))
    after = {n.topic.casefold() for n in story.told("told after") if n.number > last_off(story)}
    return [name for name in before if name.casefold() not in after]


def last_off(story: Story) -> int:
    """Number of the last lock that came off."""
    return newest(h.off_number for h in story.hung)


def workers(story: Story) -> frozenset[int]:
    """Ids of the people who worked under this lockout: on the box hung a lock of theirs, or without one on a point."""
    return frozenset(h.owner.id for h in story.hung if (h.box_id is not None) == (story.box_id is not None))


def stops_available(story: Story, *, by: int, locks_of_anyone: Sequence[Foreign]) -> list[Reason]:
    """What stops operations from taking the machine back, the lines of the acceptance list apart."""
    if story.told("available"):
        return [Reason("It was accepted already.")]
    reasons = [] if story.closed_at is not None else [Reason(f"Lockout {story.number} is not closed.")]
    reasons += [
        Reason(f"Lock {f.lock} of {f.owner} is on {f.point}, for lockout {f.lockout}: the machine is not available.")
        for f in locks_of_anyone
    ]
    if fits(story) in {Fits.OPEN, Fits.NO}:
        said = "has not been answered" if fits(story) is Fits.OPEN else "was answered no"
        reasons.append(Reason(f"Whether the procedure fits what is fitted {said}.", "fits"))
    if story.hung:
        reasons += [
            Reason(f"{name} was told before and has not been told that the locks are off.") for name in not_told(story)
        ]
        if not story.told("told after"):
            reasons.append(Reason("Nobody has been told that the locks are off."))
    if by in workers(story):
        reasons.append(Reason("Whoever worked under this lockout does not accept it; another person does."))
    return reasons


def _ago(note: Note, now: dt.datetime) -> str:
    minutes = int((now - note.recorded_at).total_seconds() // 60)
    return f"{minutes} minutes" if minutes < 120 else f"{minutes // 60} hours"
