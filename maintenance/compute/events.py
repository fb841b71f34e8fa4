"""What happens to the turns of a routine: work, an asset exchanged, new terms, pauses, values outside their limits.

The order of recording plays no part. Facts happen in this order within a day: at its beginning pauses that begin, new
terms, pauses that end; then by the clock what was fitted, seen and done (in this order at one instant); then the end
of the routine. New terms before which a condition saw a value that day come by the clock too, when they were decided.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from maintenance.compute.acts import Counted
from maintenance.compute.book import Book, Event
from maintenance.compute.facts import Facts, Fitting, Value
from maintenance.compute.intervals import Unit, add
from maintenance.compute.stretches import Pause
from maintenance.compute.terms import AFTER_WORK, ON_THE_CALENDAR, InForce, Mode, Term
from maintenance.compute.turn import (
    BEFORE_USE,
    NEVER,
    NO_RECORD,
    OUTSIDE_LIMITS,
    Ended,
    Kind,
    Turn,
    by_use_alone,
    has_dates,
    once,
    regular,
)
from maintenance.compute.usage import Use, use_from

TAKEN_OUT = "asset taken out"
ROUTINE_CHANGED = "routine changed"

_Moment = tuple[date, int, float, int, str]


def events(facts: Facts, counted: list[Counted], last: date) -> list[Event]:
    """Everything after the start and up to `last`, in the order it happened."""
    dated = [*_of_terms(facts), *_of_pauses(facts, last), *_of_assets(facts), *_of_values(facts)]
    dated += [((act.act.day, 1, act.act.performed_at.timestamp(), 2, act.act.key), acted(act)) for act in counted]
    dated.sort(key=lambda event: event[0])
    return [event for (day, *_), event in dated if facts.start < day <= last]


def _of_terms(facts: Facts) -> Iterator[tuple[_Moment, Event]]:
    rules = facts.terms_in_force()
    for number, (before, rule) in enumerate(zip(rules, rules[1:], strict=False)):
        day, event = rule.begins, term_changed(before.term, rule)
        if not _saw_before(facts, rule):
            yield (day, 0, 1.0, number, ""), event
            continue
        decided = rule.term.recorded_at.timestamp()
        yield (day, 1, decided, -1, ""), event
        for pause in facts.all_pauses(day):
            if pause.covers(day):  # out of the new season: what was raised that morning ends as all else did
                yield (day, 1, decided, -1, pause.key), paused(pause, day)


def _saw_before(facts: Facts, rule: InForce) -> bool:
    """Whether a condition judged a value on the day of new terms, before they were decided: that raises first."""
    judged_by = (facts.term_for(value) for value in facts.values if value.day == rule.begins)
    return any(term is not rule.term and term.mode is Mode.CONDITION for term in judged_by)


def _of_pauses(facts: Facts, last: date) -> Iterator[tuple[_Moment, Event]]:
    for pause in facts.all_pauses(last):
        if pause.to_day == pause.from_day:
            continue
        yield (pause.from_day, 0, 0.0, 0, pause.key), paused(pause, pause.from_day)
        if pause.to_day is not None:
            yield (pause.to_day, 0, 2.0, 0, pause.key), returned(pause, pause.to_day)


def _of_assets(facts: Facts) -> Iterator[tuple[_Moment, Event]]:
    for fitting in facts.fittings if facts.follows_asset else ():
        yield (fitting.from_day, 1, fitting.from_at.timestamp(), 0, fitting.key), swapped(fitting)


def _of_values(facts: Facts) -> Iterator[tuple[_Moment, Event]]:
    for value in facts.values:
        yield (value.day, 1, value.at.timestamp(), 1, value.key), seen(value)


def acted(act: Counted) -> Event:
    """Work that counts. Of a grid it ends as missed what fell due before the turn it closes."""
    day = act.act.day

    def event(book: Book) -> None:
        book.settle(day)
        term = book.facts.term_on(day)
        closed = _closes(book, term, day)
        newest = max((turn.due for turn in closed if turn.kind is Kind.GRID), default=date.min)
        passed = [turn for turn in book.open(Kind.GRID) if turn.due < newest and turn not in closed]
        book.close(closed, act)
        for turn in passed:
            book.put(book.turns[turn.key].end(Ended.MISSED, day))
        if term.mode in AFTER_WORK:
            book.follow(act, term, today=day)
        book.newest = act

    return event


def _closes(book: Book, term: Term, day: date) -> list[Turn]:
    """Turns that work on `day` closes.

    Where turns come by the calendar: every single demand, and of the grid the newest turn whose window is open, unless
    the demand was made outside that window. Else everything open; of a grid in force before, no more than its last
    turn can still be.
    """
    if term.mode not in ON_THE_CALENDAR:
        return book.open(*Kind)
    demands = book.open(Kind.ONCE)
    newest = [turn for turn in book.open(Kind.GRID) if turn.earliest <= day][-1:]
    if newest and demands and not any(newest[0].earliest <= turn.due <= newest[0].latest for turn in demands):
        newest = []
    return demands + newest


def swapped(fitting: Fitting) -> Event:
    """Another asset is fitted: it owes a check before use, unless one on the bench counts and is not too old."""
    day = fitting.from_day

    def event(book: Book) -> None:
        book.settle(day)
        for turn in book.open(Kind.ONCE, Kind.FLOATING):
            book.put(turn.end(Ended.WITHDRAWN, day, because=TAKEN_OUT))
        term = book.facts.term_on(day)
        done = on_the_bench(book, fitting)
        if done is not None and _still_good(done, term, day):
            book.newest = done
            if term.mode in AFTER_WORK:
                book.follow(done, term, today=day)
        elif book.facts.paused_on(day):
            book.owes_before_use = True
        else:
            book.add(once(term, f"{BEFORE_USE} {fitting.key}", day, why=BEFORE_USE))

    return event


def on_the_bench(book: Book, fitting: Fitting) -> Counted | None:
    """Newest work on the bench on what was fitted, since it was taken out of this place the last time."""
    before = [f.from_at for f in book.facts.fittings if f.asset == fitting.asset and f.from_at < fitting.from_at]
    since = max(before, default=None)
    done = [
        one
        for one in book.bench
        if one.asset == fitting.asset
        and one.act.performed_at <= fitting.from_at
        and (since is None or one.act.performed_at > since)
    ]
    return done[-1] if done else None


def _still_good(done: Counted, term: Term, day: date) -> bool:
    """Whether work on the bench is no older than the interval when the asset is fitted; on a grid it has no age."""
    if term.mode not in AFTER_WORK or not has_dates(term):
        return True
    return add(done.act.day, term.every, term.unit) >= day


def paused(pause: Pause, day: date) -> Event:
    """Nothing is owed from `day` on: what is open ends, missed if its last allowed day is past; later ones stay."""

    def event(book: Book) -> None:
        book.settle(day)
        for turn in book.open(*Kind):
            if turn.kind is Kind.GRID and turn.due >= day:
                continue
            missed = day > book.with_use(turn, day).own_latest
            book.put(turn.end(Ended.MISSED if missed else Ended.WITHDRAWN, day, because=pause.because))
            book.owes_before_use = True

    return event


def returned(pause: Pause, day: date) -> Event:
    """Back on `day`: what the pause took out is owed once, before use; while another pause goes on, after that one."""

    def event(book: Book) -> None:
        book.settle(day)
        dropped = any(pause.covers(due) for due in book.grid.dropped)
        book.owes_before_use = book.owes_before_use or dropped
        if book.owes_before_use and not book.facts.paused_on(day):
            book.owes_before_use = False
            term = book.facts.term_on(day)
            if any(turn.why == BEFORE_USE and turn.due == day for turn in book.open(Kind.ONCE)):
                return  # another pause, or the time out of season, ended on the same day
            book.add(once(term, f"{BEFORE_USE} from {pause.key}", day, why=BEFORE_USE))

    return event


def seen(value: Value, on: date | None = None) -> Event:
    """A value that a condition looks at; `on` is the day it is taken as seen where that is not the day it was known.

    Outside the limits in force when it was taken it raises a demand where nothing is owed already, so that one
    excursion raises one; after the work only a value that was taken later raises another.
    """
    day = max(value.day, value.known_on, on or date.min)

    def event(book: Book) -> None:
        term = book.facts.term_for(value)
        changed = term is not book.facts.term_on(value.day)
        if term.mode is not Mode.CONDITION or term.limits is None or not term.limits.outside(value.value):
            return
        if book.facts.paused_on(value.day, term) or _owed(book, value.day, changed=changed):
            return
        due = add(day, term.limits.answer_days, Unit.DAY)
        turn = once(term, f"seen {value.key}", due, why=OUTSIDE_LIMITS, seen=day)
        book.add(replace(turn, seen=value.told, good=term.limits.told))

    return event


def _owed(book: Book, day: date, *, changed: bool) -> bool:
    """Whether something is owed that a value would only raise again.

    Where other terms came later on the `day` it was taken, what they ask from then on was not owed yet.
    """
    return any(
        not changed or turn.due < day or (turn.kind is Kind.ONCE and turn.key != NO_RECORD) for turn in book.open(*Kind)
    )


def term_changed(before: Term, rule: InForce) -> Event:
    """New terms: they move what follows work, never before they were decided, and cure nothing that is overdue.

    What a condition raised stays owed with the limits it was raised under, and says until when they held.
    """

    def event(book: Book) -> None:
        book.settle(rule.begins)
        for turn in book.open(Kind.ONCE):
            until = turn.good_until or rule.begins if turn.why == OUTSIDE_LIMITS else None
            book.put(replace(turn, by_rule=_by_rule_after(turn, rule), good_until=until))
        for turn in book.open(Kind.FLOATING):
            known = book.with_use(turn, rule.begins)
            book.put(_moved(book, known, rule) if rule.term.mode in AFTER_WORK else _leftover(book, known, rule))
        if rule.term.mode in AFTER_WORK and before.mode not in AFTER_WORK and not book.open(*Kind):
            _begin_to_follow(book, rule)

    return event


def _begin_to_follow(book: Book, rule: InForce) -> None:
    """Nothing is open when work begins to count from: from the newest one, or the first is owed today."""
    if book.newest is not None:
        book.follow(book.newest, rule.term, today=rule.begins, not_before=rule.begins)
    elif book.facts.paused_on(rule.begins):
        book.owes_before_use = True
    elif NO_RECORD not in book.turns:
        book.add(once(rule.term, NO_RECORD, rule.begins, why=NO_RECORD))


def _by_rule_after(turn: Turn, rule: InForce) -> bool:
    """Whether a rule demands the turn under new terms; a turn already overdue does not shake it off."""
    return rule.term.by_rule or (turn.by_rule and rule.begins > turn.own_latest)


def _moved(book: Book, turn: Turn, rule: InForce) -> Turn:
    """Turn after work under new terms: never due before the decision, and not moved at all once it is overdue."""
    by_rule = _by_rule_after(turn, rule)
    if turn.base is None or rule.begins > turn.own_latest:
        return replace(turn, by_rule=by_rule)
    new = by_use_alone(rule.term, turn.key)
    if has_dates(rule.term):
        due = add(turn.base, rule.term.every, rule.term.unit)
        period = (due - turn.base).days
        if due < turn.due:
            due = max(due, min(rule.begins, turn.due))
        new = regular(rule.term, turn.key, due, period_days=period, kind=Kind.FLOATING)
        latest = new.latest if by_rule else max(new.latest, min(rule.begins, turn.latest))
        new = replace(new, latest=latest)
    return replace(new, base=turn.base, use=_use_under(book, turn, rule))


def _use_under(book: Book, turn: Turn, rule: InForce) -> Use | None:
    """What is counted by use under new terms, from the same work; the same amount keeps the days it was known on."""
    demanded, old = rule.term.counted_use, turn.use
    if demanded is None:
        return None
    if old is not None:
        same = (old.every, old.early, old.late) == (demanded.every, demanded.early, demanded.late)
        at, asset, not_before = old.base_at, old.asset, old.not_before if same else rule.begins
    elif book.newest is not None:
        at, asset, not_before = book.newest.act.performed_at, book.newest.asset, rule.begins
    else:
        return None
    return use_from(demanded, book.facts.metered, at, asset=asset, not_before=not_before)


def _leftover(book: Book, turn: Turn, rule: InForce) -> Turn:
    """Turn after work when the calendar or a condition takes over: kept if it was due before or is overdue, else ended.

    What was due by use keeps the days on which that was known; within its allowance it is allowed until the decision.
    """
    if turn.own_due >= rule.begins and turn.own_latest >= rule.begins:
        return turn.end(Ended.WITHDRAWN, rule.begins, because=ROUTINE_CHANGED)
    waiting = [t for t in (*book.open(Kind.GRID), *book.grid.turns) if t.due >= rule.begins]
    allowed = turn.own_latest if turn.own_latest < NEVER else rule.begins
    return replace(
        turn,
        kind=Kind.GRID,
        due=turn.own_due,
        earliest=min(turn.earliest, turn.own_due),
        latest=turn.own_due if turn.by_rule else max(turn.own_due, allowed),
        missed_from=waiting[0].due if waiting else None,
    )
