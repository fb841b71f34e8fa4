"""When a routine is due: the one formula behind every due date, in four questions.

`turns(facts, day)`: which turns the routine has, and how they ended.
`state(turn, day, blocks, deferrals)`: the word for one of them on a day; `stored_turn` and `state_of_row` say it by
columns.
`outcome(turn, blocks, deferrals)`: how an ended one counts in the figures.
`not_fulfilled(facts, day)`: whether the newest work on it failed or was not valid.
"""

from __future__ import annotations

from maintenance.compute.acts import ActFate, Fate, NotFulfilled, not_fulfilled
from maintenance.compute.deferrals import Deferral, deferrals_as_known, refused
from maintenance.compute.facts import (
    ENTERED_BY_MISTAKE,
    FAILED,
    NOT_VALID,
    STALE_DAYS,
    Act,
    Facts,
    Fitting,
    Metered,
    Retirement,
    Value,
)
from maintenance.compute.intervals import Allowance, Unit, add, days, percent, period_of
from maintenance.compute.outcomes import Kept, Outcome, outcome, share_kept
from maintenance.compute.replay import Replay, next_change, replay, turns
from maintenance.compute.season import Season
from maintenance.compute.states import (
    ASKED,
    Need,
    State,
    StoredTurn,
    TurnState,
    state,
    state_of_row,
    stored_turn,
)
from maintenance.compute.stretches import AlsoFulfils, Block, Pause, Run, blocks_as_known, off_stretches
from maintenance.compute.terms import Begin, ByUse, Limits, Mode, Term, judging
from maintenance.compute.turn import (
    BEFORE_USE,
    NEVER,
    NO_RECORD,
    OUTSIDE_LIMITS,
    READ_THE_METER,
    Ended,
    Kind,
    Turn,
)
from maintenance.compute.usage import Use

__all__ = [
    "ASKED",
    "BEFORE_USE",
    "ENTERED_BY_MISTAKE",
    "FAILED",
    "NEVER",
    "NOT_VALID",
    "NO_RECORD",
    "OUTSIDE_LIMITS",
    "READ_THE_METER",
    "STALE_DAYS",
    "Act",
    "ActFate",
    "Allowance",
    "AlsoFulfils",
    "Begin",
    "Block",
    "ByUse",
    "Deferral",
    "Ended",
    "Facts",
    "Fate",
    "Fitting",
    "Kept",
    "Kind",
    "Limits",
    "Metered",
    "Mode",
    "Need",
    "NotFulfilled",
    "Outcome",
    "Pause",
    "Replay",
    "Retirement",
    "Run",
    "Season",
    "State",
    "StoredTurn",
    "Term",
    "Turn",
    "TurnState",
    "Unit",
    "Use",
    "Value",
    "add",
    "blocks_as_known",
    "days",
    "deferrals_as_known",
    "judging",
    "next_change",
    "not_fulfilled",
    "off_stretches",
    "outcome",
    "percent",
    "period_of",
    "refused",
    "replay",
    "share_kept",
    "state",
    "state_of_row",
    "stored_turn",
    "turns",
]
