"""The state of a turn on a day: one word, and the days late, with what stops the work taken into account.

The same word can be had from stored columns alone (`StoredTurn`, `state_of_row`), so that a list of due items is one
comparison in SQL. A deferral will move `due` and `latest` in `_moved` as a release does, and add its own word.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from maintenance.compute.facts import Block
from maintenance.compute.turn import Ended, Turn


class State(StrEnum):
    """State of a turn on one day, in the words of the screen."""

    NOT_YET = "not yet"
    CAN_BE_DONE = "can be done now"
    DUE = "due"
    LATE_ALLOWED = "late but allowed"
    OVERDUE = "overdue"
    BLOCKED = "blocked"
    DONE = "done"
    MISSED = "missed"
    WITHDRAWN = "withdrawn"


_ENDED = {Ended.DONE: State.DONE, Ended.MISSED: State.MISSED, Ended.WITHDRAWN: State.WITHDRAWN}


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnState:
    """A turn on one day. All counts are whole days and never negative.

    `due` and `latest` are the turn's own days, moved to the day of release where a block held the work up.
    `days_late` counts from `due` and is 0 until `latest` is past. `days_after_due` and `days_after_allowed` count
    from the turn's own days, blocks or not; they stop when the turn ends. `blocked_days` are the days from the
    turn's own due day on which it could not be done. `overdue_when_blocked`: how late it already was when the block
    now on began. `because`: what stops the work today, what stopped it when it was missed, why it was withdrawn.
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


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredTurn:
    """Columns of a stored turn. With a day they give its state, until another fact of the routine is recorded.

    `raw` is the turn's own due day; `due` and `latest` include the blocks released so far. `blocked_from` is the
    first day the turn says blocked, None when nothing stops it; before that day it says not yet.
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


def state(turn: Turn, day: date, blocks: Sequence[Block] = ()) -> TurnState:
    """State of `turn` on `day`.

    In this order: done, withdrawn, missed; blocked from the turn's own due day, "not yet" before it, while a block
    is on; overdue, late but allowed, due, can be done now, not yet. A block begun by the last allowed day moves the
    due day to its release; one begun later leaves the turn overdue. A turn demanded by a rule is never blocked.
    Leave out blocks that belong to the routine's own job.
    """
    row = stored_turn(turn, blocks, day)
    word = state_of_row(row, day)
    stopping = _stopping(turn, blocks)
    end = day if turn.ended_on is None else min(day, turn.ended_on)
    if word is State.MISSED and turn.missed_from is not None:
        end = min(end, turn.missed_from)
    ended = word in _ENDED.values()
    due, latest = _moved(turn, _as_of_end(stopping, end)) if ended else (row.due, row.latest)
    late = word is State.OVERDUE or (word is State.DONE and end > latest)
    withdrawn = word is State.WITHDRAWN
    return TurnState(
        state=word,
        due=due,
        latest=latest,
        days_late=(end - due).days if late else 0,
        days_after_due=0 if withdrawn else max(0, (end - turn.due).days),
        days_after_allowed=0 if withdrawn else max(0, (end - turn.latest).days),
        blocked_days=_days_covered(stopping, turn.due, end),
        overdue_when_blocked=_overdue_when_blocked(turn, stopping, day) if word is State.BLOCKED else 0,
        because=_because(turn, word, blocks if not ended else stopping, end),
    )


def stored_turn(turn: Turn, blocks: Sequence[Block], day: date) -> StoredTurn:
    """Columns to store for `turn` on `day`; good for that day and later ones until a fact or a block changes."""
    stopping = _stopping(turn, blocks)
    running = [block for block in stopping if block.covers(day)]
    due, latest = _moved(turn, [block for block in stopping if block.to_day is not None and block.to_day <= day])
    blocked_from = max(turn.due, min(block.from_day for block in running)) if running else None
    return StoredTurn(
        key=turn.key,
        raw=turn.due,
        due=due,
        earliest=turn.earliest,
        latest=latest,
        blocked_from=blocked_from,
        missed_from=turn.missed_from,
        ended=turn.ended,
        ended_on=turn.ended_on,
    )


def state_of_row(row: StoredTurn, day: date) -> State:
    """State on `day` from the stored columns alone; the comparison in SQL follows these lines in this order."""
    if row.ended is not Ended.OPEN and row.ended_on is not None and row.ended_on <= day:
        return _ENDED[row.ended]
    if row.missed_from is not None and row.missed_from <= day:
        return State.MISSED
    if row.blocked_from is not None:
        return State.BLOCKED if row.blocked_from <= day else State.NOT_YET
    if day > row.latest:
        return State.OVERDUE
    if day > row.due:
        return State.LATE_ALLOWED
    if day == row.due:
        return State.DUE
    return State.CAN_BE_DONE if day >= row.earliest else State.NOT_YET


def _stopping(turn: Turn, blocks: Sequence[Block]) -> list[Block]:
    """Blocks that stop the turn, in the order they began; a block within one day stops nothing."""
    if turn.by_rule:
        return []
    return sorted((b for b in blocks if b.to_day != b.from_day), key=lambda block: block.from_day)


def _as_of_end(blocks: Sequence[Block], end: date) -> list[Block]:
    """Blocks begun before `end`, the day the turn ended, those still on as if released then."""
    begun = [block for block in blocks if block.from_day < end]
    return [replace(b, to_day=end) if b.to_day is None or b.to_day > end else b for b in begun]


def _moved(turn: Turn, released: Sequence[Block]) -> tuple[date, date]:
    """Due and last allowed day after blocks that are over: a block begun in time moves them to its release."""
    due, latest = turn.due, turn.latest
    for block in released:
        if block.to_day is not None and block.from_day <= latest and block.to_day > due:
            due, latest = block.to_day, max(latest, block.to_day)
    return due, latest


def _days_covered(blocks: Sequence[Block], start: date, end: date) -> int:
    """Days from `start` up to but without `end` on which any block was on; `blocks` in the order they began."""
    days, counted_to = 0, start
    for block in blocks:
        begin = max(block.from_day, counted_to)
        stop = end if block.to_day is None else min(block.to_day, end)
        if stop > begin:
            days += (stop - begin).days
            counted_to = stop
    return days


def _overdue_when_blocked(turn: Turn, stopping: Sequence[Block], day: date) -> int:
    """Days late on the day the oldest block now on began, 0 if it began in time."""
    began = min(block.from_day for block in stopping if block.covers(day))
    due, latest = _moved(turn, [block for block in stopping if block.to_day is not None and block.to_day <= began])
    return (began - due).days if began > latest else 0


def _because(turn: Turn, word: State, blocks: Sequence[Block], end: date) -> str:
    if word is State.WITHDRAWN:
        return turn.because
    if word is State.DONE:
        return ""
    day = end - timedelta(days=1) if word is State.MISSED else end
    return ", ".join(dict.fromkeys(block.because for block in blocks if block.covers(day)))
