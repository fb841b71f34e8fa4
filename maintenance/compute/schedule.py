"""When a routine is due: the one formula behind every due date, in three questions.

`turns(facts, day)`: which turns the routine has, and how they ended.
`state(turn, day, blocks)`: the word for one of them on a day; `stored_turn` and `state_of_row` say it by columns.
`not_fulfilled(facts, day)`: whether the newest work on it failed or was not valid.
"""

from __future__ import annotations

from maintenance.compute.acts import ActFate, Fate, NotFulfilled, not_fulfilled
from maintenance.compute.facts import (
    ENTERED_BY_MISTAKE,
    FAILED,
    NOT_VALID,
    Act,
    Block,
    Facts,
    Fitting,
    Mode,
    Retirement,
    Term,
    blocks_as_known,
)
from maintenance.compute.intervals import Allowance, Unit, add, days, percent
from maintenance.compute.replay import Replay, next_change, replay, turns
from maintenance.compute.states import State, StoredTurn, TurnState, state, state_of_row, stored_turn
from maintenance.compute.turn import BEFORE_USE, NO_RECORD, Ended, Kind, Turn

__all__ = [
    "BEFORE_USE",
    "ENTERED_BY_MISTAKE",
    "FAILED",
    "NOT_VALID",
    "NO_RECORD",
    "Act",
    "ActFate",
    "Allowance",
    "Block",
    "Ended",
    "Facts",
    "Fate",
    "Fitting",
    "Kind",
    "Mode",
    "NotFulfilled",
    "Replay",
    "Retirement",
    "State",
    "StoredTurn",
    "Term",
    "Turn",
    "TurnState",
    "Unit",
    "add",
    "blocks_as_known",
    "days",
    "next_change",
    "not_fulfilled",
    "percent",
    "replay",
    "state",
    "state_of_row",
    "stored_turn",
    "turns",
]
