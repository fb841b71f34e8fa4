"""The turns of a routine while its history is replayed, and what every event does with them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date

from maintenance.compute.acts import ActFate, Counted, Fate
from maintenance.compute.facts import Facts
from maintenance.compute.grid import Coming
from maintenance.compute.intervals import add
from maintenance.compute.stretches import ONE_DAY
from maintenance.compute.terms import Term
from maintenance.compute.turn import Ended, Kind, Turn, by_use_alone, has_dates, regular
from maintenance.compute.usage import settled, total_at, use_from


@dataclass(slots=True, kw_only=True)
class Book:
    """Turns while the history is replayed. Grid turns wait in `grid` until their window opens.

    `newest` is the newest work that counts. `owes_before_use`: a pause took a turn out, so that a check is owed on
    return.
    """

    facts: Facts
    grid: Coming
    bench: list[Counted]
    turns: dict[str, Turn] = field(default_factory=dict)
    open_keys: list[str] = field(default_factory=list)
    fates: dict[str, ActFate] = field(default_factory=dict)
    newest: Counted | None = None
    owes_before_use: bool = False

    def add(self, turn: Turn) -> None:
        """Put an open turn in."""
        self.turns[turn.key] = turn
        self.open_keys.append(turn.key)

    def put(self, turn: Turn) -> None:
        """Put a turn in its new form in place of the old one."""
        self.turns[turn.key] = turn
        if turn.ended is not Ended.OPEN:
            self.open_keys.remove(turn.key)

    def open(self, *kinds: Kind) -> list[Turn]:
        """Open turns of these kinds, the oldest due first."""
        found = [self.turns[key] for key in self.open_keys]
        return sorted((turn for turn in found if turn.kind in kinds), key=lambda turn: (turn.due, turn.key))

    def settle(self, day: date) -> None:
        """Open the grid turns whose window has come by `day`, end those whose successor is due."""
        coming = self.grid.turns
        while coming and coming[0].earliest <= day:
            self.add(coming.pop(0))
        for turn in self.open(Kind.GRID):
            if turn.missed_from is not None and turn.missed_from <= day:
                self.put(turn.end(Ended.MISSED, turn.missed_from))

    def close(self, closed: list[Turn], by: Counted) -> None:
        """End turns as done by an act; an act that ends none was extra work."""
        for turn in closed:
            done = turn.end(Ended.DONE, by.act.day, by_act=by.act.key)
            used = total_at(self.facts.metered, turn.use.asset, by.act.performed_at) if turn.use else None
            self.put(replace(done, used=used))
        keys = tuple(turn.key for turn in closed)
        word = Fate.CLOSED if keys else Fate.EXTRA
        self.fates[by.act.key] = ActFate(act=by.act.key, fate=word, turns=keys)
        if closed:
            self.keep_apart(by.act.day)

    def keep_apart(self, done: date) -> None:
        """Open the coming turns of periods no earlier than their least days after the day it was done.

        On its last day a period can always be met: work that only answered another demand, or new terms, may have left
        no other day.
        """

        def later(turn: Turn) -> Turn:
            first = done + turn.spacing * ONE_DAY
            return replace(turn, earliest=min(max(turn.earliest, first), turn.due)) if turn.spacing else turn

        self.grid.turns[:] = [later(turn) for turn in self.grid.turns]
        for turn in self.open(Kind.GRID):
            self.put(later(turn))

    def follow(self, act: Counted, term: Term, *, today: date, not_before: date = date.min) -> None:
        """Add the turn that follows an act done under `term`, due on `not_before` at the earliest.

        In a pause that covers its due day too nothing follows but the check on return; nor does what is counted by use,
        for it may fall due on any day.
        """
        key = f"after {act.original}"
        turn = by_use_alone(term, key)
        if has_dates(term):
            due = add(act.act.day, term.every, term.unit)
            period = (due - act.act.day).days
            turn = regular(term, key, max(due, not_before), period_days=period, kind=Kind.FLOATING)
        if term.counted_use is not None:
            at, metered = act.act.performed_at, self.facts.metered
            use = use_from(term.counted_use, metered, at, asset=act.asset, not_before=not_before)
            turn = replace(turn, use=use)
        on = [pause for pause in self.facts.all_pauses(today) if pause.covers(today)]
        if any(turn.use is not None or pause.covers(turn.due) for pause in on):
            self.owes_before_use = True
        else:
            self.add(replace(turn, base=act.act.day))

    def with_use(self, turn: Turn, day: date) -> Turn:
        """Return the turn with what the meter says of it by `day`."""
        return replace(turn, use=settled(turn.use, self.facts.metered, day)) if turn.use else turn


Event = Callable[[Book], None]
