"""The due-date formula: the facts of a routine, replayed in the order things happened, give its turns.

The order of recording plays no part. A further trigger brings its turns (as `grid_turns` does) or an event of its own
(`events`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from maintenance.compute.acts import ActFate, Counted, Fate, sort_acts
from maintenance.compute.book import Book
from maintenance.compute.deferrals import Deferral
from maintenance.compute.events import events, on_the_bench, paused, seen
from maintenance.compute.facts import Facts, Fitting, Value
from maintenance.compute.grid import grid_turns
from maintenance.compute.stretches import ONE_DAY
from maintenance.compute.terms import AFTER_WORK, Mode
from maintenance.compute.turn import NO_RECORD, READ_THE_METER, Ended, Kind, Turn, once
from maintenance.compute.usage import read_by


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
    acts = sort_acts(known, day)
    book = Book(facts=known, grid=grid_turns(known, day=day, until=until), bench=acts.bench, fates=dict(acts.fates))
    _start(book, [act for act in acts.counted if act.act.day <= known.start])
    for event in events(known, acts.counted, last):
        event(book)
    _close_the_day(book, last, until=until)
    for act in acts.counted:
        book.fates.setdefault(act.act.key, ActFate(act=act.act.key, fate=Fate.EXTRA, because="after the routine ended"))
    return Replay(
        turns=tuple(sorted(book.turns.values(), key=lambda turn: (turn.due, turn.key))),
        fates=tuple(book.fates[act.key] for act in known.current_acts() if act.day <= day),
    )


def next_change(facts: Facts, day: date, deferrals: Sequence[Deferral] = ()) -> date | None:
    """First day after `day` on which a fact already known changes the turns, or a deferral takes effect.

    Stored turns are good up to the day before; None when only new facts can change them.
    """
    days = [facts.start, *(term.takes_effect for term in facts.terms)]
    days += [fitting.from_day for fitting in facts.fittings if facts.follows_asset]
    days += [facts.retired.day] if facts.retired else []
    days += [deferral.approved_on + ONE_DAY for deferral in deferrals]
    days += facts.season_turns(day)
    return min((later for later in (*days, *_of_stretches(facts)) if later > day), default=None)


def _of_stretches(facts: Facts) -> Iterator[date]:
    for pause in facts.pauses:
        yield from (pause.from_day, pause.to_day or pause.from_day)
    for run in facts.runs:
        yield from (run.from_day, run.last_day or run.from_day)
    yield from (one.day for one in facts.metered)
    yield from (value.day for value in facts.values)


def _start(book: Book, before: list[Counted]) -> None:
    """Put the routine into force: it continues from the newest act of what is fitted, or owes its first one today.

    An act before the start still counts for a grid turn whose window was open by then. What is owed by the day of
    running, or on a condition, owes nothing for want of a record.
    """
    start = book.facts.start
    term = book.facts.term_on(start)
    for act in before:
        book.fates[act.act.key] = ActFate(act=act.act.key, fate=Fate.BEFORE_START)
    book.newest = _newest_at_start(book, before)
    if book.newest is None:
        if term.mode not in (Mode.RUNNING, Mode.CONDITION):
            book.add(once(term, NO_RECORD, start, why=NO_RECORD))
    elif term.mode in AFTER_WORK:
        book.follow(book.newest, term, today=start)
    else:
        book.settle(book.newest.act.day)
        if book.open(Kind.GRID):
            book.close(book.open(Kind.GRID), book.newest)
        book.keep_apart(book.newest.act.day)
    _look_around(book)


def _look_around(book: Book) -> None:
    """Take into account what holds when the routine is put into force: a pause, a value outside its limits."""
    start = book.facts.start
    done = book.newest.act.performed_at if book.newest else None
    for value in _values_at_start(book.facts):
        if done is None or value.at > done:
            seen(value, start)(book)
    for pause in book.facts.all_pauses(start):
        if pause.covers(start):
            paused(pause, start)(book)


def _values_at_start(facts: Facts) -> list[Value]:
    """The newest value before the routine was put into force, and those taken later on that day, one by one."""
    first = min(facts.terms, key=lambda term: (term.takes_effect, term.recorded_at))
    values = sorted((one for one in facts.values if one.day <= facts.start), key=lambda one: (one.at, one.key))
    later = [
        one
        for one in values
        if one.day == facts.start and (first.decided_on < facts.start or one.at >= first.recorded_at)
    ]
    return [*values[: len(values) - len(later)][-1:], *later]


def _newest_at_start(book: Book, before: list[Counted]) -> Counted | None:
    """Newest act that counts for what is fitted, done on the bench or in its place."""
    fitted = _fitted_at_start(book.facts)
    if fitted is None:
        return before[-1] if before else None
    bench = on_the_bench(book, fitted)
    done = [act for act in before if act.fitting == fitted.key] + ([bench] if bench else [])
    return max(done, key=lambda one: (one.act.day, one.act.performed_at, one.act.key), default=None)


def _fitted_at_start(facts: Facts) -> Fitting | None:
    begun = [f for f in facts.fittings if f.from_day <= facts.start] if facts.follows_asset else []
    return max(begun, key=lambda f: (f.from_at, f.key), default=None)


def _close_the_day(book: Book, last: date, *, until: date) -> None:
    """Let time pass up to `last`; at the end of the routine withdraw what is open, else list what is to come."""
    book.settle(last)
    coming = book.grid.turns
    while coming and not any(turn.due > until for turn in book.open(Kind.GRID, Kind.FLOATING, Kind.ONCE)):
        book.add(coming.pop(0))
    for turn in tuple(book.turns.values()):
        book.turns[turn.key] = book.with_use(turn, last)
    retired = book.facts.retired
    if retired is not None and retired.day == last:
        for turn in book.open(*Kind):
            book.put(turn.end(Ended.WITHDRAWN, last, because=retired.because))
    else:
        _ask_for_readings(book, last)


def _ask_for_readings(book: Book, day: date) -> None:
    """Demand that the meter is read before its newest reading is too old to tell what is due."""
    for turn in book.open(Kind.FLOATING)[-1:]:
        if turn.use is None or turn.base is None:
            continue
        metered, stale_days = book.facts.metered, book.facts.stale_days
        due = read_by(turn.use, metered, day, since=turn.base, stale_days=stale_days)
        demand = once(book.facts.term_on(day), f"{READ_THE_METER} {due}", due, why=READ_THE_METER)
        book.add(replace(demand, kind=Kind.READING, by_rule=False, while_running=False))
