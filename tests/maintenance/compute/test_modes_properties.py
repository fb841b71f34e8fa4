"""What must hold in each mode for every history: against pandas, sets of days and plain walks through the facts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from maintenance.compute.schedule import (
    BEFORE_USE,
    OUTSIDE_LIMITS,
    Act,
    Ended,
    Facts,
    Fate,
    Kind,
    Metered,
    Mode,
    Outcome,
    Run,
    Season,
    State,
    Term,
    Unit,
    Value,
    off_stretches,
    outcome,
    period_of,
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
    histories_of_runs,
    histories_of_totals,
    histories_of_values,
    terms,
)
from tests.maintenance.compute.routines import at, days_between

DAYS = st.integers(0, LAST + 40).map(day_after)
SEASONS = st.sampled_from([Season(first=(5, 1), last=(9, 30)), Season(first=(12, 1), last=(2, 28))])
MOSTLY_WATCHED = (Mode.CONDITION, Mode.CONDITION, Mode.CONDITION, Mode.FLOATING, Mode.FIXED)
PANDAS_PERIOD = {(1, Unit.WEEK): "W-SUN", (1, Unit.MONTH): "M", (3, Unit.MONTH): "Q", (1, Unit.YEAR): "Y"}


def done_days(acts: tuple[Act, ...], term: Term, day: date) -> list[date]:
    """Days up to `day` on which the routine was done, each once: nothing corrected, failed, or done elsewhere."""
    corrected = {act.replaces for act in acts}
    standing = [act for act in acts if act.key not in corrected and act.counts and not act.routine]
    return sorted({act.day for act in standing if act.day <= day and (act.in_place or term.bench)})


@pytest.mark.parametrize(("every", "unit"), PANDAS_PERIOD)
@given(day=st.dates(date(2000, 1, 1), date(2099, 12, 31)))
def test_calendar_periods_are_those_of_pandas(every: int, unit: Unit, day: date) -> None:
    """Reference: pandas.Period; weeks begin on Monday as in ISO 8601."""
    period = pd.Period(day, freq=PANDAS_PERIOD[every, unit])
    assert period_of(day, every, unit) == (period.start_time.date(), period.end_time.date())


@given(day=st.dates(date(2000, 1, 1), date(2099, 12, 31)))
def test_a_half_year_is_two_quarters(day: date) -> None:
    first, last = period_of(day, 6, Unit.MONTH)
    quarters = {period_of(first, 3, Unit.MONTH), period_of(last, 3, Unit.MONTH)}
    assert sorted(quarters)[0][0] == first and sorted(quarters)[1][1] == last
    assert first <= day <= last


@given(terms(modes=(Mode.PERIOD,)), histories_of_acts(), DAYS)
def test_each_period_counts_one_time_and_never_two_too_close(term: Term, acts: tuple[Act, ...], day: date) -> None:
    """Reference: a walk through the days done, taking each period's first one that is far enough from the last."""
    found = turns(Facts(start=START, terms=(term,), acts=acts), day)
    periods = {turn.due: turn for turn in found if turn.kind is Kind.GRID}
    owed_once = next((turn for turn in found if turn.kind is Kind.ONCE), None)
    done = done_days(acts, term, day)
    last_counted = max((one for one in done if one <= START), default=None)
    taken: dict[date, date] = {}
    for one in done:
        _, due = period_of(one, term.every, term.unit)
        begun = one > START or one == last_counted
        apart = last_counted is None or one == last_counted or (one - last_counted).days >= term.spacing
        apart = apart or one == due  # no day may be left but the last
        # The first work closes a demand for want of a record; it is the period's own only where that lies in it.
        first = owed_once is not None and owed_once.ended_on == one
        own = not first or period_of(START, term.every, term.unit)[1] == due
        if begun and due > START and due not in taken and apart and own:
            taken[due] = one
        if begun and (first or taken.get(due) == one):
            last_counted = one
    assert {due: turn.ended_on for due, turn in periods.items() if turn.ended is Ended.DONE} == taken
    for due, turn in periods.items():
        assert (turn.ended is Ended.MISSED) == (due < day and due not in taken)
        assert state(turn, day).state is not State.OVERDUE


