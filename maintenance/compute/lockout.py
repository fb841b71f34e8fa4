"""What the rows of a lockout mean: what is set, locked, let off and tested, and whether that still counts.

Order is told by the lockout's own numbers, never by clocks: each lock on, lock off, relief, test and run took the next
one. "Locked out" and "tested" are computed from them here and stored nowhere.

Basis of the rules: 29 CFR 1910.147 (c)(4), (d)(1) to (d)(6), (e)(1) to (e)(3), (f)(1) to (f)(3), second-hand. What the
plant's written procedure and the law of the place ask beyond that goes first.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

TOOLS = "Tools out and counted"
PEOPLE = "Everybody out and clear of the machine"
NONE_BECAUSE = "none, because"


@dataclass(frozen=True, slots=True)
class Who:
    """A person as a page names them: name and phone."""

    id: int
    name: str
    phone: str = ""

    def __str__(self) -> str:
        return f"{self.name}, {self.phone}" if self.phone else self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A line of the lockout: a source of energy, its isolation point or its relief, and the test of its absence.

    `added_number` is 0 for what was copied from the procedure at the start, else the number of the act that added it.
    """

    id: int
    number: int
    energy: str
    point_id: int | None
    point: str
    safe_state: str
    relief: str
    test: str
    added_number: int = 0

    @property
    def stores_energy(self) -> bool:
        """Whether something has to be let off, blocked or discharged: the relief is not 'none, because ...'."""
        return not self.relief.casefold().startswith(NONE_BECAUSE)

    def __str__(self) -> str:
        return f"{self.point}, {self.energy}" if self.point else self.energy


