"""The due-date formula: the facts of a routine, replayed in the order things happened, give its turns.

The order of recording plays no part. Facts happen in this order within a day: new terms, then what was fitted and
done by the clock (fitted before done at one instant), then the end of the routine. A further trigger brings its
turns (as `grid_turns` does) or an event of its own, and its rule of what an act closes (`_CLOSES`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from maintenance.compute.acts import ActFate, Counted, Fate, sort_acts
from maintenance.compute.facts import Facts, Fitting, InForce, Mode, Term
from maintenance.compute.grid import grid_turns
from maintenance.compute.intervals import add
from maintenance.compute.turn import BEFORE_USE, NO_RECORD, Ended, Kind, Turn, once, regular

TAKEN_OUT = "asset taken out"
ROUTINE_CHANGED = "routine changed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Replay:
    """Turns in order of due day, and what became of each act performed so far."""

    turns: tuple[Turn, ...]
    fates: tuple[ActFate, ...]


def turns(facts: Facts, day: date, *, known_at: datetime | None = None, until: date | None = None) -> tuple[Turn, ...]:
    """Turns of a routine as they stand on `day`. See `replay`."""
    return replay(facts, day, known_at=known_at, until=until).turns


def replay(facts: Facts, day: date, *, known_at: datetime | None = None, until: date | None = None) -> Replay:
    """Turns of a routine, and the fate of its acts, as they stand on `day`.

    Later events are left out; so is what was recorded after `known_at` (None: all is known). Turns of a grid are
    listed up to the first open one due after `until` (None: after `day`). A routine without known terms, or one that
    starts after `day`, has no turns. Blocks are no part of it: they change the state of a turn, not the turn (`state`).
    """
    known = facts.as_known(known_at)
    end = known.retired.day if known.retired else date.max
    last = min(day, end)
    if not known.terms or known.start > last:
        return Replay(turns=(), fates=())
    until = min(end, max(day, until or day))
    book = _Book(facts=known, coming=grid_turns(known, until=until))
    counted, fates = sort_acts(known, day)
    book.fates = dict(fates)
    _start(book, [act for act in counted if act.act.day <= known.start])
    for event in _events(known, counted, last):
        event(book)
    _close_the_day(book, last, until=until)
    for act in counted:
        book.fates.setdefault(act.act.key, ActFate(act=act.act.key, fate=Fate.EXTRA, because="after the routine ended"))
    return Replay(
        turns=tuple(sorted(book.turns.values(), key=lambda turn: (turn.due, turn.key))),
        fates=tuple(book.fates[act.key] for act in known.current_acts() if act.day <= day),
    )


def next_change(facts: Facts, day: date) -> date | None:
    """First day after `day` on which a fact already known changes the turns: new terms, a fitting, the end.

    Stored turns are good up to the day before; None when only new facts can change them.
    """
    days = [facts.start] + [term.takes_effect for term in facts.terms]
    days += [fitting.from_day for fitting in facts.fittings if facts.follows_asset]
    days += [facts.retired.day] if facts.retired else []
    return min((later for later in days if later > day), default=None)


@dataclass(slots=True)
class _Book:
    """Turns while the history is replayed. Grid turns wait in `coming` until their window opens."""

    facts: Facts
    coming: list[Turn]
    turns: dict[str, Turn] = field(default_factory=dict)
    open_keys: list[str] = field(default_factory=list)
    fates: dict[str, ActFate] = field(default_factory=dict)
    newest: Counted | None = None

    def add(self, turn: Turn) -> None:
        self.turns[turn.key] = turn
        self.open_keys.append(turn.key)

    def put(self, turn: Turn) -> None:
        self.turns[turn.key] = turn
        if turn.ended is not Ended.OPEN:
            self.open_keys.remove(turn.key)

    def open(self, *kinds: Kind) -> list[Turn]:
        found = [self.turns[key] for key in self.open_keys]
        return sorted((turn for turn in found if turn.kind in kinds), key=lambda turn: (turn.due, turn.key))

    def settle(self, day: date) -> None:
        """Open the grid turns whose window has come by `day`, end those whose successor is due."""
        while self.coming and self.coming[0].earliest <= day:
            self.add(self.coming.pop(0))
        for turn in self.open(Kind.GRID):
            if turn.missed_from is not None and turn.missed_from <= day:
                self.put(turn.end(Ended.MISSED, turn.missed_from))

    def close(self, closed: list[Turn], by: Counted) -> None:
        for turn in closed:
            self.put(turn.end(Ended.DONE, by.act.day, by_act=by.act.key))
        keys = tuple(turn.key for turn in closed)
        word = Fate.CLOSED if keys else Fate.EXTRA
        self.fates[by.act.key] = ActFate(act=by.act.key, fate=word, turns=keys)


_Event = Callable[[_Book], None]


def _events(facts: Facts, counted: list[Counted], last: date) -> list[_Event]:
    """Everything after the start and up to `last`, in the order it happened."""
    rules = facts.terms_in_force()
    dated: list[tuple[tuple[date, int, float, int, str], _Event]] = []
    for before, rule in zip(rules, rules[1:], strict=False):
        dated.append(((rule.begins, 0, 0.0, len(dated), ""), _term_changed(before.term, rule)))
    for fitting in facts.fittings if facts.follows_asset else ():
        dated.append(((fitting.from_day, 1, fitting.from_at.timestamp(), 0, fitting.key), _swapped(fitting)))
    for act in counted:
        dated.append(((act.act.day, 1, act.act.performed_at.timestamp(), 1, act.act.key), _acted(act)))
    dated.sort(key=lambda event: event[0])
    return [event for (day, *_), event in dated if facts.start < day <= last]


def _start(book: _Book, before: list[Counted]) -> None:
    """Put the routine into force: it continues from the newest act of what is fitted, or owes its first one today.

    An act before the start still counts for a grid turn whose window was open by then.
    """
    start = book.facts.start
    term = book.facts.term_on(start)
    for act in before:
        book.fates[act.act.key] = ActFate(act=act.act.key, fate=Fate.BEFORE_START)
    fitted = _fitted_at_start(book.facts)
    book.newest = next((act for act in reversed(before) if fitted is None or act.fitting == fitted.key), None)
    if book.newest is None:
        book.add(once(term, NO_RECORD, start, why=NO_RECORD))
    elif term.mode is Mode.FLOATING:
        _float_from(book, book.newest, term)
    else:
        book.settle(book.newest.act.day)
        if book.open(Kind.GRID):
            book.close(book.open(Kind.GRID), book.newest)


def _fitted_at_start(facts: Facts) -> Fitting | None:
    begun = [f for f in facts.fittings if f.from_day <= facts.start] if facts.follows_asset else []
    return max(begun, key=lambda f: (f.from_at, f.key), default=None)


def _float_from(book: _Book, act: Counted, term: Term, *, not_before: date = date.min) -> None:
    """Add the turn an interval after `act`, due on `not_before` at the earliest."""
    due = add(act.act.day, term.every, term.unit)
    period = (due - act.act.day).days
    turn = regular(term, f"after {act.original}", max(due, not_before), period_days=period, kind=Kind.FLOATING)
    book.add(replace(turn, base=act.act.day))


def _acted(act: Counted) -> _Event:
    def event(book: _Book) -> None:
        book.settle(act.act.day)
        term = book.facts.term_on(act.act.day)
        grid = book.open(Kind.GRID)
        closed = _CLOSES[term.mode](book)
        book.close(closed, act)
        if grid and grid[-1] in closed:
            for passed in grid[:-1]:
                book.put(passed.end(Ended.MISSED, act.act.day))
        if term.mode is Mode.FLOATING:
            _float_from(book, act, term)
        book.newest = act

    return event


def _closes_when_fixed(book: _Book) -> list[Turn]:
    """Every single demand; of the grid the newest open turn, unless the demand was made outside its window."""
    demands = book.open(Kind.ONCE)
    newest = book.open(Kind.GRID)[-1:]
    if newest and demands and not any(newest[0].earliest <= turn.due <= newest[0].latest for turn in demands):
        newest = []
    return demands + newest


def _closes_when_floating(book: _Book) -> list[Turn]:
    """Everything open; of a grid in force before, no more than its last turn can still be."""
    return book.open(*Kind)


_CLOSES: dict[Mode, Callable[[_Book], list[Turn]]] = {
    Mode.FIXED: _closes_when_fixed,
    Mode.FLOATING: _closes_when_floating,
}


def _swapped(fitting: Fitting) -> _Event:
    def event(book: _Book) -> None:
        book.settle(fitting.from_day)
        for turn in book.open(Kind.ONCE, Kind.FLOATING):
            book.put(turn.end(Ended.WITHDRAWN, fitting.from_day, because=TAKEN_OUT))
        term = book.facts.term_on(fitting.from_day)
        book.add(once(term, f"{BEFORE_USE} {fitting.key}", fitting.from_day, why=BEFORE_USE))

    return event


def _term_changed(before: Term, rule: InForce) -> _Event:
    def event(book: _Book) -> None:
        book.settle(rule.begins)
        for turn in book.open(Kind.ONCE):
            book.put(replace(turn, by_rule=_by_rule_after(turn, rule)))
        for turn in book.open(Kind.FLOATING):
            book.put(_leftover(book, turn, rule) if rule.term.mode is Mode.FIXED else _moved(turn, rule))
        nothing_open = not book.open(*Kind)
        if before.mode is Mode.FIXED and rule.term.mode is Mode.FLOATING and nothing_open and book.newest:
            _float_from(book, book.newest, rule.term, not_before=rule.begins)

    return event


def _by_rule_after(turn: Turn, rule: InForce) -> bool:
    """Whether a rule demands the turn under new terms; a turn already overdue does not shake it off."""
    return rule.term.by_rule or (turn.by_rule and rule.begins > turn.latest)


def _moved(turn: Turn, rule: InForce) -> Turn:
    """Floating turn under new terms: never due before the decision, and not moved at all once it is overdue."""
    by_rule = _by_rule_after(turn, rule)
    if turn.base is None or rule.begins > turn.latest:
        return replace(turn, by_rule=by_rule)
    due = add(turn.base, rule.term.every, rule.term.unit)
    period = (due - turn.base).days
    if due < turn.due:
        due = max(due, min(rule.begins, turn.due))
    new = regular(rule.term, turn.key, due, period_days=period, kind=Kind.FLOATING)
    latest = new.latest if by_rule else max(new.latest, min(rule.begins, turn.latest))
    return replace(new, latest=latest, base=turn.base)


def _leftover(book: _Book, turn: Turn, rule: InForce) -> Turn:
    """Floating turn when a grid takes over: kept like a turn of the grid if it was due before, else withdrawn."""
    if turn.due >= rule.begins:
        return turn.end(Ended.WITHDRAWN, rule.begins, because=ROUTINE_CHANGED)
    waiting = [t for t in (*book.open(Kind.GRID), *book.coming) if t.due >= rule.begins]
    return replace(turn, kind=Kind.GRID, missed_from=waiting[0].due if waiting else None)


def _close_the_day(book: _Book, last: date, *, until: date) -> None:
    """Let time pass up to `last`; at the end of the routine withdraw what is open, else list what is to come."""
    book.settle(last)
    while book.coming and not any(turn.due > until for turn in book.open(*Kind)):
        book.add(book.coming.pop(0))
    retired = book.facts.retired
    if retired is not None and retired.day == last:
        for turn in book.open(*Kind):
            book.put(turn.end(Ended.WITHDRAWN, last, because=retired.because))
