"""One turn of a routine: when it is due, the days allowed around it, and how it ended."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from maintenance.compute.facts import Term
from maintenance.compute.intervals import SHARE_OF_INTERVAL_OPEN_EARLY

NO_RECORD = "no record"
BEFORE_USE = "before use"


class Kind(StrEnum):
    """What a turn comes from; it decides which work closes it."""

    GRID = "grid"  # a day of a fixed grid
    FLOATING = "floating"  # an interval after an act
    ONCE = "once"  # a single demand, on one day and without tolerance


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
    grid, "after <act>", "before use <fitting>" or "no record". `due`, `earliest`, `latest` are plant-local days; a
    due day ends at midnight. `why` is "" for a regular turn, else "no record" or "before use". `missed_from` is the
    day from which the turn is missed if nothing closed it before: the next due day of a grid, None elsewhere.
    `ended_on` is the day it was done, missed or withdrawn, `by_act` the key of the act that closed it. `base` is
    the day a floating turn is counted from.
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

    @property
    def missed_since(self) -> date | None:
        """First day on which the turn stood as missed, None when it was not missed."""
        return self.ended_on if self.ended is Ended.MISSED else None

    @property
    def on_time(self) -> bool:
        """Whether it was done by its due day."""
        return self._done_by(self.due)

    @property
    def within_allowed(self) -> bool:
        """Whether it was done by its last allowed day."""
        return self._done_by(self.latest)

    def _done_by(self, day: date) -> bool:
        return self.ended is Ended.DONE and self.ended_on is not None and self.ended_on <= day

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
    return Turn(
        key=key,
        kind=kind,
        due=due,
        earliest=due - timedelta(days=early),
        latest=due + timedelta(days=late),
        by_rule=term.by_rule,
    )


def once(term: Term, key: str, day: date, *, why: str) -> Turn:
    """Single demand on `day`, for the reason `why`."""
    return Turn(key=key, kind=Kind.ONCE, due=day, earliest=day, latest=day, why=why, by_rule=term.by_rule)
