"""Turns that come from the calendar alone, whatever was done: fixed days, calendar periods, days the unit runs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from maintenance.compute.facts import Facts
from maintenance.compute.intervals import grid, period_of
from maintenance.compute.stretches import running_days
from maintenance.compute.terms import MANY_TURNS, InForce, Mode, Term
from maintenance.compute.turn import Kind, Turn, regular, within

ONE_DAY = timedelta(days=1)
MORE_THAN_A_YEAR = timedelta(days=400)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """Turns in order of due day, and the due days that a pause takes out."""

    turns: list[Turn] = field(default_factory=list)
    dropped: list[date] = field(default_factory=list)


def grid_turns(facts: Facts, *, day: date, until: date) -> Coming:
    """Turns from the start of the routine up to the second one due after `until`, as things stand on `day`.

    A term brings the turns due while it is in force. A turn opens at most a quarter of its period early and not
    before its own term is in force, so that at most one turn has yet to fall due while its window is open. That one
    may have been done early, therefore one more is listed. A fixed turn is missed from the day the next one is due,
    one of a period or of a day of running from the day after.
    """
    coming = Coming()
    turns = coming.turns
    running = 0  # dropped one after the other
    for turn in _endless(facts, day):
        if facts.paused_on(turn.due):
            coming.dropped.append(turn.due)
            running += 1
            never = running > MANY_TURNS and turn.due > until + MORE_THAN_A_YEAR
            if turn.due > until and (never or _for_good(facts, turn.due)):
                break
            continue
        running = 0
        if turns:
            turns[-1] = replace(turns[-1], missed_from=turns[-1].missed_from or turn.due)
            if len(turns) > 1 and turns[-2].due > until:
                break
        turns.append(turn)
    return coming


def _for_good(facts: Facts, day: date) -> bool:
    """Whether a pause on a day has no end yet."""
    return any(pause.covers(day) and pause.to_day is None for pause in facts.pauses)


def _endless(facts: Facts, day: date) -> Iterator[Turn]:
    for rule in facts.terms_in_force():
        bring = _BRINGS.get(rule.term.mode)
        for turn in bring(rule, facts, day) if bring else ():
            if rule.ends is not None and turn.due >= rule.ends:
                break
            yield replace(turn, earliest=max(turn.earliest, rule.begins))


def _fixed_days(rule: InForce, facts: Facts, _day: date) -> Iterator[Turn]:
    term = rule.term
    if term.anchor is None:
        return
    for previous, due in grid(term.anchor, term.every, term.unit, after=_after(rule, facts)):
        yield regular(term, due.isoformat(), due, period_days=(due - previous).days, kind=Kind.GRID)


def _periods(rule: InForce, facts: Facts, _day: date) -> Iterator[Turn]:
    term = rule.term
    first, last = period_of(_after(rule, facts) + ONE_DAY, term.every, term.unit)
    while True:
        opens, due = _in_season(term, first, last)
        turn = within(term, due.isoformat(), due, first=opens, last=due, kind=Kind.GRID)
        if due > _after(rule, facts):
            yield replace(turn, missed_from=due + ONE_DAY)
        first, last = period_of(last + ONE_DAY, term.every, term.unit)


def _in_season(term: Term, first: date, last: date) -> tuple[date, date]:
    """First and last day of a period that lie in the season; a period without one stays as it is, and falls out."""
    due = term.season.last_day_in(first, last) if term.season is not None else None
    if term.season is None or due is None:
        return first, last
    return min(term.season.returns_on(first), due), due


def _days_of_running(rule: InForce, facts: Facts, day: date) -> Iterator[Turn]:
    for ran in running_days(facts.runs, day, first=max(facts.start, rule.begins)):
        turn = within(rule.term, ran.isoformat(), ran, first=ran, last=ran, kind=Kind.GRID)
        yield replace(turn, missed_from=ran + ONE_DAY)


def _after(rule: InForce, facts: Facts) -> date:
    """Day after which the first turn of a term can be due."""
    return max(facts.start, rule.begins - ONE_DAY) if rule.begins > date.min else facts.start


_BRINGS: dict[Mode, Callable[[InForce, Facts, date], Iterator[Turn]]] = {
    Mode.FIXED: _fixed_days,
    Mode.PERIOD: _periods,
    Mode.RUNNING: _days_of_running,
}
