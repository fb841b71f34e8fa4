"""Stretches of days that bear on a routine: blocks, pauses, running time, and what else counts for it.

Each may have no end yet. Its beginning and its end are recorded one after the other, so that both can be asked as they
were known earlier. Days are plant-local dates, settled when they were recorded.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

ONE_DAY = timedelta(days=1)
NOT_RUNNING = "not running"


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Days on which the work cannot be done: `from_day` up to but without `to_day`, the day of release.

    `to_day` None: still so. A block put on and released on one day covers no day. The lock of the routine's own job
    is not a block; leave it out. `off`: nothing stops the work, but the unit does not run; it counts only for terms
    that say so. The recording times are only needed to ask what was known at an earlier time.
    Raises ValueError for a release before the beginning.
    """

    from_day: date
    to_day: date | None
    because: str
    recorded_at: datetime | None = None
    to_recorded_at: datetime | None = None
    off: bool = False

    def __post_init__(self) -> None:
        """Refuse a release before the beginning."""
        if self.to_day is not None and self.to_day < self.from_day:
            raise ValueError(f"Release: {self.to_day} is before the block began on {self.from_day}.")

    def covers(self, day: date) -> bool:
        """Whether the work cannot be done on `day`."""
        return self.from_day <= day and (self.to_day is None or day < self.to_day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pause:
    """Days on which nothing is owed at all, out of season or out of service: `from_day` up to but without `to_day`.

    `to_day` None: still so; it is the day of return. `key` is unique within the routine.
    Raises ValueError for a return before the beginning.
    """

    key: str
    from_day: date
    because: str
    recorded_at: datetime
    to_day: date | None = None
    to_recorded_at: datetime | None = None

    def __post_init__(self) -> None:
        """Refuse a return before the beginning."""
        if self.to_day is not None and self.to_day < self.from_day:
            raise ValueError(f"Return: {self.to_day} is before {self.from_day}, when it began.")

    def covers(self, day: date) -> bool:
        """Whether nothing is owed on `day`."""
        return self.from_day <= day and (self.to_day is None or day < self.to_day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A stretch in which the unit ran, from one instant to another (None: it still runs).

    `from_day` and `last_day` are the site days of the first and the last moment, both days on which it ran; a run that
    ends at midnight has the day before as its last.
    Raises ValueError for an end before the beginning, or an instant of the end without its day.
    """

    key: str
    from_at: datetime
    from_day: date
    recorded_at: datetime
    to_at: datetime | None = None
    last_day: date | None = None
    to_recorded_at: datetime | None = None

    def __post_init__(self) -> None:
        """Refuse an end before the beginning."""
        if (self.to_at is None) is not (self.last_day is None):
            raise ValueError("Stop: give the moment and its day, or neither.")
        if self.to_at is not None and self.to_at <= self.from_at:
            raise ValueError(f"Stop: {self.to_at} is not after the start at {self.from_at}.")
        if self.last_day is not None and self.last_day < self.from_day:
            raise ValueError(f"Stop: {self.last_day} is before {self.from_day}, when it started.")

    def ended_by(self, day: date) -> bool:
        """Whether it had stopped by the end of `day`."""
        return self.last_day is not None and self.last_day <= day


@dataclass(frozen=True, slots=True, kw_only=True)
class AlsoFulfils:
    """The work of another routine counts for this one: from `from_day` up to but without `to_day`. Always declared."""

    routine: str
    from_day: date
    recorded_at: datetime
    to_day: date | None = None
    to_recorded_at: datetime | None = None

    def covers(self, day: date) -> bool:
        """Whether work done on `day` counts."""
        return self.from_day <= day and (self.to_day is None or day < self.to_day)


def blocks_as_known(blocks: tuple[Block, ...], at: datetime) -> tuple[Block, ...]:
    """Blocks as they were known at `at`: without later ones, and still on where the release was recorded later."""
    known = (block for block in blocks if block.recorded_at is None or block.recorded_at <= at)
    return tuple(replace(block, to_day=None) if _ended_later(block, at) else block for block in known)


def pauses_as_known(pauses: Iterable[Pause], at: datetime) -> tuple[Pause, ...]:
    """Pauses as they were known at `at`."""
    known = (pause for pause in pauses if pause.recorded_at <= at)
    return tuple(replace(pause, to_day=None) if _ended_later(pause, at) else pause for pause in known)


def runs_as_known(runs: Iterable[Run], at: datetime) -> tuple[Run, ...]:
    """Running time as it was known at `at`."""
    known = (run for run in runs if run.recorded_at <= at)
    return tuple(replace(run, to_at=None, last_day=None) if _ended_later(run, at) else run for run in known)


def also_as_known(declared: Iterable[AlsoFulfils], at: datetime) -> tuple[AlsoFulfils, ...]:
    """Declarations as they were known at `at`."""
    known = (one for one in declared if one.recorded_at <= at)
    return tuple(replace(one, to_day=None) if _ended_later(one, at) else one for one in known)


def _ended_later(stretch: Block | Pause | Run | AlsoFulfils, at: datetime) -> bool:
    return stretch.to_recorded_at is not None and stretch.to_recorded_at > at


def running_days(runs: Iterable[Run], day: date, *, first: date) -> Iterator[date]:
    """Days from `first` on which the unit ran, each once, in order, as it stands on `day`.

    A unit that still runs on `day` is taken to run on, so this never ends then: its next turns are foreseen, and a stop
    takes them away again.
    """
    for run in sorted(runs, key=lambda run: (run.from_day, run.from_at, run.key)):
        if run.from_day > day:
            return
        first = max(first, run.from_day)
        while not run.ended_by(day) or (run.last_day is not None and first <= run.last_day):
            yield first
            first += ONE_DAY


def off_stretches(runs: Sequence[Run], *, first: date, because: str = NOT_RUNNING) -> tuple[Block, ...]:
    """Whole site days from `first` on which the unit did not run, as blocks that only some terms mind.

    A day with any running time is no such day. After the last run that ended the block has no release yet.
    """
    blocks: list[Block] = []
    said: datetime | None = None
    for run in sorted(runs, key=lambda run: (run.from_day, run.from_at, run.key)):
        if run.from_day > first:
            blocks.append(
                Block(
                    from_day=first,
                    to_day=run.from_day,
                    because=because,
                    recorded_at=said,
                    to_recorded_at=run.recorded_at,
                    off=True,
                )
            )
        if run.last_day is None:
            return tuple(blocks)
        if run.last_day >= first:
            first, said = run.last_day + ONE_DAY, run.to_recorded_at
    return (*blocks, Block(from_day=first, to_day=None, because=because, recorded_at=said, off=True))
