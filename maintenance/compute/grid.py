"""The fixed grid of a routine: its turns come from the terms alone, whatever was done and whenever."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from maintenance.compute.facts import Facts, InForce, Mode
from maintenance.compute.intervals import grid
from maintenance.compute.turn import Kind, Turn, regular

ONE_DAY = timedelta(days=1)


def grid_turns(facts: Facts, *, until: date) -> list[Turn]:
    """Grid turns of all fixed terms, from the start of the routine up to the second one due after `until`.

    A term brings the turns due while it is in force. A turn opens at most a quarter of its period early and not
    before its own term is in force, so that at most one turn has yet to fall due while its window is open. That one
    may have been done early, therefore one more is listed. Each turn is missed from the day the next one is due.
    """
    turns: list[Turn] = []
    for turn in _endless(facts):
        if turns:
            turns[-1] = replace(turns[-1], missed_from=turn.due)
            if len(turns) > 1 and turns[-2].due > until:
                return turns
        turns.append(turn)
    return turns


def _endless(facts: Facts) -> Iterator[Turn]:
    for rule in facts.terms_in_force():
        if rule.term.mode is Mode.FIXED and rule.term.anchor is not None:
            yield from _of_one_term(rule, rule.term.anchor, facts.start)


def _of_one_term(rule: InForce, anchor: date, start: date) -> Iterator[Turn]:
    term = rule.term
    after = max(start, rule.begins - ONE_DAY) if rule.begins > date.min else start
    for previous, due in grid(anchor, term.every, term.unit, after=after):
        if rule.ends is not None and due >= rule.ends:
            return
        turn = regular(term, due.isoformat(), due, period_days=(due - previous).days, kind=Kind.GRID)
        yield replace(turn, earliest=max(turn.earliest, rule.begins))
