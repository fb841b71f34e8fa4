"""One turn of a routine: when it is due, the days allowed around it, and how it ended."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from fractions import Fraction

from maintenance.compute.intervals import SHARE_OF_INTERVAL_OPEN_EARLY
from maintenance.compute.terms import Mode, Term
from maintenance.compute.usage import Use

NO_RECORD = "no record"
BEFORE_USE = "before use"
OUTSIDE_LIMITS = "outside its limits"
READ_THE_METER = "read the meter"
NEVER = date.max  # a day that does not come: what is due by use alone has no due day


class Kind(StrEnum):
    """What a turn comes from; it decides which work closes it."""

    GRID = "grid"  # a day of a fixed grid, a calendar period, a day on which the unit runs
    FLOATING = "floating"  # an interval, or so much use, after an act
    ONCE = "once"  # a single demand without tolerance
    READING = "reading"  # a meter to be read; no work closes it, a reading does


class Ended(StrEnum):
    """How a turn ended, as far as acts and facts say; `open` may have become missed by time alone."""

    OPEN = "open"
    DONE = "done"
    MISSED = "missed"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """One turn of a routine, before any block is taken into account.

    `key` is unique within the routine and stays the same when facts are corrected: the due day in ISO form on a
    grid, "after <act>", "before use <fitting>", "before use from <pause>", "no record", "seen <value>" or "read the
    meter <day>". `due`, `earliest`, `latest` are plant-local days; a due day ends at midnight; all three are `NEVER`
    where use alone decides. `why` is "" for a regular turn, else the reason of a single demand. `missed_from` is the
    day from which the turn is missed if nothing closed it before: the next due day of a fixed grid, the day after a
    period or a day of running, None elsewhere. `ended_on` is the day it was done, missed or withdrawn, `by_act` the
    key of the act that closed it. `base` is the day a floating turn is counted from. `while_running`: owed only while
    the unit runs. `spacing`: least days since the work before. `use`: what is counted by use; `used` the total at
    which it was done. `seen`, `good`: the value that a condition saw and what would have been good, in words;
    `good_until`: the day on which other terms came while it was owed, None where those it was raised under still hold.
    """

    key: str
    kind: Kind
    due: date
    earliest: date
    latest: date
    why: str = ""
    by_rule: bool = False
    missed_from: date | None = None
    base: date | None = None
    ended: Ended = Ended.OPEN
    ended_on: date | None = None
    by_act: str = ""
    because: str = ""
    while_running: bool = False
    spacing: int = 0
    use: Use | None = None
    used: Fraction | None = None
    seen: str = ""
    good: str = ""
    good_until: date | None = None

    @property
    def own_due(self) -> date:
        """Its own due day, before any block or deferral: by its date or by use, whichever is first."""
        by_use = self.use.due if self.use else None
        return min(self.due, by_use or NEVER)

    @property
    def own_latest(self) -> date:
        """Its own last allowed day, before any block or deferral."""
        by_use = self.use.latest if self.use else None
        return min(self.latest, by_use or NEVER)

    @property
    def missed_since(self) -> date | None:
        """First day on which the turn stood as missed, None when it was not missed."""
        return self.ended_on if self.ended is Ended.MISSED else None

    @property
    def on_time(self) -> bool:
        """Whether it was done by its due day and by the total at which it was due."""
        return self._done_by(self.due) and self._done_at(Fraction(0))

    @property
    def within_allowed(self) -> bool:
        """Whether it was done by its last allowed day and total."""
        return self._done_by(self.latest) and self._done_at(self.use.late if self.use else Fraction(0))

    def _done_by(self, day: date) -> bool:
        return self.ended is Ended.DONE and self.ended_on is not None and self.ended_on <= day

    def _done_at(self, allowed: Fraction) -> bool:
        if self.use is None or self.use.next_at is None or self.used is None:
            return True
        return self.used <= self.use.next_at + allowed

    def end(self, how: Ended, on: date, *, by_act: str = "", because: str = "") -> Turn:
        """Return the turn as ended."""
        return replace(self, ended=how, ended_on=on, by_act=by_act, because=because)


def regular(term: Term, key: str, due: date, *, period_days: int, kind: Kind) -> Turn:
    """Turn due on `due` with the days that `term` allows around it, for a period of `period_days` days.

    It opens at most a quarter of the period early. A routine demanded by a rule has no days allowed after the due
    day, whatever its term says. Percentages are rounded down.
    """
    early = min(term.early.days(period_days), period_days // SHARE_OF_INTERVAL_OPEN_EARLY)
    late = 0 if term.by_rule else term.late.days(period_days)
    return within(term, key, due, first=due - timedelta(days=early), last=due + timedelta(days=late), kind=kind)


def within(term: Term, key: str, due: date, *, first: date, last: date, kind: Kind) -> Turn:
    """Turn due on `due` that can be done from `first` on and is allowed until `last`."""
    return Turn(
        key=key,
        kind=kind,
        due=due,
        earliest=first,
        latest=last,
        by_rule=term.by_rule,
        while_running=term.while_running,
        spacing=term.spacing,
    )


def by_use_alone(term: Term, key: str) -> Turn:
    """Turn without a due day."""
    return within(term, key, NEVER, first=NEVER, last=NEVER, kind=Kind.FLOATING)


def once(term: Term, key: str, day: date, *, why: str, seen: date | None = None) -> Turn:
    """Single demand on `day`, for the reason `why`; it can be done since it was seen."""
    turn = within(term, key, day, first=seen or day, last=day, kind=Kind.ONCE)
    return replace(turn, why=why, spacing=0)


def has_dates(term: Term) -> bool:
    """Whether work done under the term makes the next turn due on a day."""
    return term.mode is not Mode.USAGE
