"""How a due item or a work order is said on a page: its word, its shape, the ink of both."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Protocol

from assets.compute.rounding import as_typed
from assets.compute.words import count_of, day_named
from maintenance.compute.schedule import NEVER, OUTSIDE_LIMITS, Ended, Season, State, StoredTurn, state_of_row


class Stored(Protocol):
    """Columns of a due item that its words are made of, as a row of the model or as a plain row of a list."""

    @property
    def turn(self) -> str: ...
    @property
    def raw(self) -> dt.date: ...
    @property
    def due(self) -> dt.date: ...
    @property
    def earliest(self) -> dt.date: ...
    @property
    def latest(self) -> dt.date: ...
    @property
    def blocked_from(self) -> dt.date | None: ...
    @property
    def missed_from(self) -> dt.date | None: ...
    @property
    def deferred_until(self) -> dt.date | None: ...
    @property
    def day_due(self) -> dt.date | None: ...
    @property
    def use_next(self) -> str: ...
    @property
    def use_now(self) -> str: ...
    @property
    def why(self) -> str: ...
    @property
    def because(self) -> str: ...
    @property
    def ended(self) -> str: ...
    @property
    def ended_on(self) -> dt.date | None: ...


@dataclass(frozen=True, slots=True)
class Shown:
    """A state as it is drawn: shape before word."""

    word: str
    shape: str
    ink: str = ""


_SHAPES: dict[State, tuple[str, str]] = {
    State.NOT_YET: ("notyet", ""),
    State.CAN_BE_DONE: ("cannow", ""),
    State.DUE: ("due", ""),
    State.LATE_ALLOWED: ("lateok", ""),
    State.OVERDUE: ("overdue", "bad"),
    State.DEFERRED: ("deferred", ""),
    State.BLOCKED: ("blocked", "still"),
    State.DONE: ("done", ""),
    State.MISSED: ("missed", "bad"),
    State.WITHDRAWN: ("withdrawn", ""),
}

_ORDER_SHAPES = {"under way": "underway"}


def order_state(state: str) -> Shown:
    """State of a work order."""
    return Shown(state.capitalize(), _ORDER_SHAPES.get(state, state))


def state_of(row: Stored, day: dt.date) -> State:
    """State of a stored due item on a day, by the one formula."""
    return state_of_row(
        StoredTurn(
            key=row.turn,
            raw=row.raw,
            due=row.due if row.day_due is None else row.day_due,
            earliest=row.earliest,
            latest=row.latest,
            blocked_from=row.blocked_from,
            missed_from=row.missed_from,
            ended=Ended(row.ended),
            ended_on=row.ended_on,
            deferred_until=row.deferred_until,
            use_due=None if row.day_due is None else row.due,
        ),
        day,
    )


def shown_as(row: Stored, state: State, day: dt.date) -> Shown:
    """Word and shape of a due item in the state that `state_of` gives it on a day."""
    shape, ink = _SHAPES[state]
    return Shown(_word(row, state, day), shape, ink)


def _word(row: Stored, state: State, day: dt.date) -> str:
    if state is State.OVERDUE:
        return f"Overdue {count_of((day - row.due).days, 'day')}"
    if state is State.DUE:
        return "Due before use" if row.why == "before use" else "Due today"
    if state is State.DEFERRED and row.deferred_until is not None:
        until = row.deferred_until
        return f"Deferred to {day_named(until)}"
    if state is State.BLOCKED:
        return f"Blocked because {row.because.split(',')[0] or 'stopped'}"
    if state is State.DONE and row.ended_on is not None and row.ended_on > row.latest:
        return f"Done, late by {count_of((row.ended_on - row.due).days, 'day')}"
    return state.value.capitalize()


def out_of_season(season: Season) -> Shown:
    """Word and shape of a routine of which nothing is owed now: out of season until 1 May."""
    words = season.off_words
    return Shown(f"{words[:1].upper()}{words[1:]}", *_SHAPES[State.NOT_YET])


def by_use(row: Stored) -> str:
    """What the meter says of a due item: "At 12,500 h; 12,310 h now"; '' where nothing is counted by use.

    Of one that a condition raised: what was seen, from what it was worked out, and what would be good.
    """
    if row.why == OUTSIDE_LIMITS:
        return f"{row.use_now}. Good is {row.use_next}." if row.use_now else ""
    if not row.use_next:
        return "Its meter was never read." if row.day_due is not None else ""
    return f"At {_grouped(row.use_next)}; {_grouped(row.use_now)} now." if row.use_now else f"At {row.use_next}."


def _grouped(total: str) -> str:
    number, _, unit = total.partition(" ")
    return f"{as_typed(number)} {unit}"


def due_day(row: Stored) -> dt.date | None:
    """The due day of an item; None where only its meter tells and does not yet."""
    return row.due if row.due < NEVER else None


def hours(minutes: int) -> str:
    """Minutes as hours and minutes: 0:45."""
    return f"{minutes // 60}:{minutes % 60:02d}"
