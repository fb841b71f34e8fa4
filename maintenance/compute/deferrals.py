"""Deferrals: a second person agrees that a turn is done later, until a day before the next one is due."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from assets.compute.words import day_named
from maintenance.compute.turn import NEVER, Ended, Kind, Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Deferral:
    """The turn with the key `turn` may be done until `to_day`, approved on the site day `approved_on`.

    Raises ValueError where it is not approved by another person than the one who asked for it, or gives no reason.
    """

    key: str
    turn: str
    to_day: date
    approved_on: date
    approved_at: datetime
    requested_by: str
    approved_by: str
    because: str
    recorded_at: datetime

    def __post_init__(self) -> None:
        """Refuse what nobody else agreed to."""
        if not self.requested_by or not self.approved_by:
            raise ValueError("Deferral: it names who asked for it and who approved it.")
        if self.requested_by == self.approved_by:
            raise ValueError("Deferral: nobody approves what they asked for themselves.")
        if not self.because:
            raise ValueError("Deferral: it gives its reason.")


def refused(turn: Turn, to_day: date, on: date) -> str:
    """Why a turn cannot be deferred on a day until `to_day`, in one sentence; "" where it can."""
    if turn.ended is not Ended.OPEN or (turn.missed_from is not None and turn.missed_from <= on):
        return "It has ended, so there is nothing to put off."
    if turn.by_rule:
        return "A rule demands this interval; nobody at the plant can put it off."
    if turn.kind is Kind.READING:
        return "Reading the meter cannot be put off: what is due cannot be told without it."
    if turn.own_due == NEVER:
        return "It is not due by its meter yet, so there is nothing to put off."
    if to_day <= max(on, turn.own_due):
        return f"Give a day after {day_named(max(on, turn.own_due))}; it is due on {day_named(turn.own_due)}."
    if turn.missed_from is not None and to_day >= turn.missed_from:
        return f"The next one is due on {day_named(turn.missed_from)}; it can be put off until the day before at most."
    return ""


def deferrals_as_known(deferrals: Iterable[Deferral], at: datetime) -> tuple[Deferral, ...]:
    """Deferrals that were recorded by an instant."""
    return tuple(one for one in deferrals if one.recorded_at <= at)
