"""The state of a turn on a day: one word, and the days late, with what stops the work or puts it off.

The same word can be had from stored columns alone (`StoredTurn`, `state_of_row`), so that a list of due items is one
comparison in SQL.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from maintenance.compute.deferrals import Deferral
from maintenance.compute.moved import Moved, as_of_end, days_covered, moved, stopping
from maintenance.compute.stretches import ONE_DAY, Block
from maintenance.compute.turn import NEVER, Ended, Turn


class State(StrEnum):
    """State of a turn on one day, in the words of the screen."""

    NOT_YET = "not yet"
    CAN_BE_DONE = "can be done now"
    DUE = "due"
    LATE_ALLOWED = "late but allowed"
    OVERDUE = "overdue"
    DEFERRED = "deferred"
    BLOCKED = "blocked"
    DONE = "done"
    MISSED = "missed"
    WITHDRAWN = "withdrawn"


ASKED = frozenset({State.CAN_BE_DONE, State.DUE, State.LATE_ALLOWED, State.OVERDUE})
_ENDED = {Ended.DONE: State.DONE, Ended.MISSED: State.MISSED, Ended.WITHDRAWN: State.WITHDRAWN}


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """Something that must be so before the work can start: `because` says what it is and what was found."""

    met: bool
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnState:
    """A turn on one day. All counts are whole days and never negative.

    `due` and `latest` are the turn's own days, by date or by use, moved to the day of release where a block held the
    work up and to the day it was put off to. `days_late` counts from `due` and is 0 until `latest` is past.
    `days_after_due` and `days_after_allowed` count from the turn's own days, blocks or not; they stop when the turn
    ends. `blocked_days` are the days from the turn's own due day on which it could not be done. `overdue_when_blocked`:
    how late it already was when the block now on began. `deferred_until`: put off up to this day. `moved_late`: it was
    put off only when it was overdue, so it can no longer be on time. `because`: what stops the work today or why it is
    put off, what stopped it when it was missed, why it was withdrawn. `cannot_start`: what is not yet so, of work that
    is asked for.
    """

    state: State
    due: date
    latest: date
    days_late: int = 0
    days_after_due: int = 0
    days_after_allowed: int = 0
    blocked_days: int = 0
    overdue_when_blocked: int = 0
    because: str = ""
    deferred_until: date | None = None
    moved_late: bool = False
    cannot_start: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredTurn:
    """Columns of a stored turn. With a day they give its state, until another fact of the routine is recorded.

    `raw` is the turn's own due day; `due` and `latest` include the blocks released and the deferrals in effect so far.
    `blocked_from` is the first day the turn says blocked, None when nothing stops it; before that day it says not yet.
    `deferred_until`: put off up to this day. `use_earliest`, `use_due`, `use_latest` are the same days as without
    `use_`, as far as the meter tells them; None while no reading says so. Days that do not come are `NEVER`.
    """

    key: str
    raw: date
    due: date
    earliest: date
    latest: date
    blocked_from: date | None
    missed_from: date | None
    ended: Ended
    ended_on: date | None
    deferred_until: date | None = None
    use_earliest: date | None = None
    use_due: date | None = None
    use_latest: date | None = None


def state(
    turn: Turn, day: date, blocks: Sequence[Block] = (), deferrals: Sequence[Deferral] = (), needs: Sequence[Need] = ()
) -> TurnState:
    """State of `turn` on `day`.

    In this order: done, withdrawn, missed; blocked from the turn's own due day, "not yet" before it, while a block
    is on; deferred; overdue, late but allowed, due, can be done now, not yet, by date or by use whichever is worse.
    A block begun by the last allowed day moves the due day to its release; one begun later leaves the turn overdue. A
    turn demanded by a rule is never blocked by a lock, and never deferred. `needs` that are not met stop nothing; they
    say why it cannot be started. Leave out blocks that belong to the routine's own job.
    """
    row = stored_turn(turn, blocks, day, deferrals)
    word = state_of_row(row, day)
    felt = stopping(turn, blocks)
    end = day if turn.ended_on is None else min(day, turn.ended_on)
    if word is State.MISSED and turn.missed_from is not None:
        end = min(end, turn.missed_from)
    ended = word in _ENDED.values()
    now = moved(turn, as_of_end(felt, end) if ended else felt, deferrals, end)
    withdrawn = word is State.WITHDRAWN
    return TurnState(
        state=word,
        due=now.first_due,
        latest=now.last_allowed,
        days_late=_days_late(now, end) if word in (State.OVERDUE, State.DONE) else 0,
        days_after_due=0 if withdrawn else max(0, (end - turn.own_due).days),
        days_after_allowed=0 if withdrawn else max(0, (end - turn.own_latest).days),
        blocked_days=days_covered(felt, turn.own_due, end),
        overdue_when_blocked=_overdue_when_blocked(turn, felt, deferrals, day) if word is State.BLOCKED else 0,
        because=_because(turn, word, felt if ended else _said(turn, blocks), now, end),
        deferred_until=None if ended else now.until,
        moved_late=now.late,
        cannot_start="; ".join(need.because for need in needs if not need.met) if word in ASKED else "",
    )


def stored_turn(turn: Turn, blocks: Sequence[Block], day: date, deferrals: Sequence[Deferral] = ()) -> StoredTurn:
    """Columns to store for `turn` on `day`; good for that day and later ones until a fact, block or deferral changes.

    A deferral approved when the turn was overdue changes them once more on the day after (`next_change`).
    """
    felt = stopping(turn, blocks)
    running = [block for block in felt if block.covers(day)]
    now = moved(turn, felt, deferrals, day)
    blocked_from = max(turn.own_due, min(block.from_day for block in running)) if running else None
    return StoredTurn(
        key=turn.key,
        raw=turn.due,
        due=now.due,
        earliest=turn.earliest,
        latest=now.latest,
        blocked_from=blocked_from,
        missed_from=turn.missed_from,
        ended=turn.ended,
        ended_on=turn.ended_on,
        deferred_until=now.until,
        use_earliest=turn.use.earliest if turn.use else None,
        use_due=None if now.use_due == NEVER else now.use_due,
        use_latest=None if now.use_latest == NEVER else now.use_latest,
    )


def state_of_row(row: StoredTurn, day: date) -> State:
    """State on `day` from the stored columns alone; the comparison in SQL follows these lines in this order."""
    if row.ended is not Ended.OPEN and row.ended_on is not None and row.ended_on <= day:
        return _ENDED[row.ended]
    if row.missed_from is not None and row.missed_from <= day:
        return State.MISSED
    if row.blocked_from is not None:
        return State.BLOCKED if row.blocked_from <= day else State.NOT_YET
    if row.deferred_until is not None and day < row.deferred_until:
        return State.DEFERRED
    return _by_days(row, day)


def _by_days(row: StoredTurn, day: date) -> State:
    """State of an open turn that nothing stops: by its dates or by use, the worse of both."""
    if day > row.latest or (row.use_latest is not None and day > row.use_latest):
        return State.OVERDUE
    if day > row.due:
        return State.LATE_ALLOWED
    if day == row.due or (row.use_due is not None and day >= row.use_due):
        return State.DUE
    if day >= row.earliest or (row.use_earliest is not None and day >= row.use_earliest):
        return State.CAN_BE_DONE
    return State.NOT_YET


def _days_late(now: Moved, end: date) -> int:
    """Days since the due day, by its date or by use, that is past its last allowed one; 0 where neither is."""
    by_date = (end - now.due).days if end > now.latest else 0
    by_use = (end - now.use_due).days if end > now.use_latest else 0
    return max(by_date, by_use)


def _overdue_when_blocked(turn: Turn, felt: Sequence[Block], deferrals: Sequence[Deferral], day: date) -> int:
    """Days late on the day the oldest block now on began, 0 if it began in time."""
    began = min(block.from_day for block in felt if block.covers(day))
    return _days_late(moved(turn, felt, deferrals, began), began)


def _said(turn: Turn, blocks: Sequence[Block]) -> list[Block]:
    """Blocks that are named beside an open turn: those of a lock also where a rule demands the work in spite of it."""
    return [block for block in blocks if turn.while_running or not block.off]


def _because(turn: Turn, word: State, blocks: Sequence[Block], now: Moved, end: date) -> str:
    if word is State.WITHDRAWN:
        return turn.because
    if word is State.DONE:
        return ""
    if word is State.DEFERRED and now.by is not None:
        return now.by.because
    day = end - ONE_DAY if word is State.MISSED else end
    return ", ".join(dict.fromkeys(block.because for block in blocks if block.covers(day)))