@dataclass(frozen=True, slots=True, kw_only=True)
class Hung:
    """One lock on one point or box, with the numbers of its going on, its key going into the box, its coming off."""

    id: int
    number: int
    lock_id: int
    lock: str
    owner: Who
    point_id: int | None
    box_id: int | None
    place: str
    on_at: dt.datetime
    key_in: int | None = None
    off_number: int | None = None
    off_at: dt.datetime | None = None
    recorded_at: dt.datetime | None = None

    @property
    def is_on(self) -> bool:
        """Whether its owner has not recorded it as off."""
        return self.off_number is None

    @property
    def is_personal(self) -> bool:
        """Whether it protects its owner directly: on the box, or on a point with its key in the owner's pocket."""
        return self.key_in is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One line of the log."""

    number: int
    kind: str
    by: Who
    at: dt.datetime
    recorded_at: dt.datetime
    topic: str = ""
    answer: str = ""
    text: str = ""
    source_id: int | None = None
    fitting_id: int | None = None
    tester: str = ""


@dataclass(frozen=True, slots=True)
class Fitted:
    """The asset that is fitted, by which fitting."""

    fitting_id: int
    asset_id: int
    name: str


@dataclass(frozen=True, slots=True)
class Foreign:
    """A lock of another lockout on a point this one uses too."""

    lock: str
    owner: Who
    point: str
    lockout: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """Everything recorded of one lockout, as of one moment.

    `questions` are the procedure's own, asked before locks come off for good; `acceptance` its lines at acceptance.
    `runs_elsewhere`: points of this lockout that a test run of another lockout keeps energized, with its number.
    """

    number: int
    tag: str
    revision: int
    in_charge: Who
    in_charge_may: bool
    box_id: int | None
    box: str
    written_for_id: int | None
    written_for: str
    fitted: Fitted | None
    withdrawn_because: str
    questions: tuple[str, ...]
    acceptance: tuple[str, ...]
    sources: tuple[Source, ...]
    hung: tuple[Hung, ...]
    notes: tuple[Note, ...]
    foreign: tuple[Foreign, ...] = ()
    runs_elsewhere: tuple[tuple[int, int], ...] = ()
    closed_at: dt.datetime | None = None

    @property
    def on(self) -> tuple[Hung, ...]:
        """Locks that are recorded as on."""
        return tuple(h for h in self.hung if h.is_on)

    @property
    def points_on(self) -> tuple[Hung, ...]:
        """Locks on isolation points."""
        return tuple(h for h in self.on if h.point_id is not None)

    @property
    def box_on(self) -> tuple[Hung, ...]:
        """Personal locks on the box."""
        return tuple(h for h in self.on if h.box_id is not None)

    @property
    def points(self) -> tuple[Source, ...]:
        """Sources that are cut off at an isolation point."""
        return tuple(s for s in self.sources if s.point_id is not None)

    def told(self, kind: str) -> tuple[Note, ...]:
        """Lines of the log of one kind, oldest first."""
        return tuple(n for n in self.notes if n.kind == kind)

    def first(self, kind: str) -> Note | None:
        """The oldest line of the log of one kind: how something was found before anybody touched it."""
        return min(self.told(kind), key=lambda n: n.number, default=None)

    def last(self, kind: str) -> Note | None:
        """The newest line of the log of one kind."""
        return max(self.told(kind), key=lambda n: n.number, default=None)


def newest(numbers: Iterable[int | None]) -> int:
    """Return the highest number, 0 for none."""
    return max((n for n in numbers if n is not None), default=0)


class Run(StrEnum):
    """Where a test run stands: an interval with energy on and nobody protected."""

    NONE = "none"
    ASKED = "asked for"
    RUNNING = "under way"


def run_of(story: Story) -> Run:
    """Tell where the test run stands: the newest of asked, begun and ended decides."""
    kinds = {"test run asked": Run.ASKED, "test run begun": Run.RUNNING, "test run ended": Run.NONE}
    turns = [n for n in story.notes if n.kind in kinds]
    return kinds[max(turns, key=lambda n: n.number).kind] if turns else Run.NONE


def run_over_limit(story: Story, now: dt.datetime) -> bool:
    """Whether a test run lasts longer than was said when it began (its line holds the minutes)."""
    begun = story.last("test run begun")
    if begun is None or run_of(story) is not Run.RUNNING:
        return False
    return now > begun.recorded_at + dt.timedelta(minutes=int(begun.topic))


def energized_number(story: Story, source: Source | None = None) -> int:
    """Number of the last act that may have let energy in, at one source or at any; 0 if none.

    A test run begun, a lock off a point, a point moved or freed by another job that shares it.
    """
    runs = [n.number for n in story.told("test run begun")]
    released = [n.number for n in story.told("point released") if source is None or n.source_id == source.id]
    off = [h.off_number for h in story.hung if _at(h, source)]
    return newest([*runs, *released, *off])


def _at(hung: Hung, source: Source | None) -> bool:
    return hung.point_id is not None and (source is None or hung.point_id == source.point_id)


def is_set(story: Story, source: Source) -> bool:
    """Whether the point is recorded in its safe state, after energy last came in at that point."""
    after = energized_number(story, source)
    return any(n.source_id == source.id and n.number > after for n in story.told("point set"))


def is_locked(story: Story, source: Source) -> bool:
    """Whether a lock of this lockout is on the source's point."""
    return any(h.point_id == source.point_id for h in story.points_on)


def is_relieved(story: Story, source: Source) -> bool:
    """Whether stored energy was let off after energy last came in; true where none is stored."""
    if not source.stores_energy:
        return True
    after = max(energized_number(story), source.added_number)
    return any(n.source_id == source.id and n.number > after for n in story.told("relieved"))


def voids_tests(story: Story) -> int:
    """Number of the last act after which the tests must be made again.

    That is the newest of: a lock on a point or off it, a point set, a relief, a point added, a test run, an answer that
    the procedure does not fit. A personal lock on the box voids nothing. 29 CFR 1910.147 (d)(6), (f)(1), second-hand.
    """
    kinds = {"point set", "relieved", "test run begun", "test run ended"}
    misfit = [n.number for n in story.told("fits") if n.answer == "no"]
    return newest(
        [
            energized_number(story),
            *(h.number for h in story.points_on),
            *(n.number for n in story.notes if n.kind in kinds),
            *(s.added_number for s in story.sources),
            *misfit,
        ]
    )


def test_of(story: Story, source: Source) -> Note | None:
    """The test of a source that counts now, or None."""
    after = voids_tests(story)
    tests = [n for n in story.told("tested") if n.source_id == source.id and n.number > after]
    return max(tests, key=lambda n: n.number, default=None)