@given(terms(modes=(Mode.RUNNING,)), histories_of_runs(), histories_of_acts(), DAYS)
def test_each_day_of_running_is_owed_once(term: Term, runs: tuple[Run, ...], acts: tuple[Act, ...], day: date) -> None:
    """Reference: the set of days on which the unit ran."""
    found = turns(Facts(start=START, terms=(term,), acts=acts, runs=runs), day)
    ran = {
        d
        for d in days_between(START, day)
        if any(r.from_day <= d and (r.last_day is None or d <= r.last_day) for r in runs)
    }
    done = set(done_days(acts, term, day))
    assert [turn.due for turn in found if turn.due <= day] == sorted(ran)
    for turn in found:
        if turn.due <= day:
            expected = Ended.DONE if turn.due in done else Ended.OPEN if turn.due == day else Ended.MISSED
            assert turn.ended is expected
    assert all(state(turn, day).state is State.NOT_YET for turn in found if turn.due > day)


@given(histories_of_runs())
def test_days_of_running_and_of_standing_still_are_all_days(runs: tuple[Run, ...]) -> None:
    off = off_stretches(runs, first=START)
    for d in days_between(START, day_after(LAST)):
        ran = any(r.from_day <= d and (r.last_day is None or d <= r.last_day) for r in runs)
        assert ran is not any(block.covers(d) for block in off)


@given(terms(modes=(Mode.USAGE,)), histories_of_totals(), DAYS)
def test_by_use_the_word_is_told_by_the_totals_known_that_day(
    term: Term, metered: tuple[Metered, ...], day: date
) -> None:
    """Reference: the highest total known by the end of the day, held against what is allowed."""
    done = Act(key="a", day=START, performed_at=START_NOON, recorded_at=START_NOON)
    (turn,) = [
        turn
        for turn in turns(Facts(start=START, terms=(term,), acts=(done,), metered=metered), day)
        if turn.kind is Kind.FLOATING
    ]
    assert term.use is not None
    read = [one for one in metered if one.at <= START_NOON] or list(metered[:1])
    known = [one.total for one in metered if one.known_on <= day and one.day <= day and one.at >= START_NOON]
    if not read or not known or (read == list(metered[:1]) and read[0].day > day):
        assert state(turn, day).state is State.NOT_YET
        return
    left = max(known) - max(one.total for one in read) - term.use.every
    word = State.OVERDUE
    if left < -term.use.early:
        word = State.NOT_YET
    elif left < 0:
        word = State.CAN_BE_DONE
    elif left <= (0 if term.by_rule else term.use.late):
        word = State.DUE
    assert state(turn, day).state is word


START_NOON = pd.Timestamp(START, tz="UTC").to_pydatetime() + timedelta(hours=12)


@given(terms(modes=(Mode.CONDITION,)), histories_of_values(), histories_of_acts(), DAYS)
def test_on_a_condition_each_demand_follows_a_value_outside_and_work_ends_it(
    term: Term, values: tuple[Value, ...], acts: tuple[Act, ...], day: date
) -> None:
    facts = Facts(start=START, terms=(term,), acts=acts, values=values)
    found = turns(facts, day)
    by_key = {f"seen {value.key}": value for value in values}
    assert term.limits is not None
    for turn in found:
        value = by_key[turn.key]
        assert term.limits.outside(value.value)
        seen = max(value.day, value.known_on, START)
        assert (turn.earliest, turn.due) == (seen, seen + timedelta(days=term.limits.answer_days))
    assert sum(turn.ended is Ended.OPEN for turn in found) <= 1
    newest = [value for value in values if value.day <= day]
    last_done = max(done_days(acts, term, day), default=date.min)
    if newest and term.limits.outside(newest[-1].value) and newest[-1].day > max(last_done, START):
        assert [turn for turn in found if turn.ended is Ended.OPEN]


