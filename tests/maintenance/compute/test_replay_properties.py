"""What must hold for every history of a routine. The grid is checked against pandas, the rest against itself."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, datetime, timedelta
from random import Random

import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from maintenance.compute.schedule import (
    Act,
    Block,
    Ended,
    Facts,
    Fate,
    Kind,
    Mode,
    Retirement,
    Run,
    State,
    Term,
    Turn,
    Unit,
    replay,
    state,
    turns,
)
from tests.maintenance.compute.histories import (
    LAST,
    START,
    day_after,
    histories,
    histories_of_acts,
    histories_of_blocks,
    terms,
)
from tests.maintenance.compute.routines import at

DAYS = st.integers(0, LAST + 40).map(day_after)


@given(histories(), DAYS, st.randoms(use_true_random=False))
def test_any_order_of_recording_gives_the_same_turns(facts: Facts, day: date, random: Random) -> None:
    """Everything is entered in another order, and handed over in another order."""
    instants = [act.recorded_at for act in facts.acts]
    random.shuffle(instants)
    acts = [replace(act, recorded_at=instant) for act, instant in zip(facts.acts, instants, strict=True)]
    shuffled = replace(
        facts,
        acts=tuple(random.sample(acts, len(acts))),
        terms=tuple(random.sample(facts.terms, len(facts.terms))),
        fittings=tuple(random.sample(facts.fittings, len(facts.fittings))),
        runs=tuple(random.sample(facts.runs, len(facts.runs))),
        pauses=tuple(random.sample(facts.pauses, len(facts.pauses))),
        metered=tuple(random.sample(facts.metered, len(facts.metered))),
        values=tuple(random.sample(facts.values, len(facts.values))),
    )
    assert replay(shuffled, day) == replay(replace(facts, acts=tuple(acts)), day)


def as_running(run: Run, instant: datetime) -> Run:
    """The run as if its stop were not recorded yet, where it was recorded later."""
    known = run.to_recorded_at is None or run.to_recorded_at <= instant
    return run if known else replace(run, to_at=None, last_day=None)


@given(histories(), DAYS, DAYS)
def test_what_was_recorded_later_plays_no_part(facts: Facts, day: date, known: date) -> None:
    instant = pd.Timestamp(known, tz="UTC").to_pydatetime()
    earlier = replace(
        facts,
        terms=tuple(term for term in facts.terms if term.recorded_at <= instant),
        acts=tuple(act for act in facts.acts if act.recorded_at <= instant),
        fittings=tuple(fitting for fitting in facts.fittings if fitting.recorded_at <= instant),
        retired=facts.retired if facts.retired and facts.retired.recorded_at <= instant else None,
        runs=tuple(as_running(run, instant) for run in facts.runs if run.recorded_at <= instant),
        pauses=tuple(pause for pause in facts.pauses if pause.recorded_at <= instant),
        also=tuple(one for one in facts.also if one.recorded_at <= instant),
        metered=tuple(one for one in facts.metered if one.recorded_at <= instant),
        values=tuple(value for value in facts.values if value.recorded_at <= instant),
    )
    assert turns(facts, day, known_at=instant) == turns(earlier, day)


@given(histories(), DAYS)
def test_keys_are_unique_and_days_in_order(facts: Facts, day: date) -> None:
    found = turns(facts, day)
    assert len({turn.key for turn in found}) == len(found)
    assert all(turn.earliest <= turn.due <= turn.latest for turn in found)
    assert [turn.due for turn in found] == sorted(turn.due for turn in found)


@given(histories(), DAYS)
def test_a_turn_ends_once_and_an_act_closes_at_most_one_turn_of_a_grid(facts: Facts, day: date) -> None:
    found = replay(facts, day)
    closed = [turn for turn in found.turns if turn.ended is Ended.DONE]
    assert all((turn.ended is Ended.DONE) == bool(turn.by_act) for turn in found.turns)
    assert all((turn.ended is Ended.OPEN) == (turn.ended_on is None) for turn in found.turns)
    assert not Counter(turn.by_act for turn in closed if turn.kind is Kind.GRID) - Counter(
        {turn.by_act for turn in closed if turn.kind is Kind.GRID}
    )
    assert {(fate.act, key) for fate in found.fates for key in fate.turns} == {
        (turn.by_act, turn.key) for turn in closed
    }


@given(histories(), DAYS)
def test_every_act_so_far_has_one_fate_and_only_counting_acts_close_turns(facts: Facts, day: date) -> None:
    corrected = {act.replaces for act in facts.acts}
    current = {act.key: act for act in facts.acts if act.key not in corrected and act.day <= day}
    fates = replay(facts, day).fates
    last = facts.retired.day if facts.retired else day
    assert Counter(fate.act for fate in fates) == Counter(list(current))
    for fate in fates:
        act = current[fate.act]
        assert (fate.fate is Fate.CLOSED) == bool(fate.turns)
        assert act.counts or fate.fate is Fate.NOT_COUNTED
        assert fate.fate is not Fate.CLOSED or act.day <= last


def without_use(turn: Turn) -> Turn:
    """The turn without what newer readings of its meter say."""
    return replace(turn, use=None)


@given(histories(), DAYS, st.integers(1, 40))
def test_an_end_is_never_taken_back_by_time(facts: Facts, day: date, more: int) -> None:
    later = {turn.key: turn for turn in turns(facts, day + timedelta(days=more))}
    for turn in turns(facts, day):
        if turn.ended is not Ended.OPEN:
            assert without_use(later[turn.key]) == without_use(turn)


@given(histories(), histories_of_blocks(), DAYS)
def test_no_count_of_days_is_negative(facts: Facts, blocks: tuple[Block, ...], day: date) -> None:
    for turn in turns(facts, day):
        seen = state(turn, day, blocks)
        counts = (seen.days_late, seen.days_after_due, seen.days_after_allowed, seen.blocked_days)
        assert min(*counts, seen.overdue_when_blocked) >= 0
        assert (seen.state is not State.OVERDUE) or seen.days_late > 0 or turn.use is not None
        assert turn.own_due <= seen.due
        assert seen.due <= seen.latest or turn.use is not None


@given(histories(), histories_of_blocks(), DAYS)
def test_what_a_rule_demands_has_no_days_allowed_and_no_block(
    facts: Facts, blocks: tuple[Block, ...], day: date
) -> None:
    demanded = replace(facts, terms=tuple(replace(term, by_rule=True) for term in facts.terms))
    locks = tuple(replace(block, off=False) for block in blocks)
    for turn in turns(demanded, day):
        assert turn.latest == turn.due
        assert state(turn, day, locks).state not in (State.BLOCKED, State.LATE_ALLOWED)


def grid_by_pandas(term: Term, until: date) -> list[date]:
    """Days of a grid after the start up to the first after `until`, by pandas.DateOffset from the anchor."""
    name = {Unit.DAY: "days", Unit.WEEK: "weeks", Unit.MONTH: "months", Unit.YEAR: "years"}[term.unit]
    days: list[date] = []
    for k in range(400):
        days.append((pd.Timestamp(term.anchor) + pd.DateOffset(**{name: k * term.every})).date())
        if days[-1] > until:
            break
    return [day for day in days if day > START]


@given(terms(modes=(Mode.FIXED,)), histories_of_acts(), DAYS)
def test_a_fixed_grid_has_every_day_once_whatever_was_done(term: Term, acts: tuple[Act, ...], day: date) -> None:
    """Reference for the grid: pandas.DateOffset."""
    found = [t for t in turns(Facts(start=START, terms=(term,), acts=acts), day) if t.kind is Kind.GRID]
    expected = grid_by_pandas(term, day)
    assert [turn.due for turn in found][: len(expected)] == expected
    assert all(later.ended is Ended.OPEN for later in found[len(expected) :])
    assert sum(1 for turn in found if turn.due <= day and turn.ended is Ended.OPEN) <= 1
    assert [turn for turn in found if turn.ended is Ended.OPEN and turn.due > day]


@given(terms(modes=(Mode.FLOATING,)), histories_of_acts(), DAYS)
def test_a_floating_routine_owes_one_turn_counted_from_the_newest_act(
    term: Term, acts: tuple[Act, ...], day: date
) -> None:
    """Reference for the due day: pandas.DateOffset from the newest counting act."""
    facts = Facts(start=START, terms=(term,), acts=acts)
    corrected = {act.replaces for act in acts}
    own = [act for act in acts if not act.routine and (act.in_place or term.bench)]
    done = [act.day for act in own if act.counts and act.key not in corrected and act.day <= day]
    (owed,) = [turn for turn in turns(facts, day) if turn.ended is Ended.OPEN]
    name = {Unit.DAY: "days", Unit.WEEK: "weeks", Unit.MONTH: "months"}[term.unit]
    offset = pd.DateOffset(**{name: term.every})
    assert owed.due == ((pd.Timestamp(max(done)) + offset).date() if done else START)


@given(histories(changes=1), DAYS, st.data())
def test_a_change_of_terms_never_cures_what_is_overdue_at_the_decision(
    facts: Facts, day: date, data: st.DataObject
) -> None:
    """Work done on the day of the decision is left out: it comes after it, and may close more under the new terms."""
    facts = replace(
        facts,
        terms=tuple(term for term in facts.terms if term.takes_effect < day),
        acts=tuple(act for act in facts.acts if act.day < day),
    )
    new = data.draw(terms(decided=day))
    changed = {turn.key: turn for turn in turns(replace(facts, terms=(*facts.terms, new)), day)}
    for turn in turns(facts, day):
        if state(turn, day).state is State.OVERDUE and turn.kind is not Kind.READING:
            after = state(changed[turn.key], day)
            assert after.state in (State.OVERDUE, State.MISSED)
            assert after.days_late == state(turn, day).days_late or after.state is State.MISSED


@given(histories(), DAYS)
def test_after_its_end_a_routine_owes_nothing(facts: Facts, day: date) -> None:
    if facts.retired is None or facts.retired.day > day:
        facts = replace(facts, retired=Retirement(day=day, recorded_at=at(day), because="scrapped"))
    assert all(turn.ended is not Ended.OPEN for turn in turns(facts, day))