def box_is_closed(story: Story) -> bool:
    """Whether the box is closed over the key of a lock on every point (29 CFR 1910.147 (f)(3), second-hand)."""
    closed = story.last("box closed")
    if story.box_id is None or closed is None or not all(is_locked(story, s) for s in story.points):
        return False
    points = [h for h in story.hung if h.point_id is not None]
    if any(h.is_on and h.key_in is None for h in points):
        return False
    return closed.number > newest(n for h in points for n in (h.number, h.key_in, h.off_number))


class Fits(StrEnum):
    """Whether the procedure was said to fit the asset that is fitted now."""

    NOT_ASKED = "not asked"
    OPEN = "open"
    YES = "yes"
    NO = "no"


def fits(story: Story) -> Fits:
    """Tell whether the procedure fits what is fitted: asked whenever another asset than it was written for is in.

    An answer counts for the fitting it was given for; the next swap opens the question again.
    """
    if story.fitted is None or story.fitted.asset_id == story.written_for_id:
        return Fits.NOT_ASKED
    answers = [n for n in story.told("fits") if n.fitting_id == story.fitted.fitting_id]
    last = max(answers, key=lambda n: n.number, default=None)
    return Fits.OPEN if last is None else Fits(last.answer)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What a lockout amounts to now. The lists name what is missing; empty lists mean that nothing is.

    `locked`: a lock on every point. `verified`: told, down, set, locked, let off and tested since the last change, and
    the procedure was not said to misfit. `protected`: who has a lock of their own between them and every source.
    `may_work`: those of them, while it is verified, no test run is asked for and somebody is in charge.
    """

    told: bool
    shut_down: bool
    unset: tuple[Source, ...]
    unlocked: tuple[Source, ...]
    unrelieved: tuple[Source, ...]
    keys_out: tuple[Hung, ...]
    box_closed: bool
    untested: tuple[Source, ...]
    run: Run
    fits: Fits
    protected: tuple[Who, ...]
    verified: bool
    verified_by: Note | None
    may_work: tuple[Who, ...]

    @property
    def locked(self) -> bool:
        """Whether every isolation point carries a lock of this lockout."""
        return not self.unlocked


def protected_people(story: Story) -> tuple[Who, ...]:
    """People with an own lock on the closed box, or, where no box is used, with one on every point."""
    if story.box_id is not None:
        return tuple(dict.fromkeys(h.owner for h in story.box_on)) if box_is_closed(story) else ()
    needed = {s.point_id for s in story.points}
    owners = dict.fromkeys(h.owner for h in story.points_on)
    return tuple(o for o in owners if needed and needed <= {h.point_id for h in story.points_on if h.owner == o})


def standing(story: Story) -> Standing:
    """Work out what a lockout amounts to from what was recorded of it."""
    unset = tuple(s for s in story.points if not is_set(story, s))
    unlocked = tuple(s for s in story.points if not is_locked(story, s))
    unrelieved = tuple(s for s in story.sources if not is_relieved(story, s))
    tests = [test_of(story, s) for s in story.sources]
    untested = tuple(s for s, test in zip(story.sources, tests, strict=True) if test is None)
    told, down = bool(story.told("told before")), bool(story.told("shut down"))
    complete = told and down and bool(story.points) and not (unset or unlocked or unrelieved or untested)
    run, fit = run_of(story), fits(story)
    verified = complete and run is not Run.RUNNING and fit is not Fits.NO and story.closed_at is None
    protected = protected_people(story)
    working = verified and run is Run.NONE and story.in_charge_may and not story.withdrawn_because
    return Standing(
        told=told,
        shut_down=down,
        unset=unset,
        unlocked=unlocked,
        unrelieved=unrelieved,
        keys_out=tuple(h for h in story.points_on if h.key_in is None) if story.box_id is not None else (),
        box_closed=box_is_closed(story),
        untested=untested,
        run=run,
        fits=fit,
        protected=protected,
        verified=verified,
        verified_by=max((t for t in tests if t), key=lambda t: t.number, default=None) if verified else None,
        may_work=protected if working else (),
    )