@given(histories(modes=MOSTLY_WATCHED), terms(), st.none() | SEASONS, st.integers(1, LAST), st.data())
def test_what_a_condition_raised_before_new_terms_of_the_same_day_never_vanishes(
    facts: Facts, new: Term, season: Season | None, n: int, data: st.DataObject
) -> None:
    """Reference: the turns as they were known at noon. Each is still there: as it was, or ended with a reason."""
    day = day_after(n)
    noon = at(day, "12:00")
    morning = data.draw(
        st.lists(st.tuples(st.integers(0, 23), st.integers(5, 15)), max_size=4, unique_by=lambda p: p[0])
    )
    seen = tuple(
        Value(key=f"m{hour}", at=one, day=day, value=Fraction(number), known_on=day, recorded_at=one, told=f"{number}")
        for hour, number in morning
        for one in [at(day, f"{hour:02}:30")]
    )
    facts = replace(
        facts, values=(*facts.values, *seen), pauses=(), retired=None,
        terms=tuple(one for one in facts.terms if one.takes_effect < day),
    )  # fmt: skip
    season = None if new.mode is Mode.FIXED else season
    term = replace(new, from_day=day, decided_on=day, recorded_at=noon, season=season)
    known = facts.as_known(noon - timedelta(seconds=1))
    before = [turn for turn in turns(known, day) if turn.why == OUTSIDE_LIMITS]
    changed = turns(replace(known, terms=(*known.terms, term)), day)
    after = {turn.key: turn for turn in changed}
    for turn in before:
        kept = after[turn.key]
        assert (kept.due, kept.earliest, kept.seen, kept.good) == (turn.due, turn.earliest, turn.seen, turn.good)
        if turn.ended is Ended.OPEN:
            assert kept.ended is not Ended.DONE
            assert kept.because if kept.ended is not Ended.OPEN else kept.good_until == (turn.good_until or day)
        elif not (season is not None and turn.ended_on == day and kept.because):
            # A day out of season is so from its beginning, whatever was done that morning.
            assert (kept.ended, kept.ended_on, kept.by_act) == (turn.ended, turn.ended_on, turn.by_act)
    later = turns(replace(facts, terms=(*facts.terms, term)), day)
    afternoon = {f"seen {value.key}" for value in seen if value.at >= noon}
    assert term.mode is Mode.CONDITION or not afternoon & {turn.key for turn in later}


@pytest.mark.parametrize("mode", Mode)
@settings(max_examples=25)
@given(data=st.data(), day=DAYS)
def test_in_each_mode_a_turn_ends_once_and_work_ends_turns_or_is_extra(
    mode: Mode, data: st.DataObject, day: date
) -> None:
    facts = data.draw(histories(modes=(mode,), changes=1))
    found = replay(facts, day)
    assert len({turn.key for turn in found.turns}) == len(found.turns)
    closing = {fate.act: fate.turns for fate in found.fates if fate.turns}
    for turn in found.turns:
        assert (turn.ended is Ended.DONE) == (turn.key in closing.get(turn.by_act, ()))
        assert (outcome(turn) is None) == (turn.ended is Ended.OPEN)
    for fate in found.fates:
        assert (fate.fate is Fate.CLOSED) == bool(fate.turns)
        assert len([key for key in fate.turns if any(t.key == key and t.kind is Kind.GRID for t in found.turns)]) <= 1


@given(histories(), histories_of_blocks(), DAYS)
def test_in_a_pause_nothing_is_asked(facts: Facts, blocks: tuple[object, ...], day: date) -> None:
    """Only the turn of a later day of the calendar may already be done early."""
    if not facts.paused_on(day) or facts.start > day:
        return
    for turn in turns(facts, day):
        if turn.ended is Ended.OPEN:
            assert turn.own_due > day
            assert state(turn, day, blocks).state in (State.NOT_YET, State.CAN_BE_DONE)  # type: ignore[arg-type]


@given(histories(), DAYS)
def test_a_pause_leaves_no_due_day_of_the_calendar_and_one_check_at_most_a_return(facts: Facts, day: date) -> None:
    found = turns(facts, day)
    for turn in found:
        if turn.kind is Kind.GRID and turn.base is None:
            assert not facts.paused_on(turn.due)
    returns = [turn for turn in found if turn.why == BEFORE_USE and " from " in turn.key]
    assert len({turn.due for turn in returns}) == len(returns)
    assert {turn.due for turn in returns} <= {pause.to_day for pause in facts.pauses}


@given(histories(), DAYS)
def test_what_counts_as_on_time_does_not_depend_on_the_day_it_is_asked(facts: Facts, day: date) -> None:
    later = {turn.key: turn for turn in turns(facts, day + timedelta(days=20))}
    for turn in turns(facts, day):
        told = outcome(turn)
        if told in (Outcome.MISSED, Outcome.WITHDRAWN) or (told is not None and turn.use is None):
            assert outcome(later[turn.key]) is told


@given(histories(), DAYS)
def test_a_meter_is_asked_for_only_where_use_counts(facts: Facts, day: date) -> None:
    without = replace(facts, terms=tuple(replace(one, mode=Mode.FLOATING, spacing=0) for one in facts.terms))
    assert not [turn for turn in turns(without, day) if turn.kind is Kind.READING]
    asked = [turn for turn in turns(facts, day) if turn.kind is Kind.READING]
    assert len(asked) <= 1
