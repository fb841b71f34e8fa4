"""The word for a turn on a day: against the rules walked day by day, and against one comparison in SQL."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from maintenance.compute.schedule import (
    NEVER,
    Block,
    Deferral,
    Facts,
    Kind,
    Mode,
    State,
    StoredTurn,
    Turn,
    next_change,
    state,
    state_of_row,
    stored_turn,
    turns,
)
from tests.maintenance.compute.histories import LAST, day_after, deferrals_of, histories, histories_of_blocks
from tests.maintenance.compute.routines import act, days_between, floating, on, put_off, routine
from tests.maintenance.compute.stories import Story
from tests.maintenance.compute.test_cases import STORIES

WORD_IN_SQL = """
SELECT CASE
  WHEN :ended <> 'open' AND :ended_on <= :day THEN :ended
  WHEN :missed_from <= :day THEN 'missed'
  WHEN :blocked_from <= :day THEN 'blocked'
  WHEN :blocked_from > :day THEN 'not yet'
  WHEN :day < :deferred_until THEN 'deferred'
  WHEN :day > :latest OR :day > :use_latest THEN 'overdue'
  WHEN :day > :due THEN 'late but allowed'
  WHEN :day = :due OR :day >= :use_due THEN 'due'
  WHEN :day >= :earliest OR :day >= :use_earliest THEN 'can be done now'
  ELSE 'not yet' END
"""
DAYS_STORED = [
    *("due", "earliest", "latest", "blocked_from", "missed_from", "ended_on"),
    *("deferred_until", "use_earliest", "use_due", "use_latest"),
]
DATABASE = sqlite3.connect(":memory:")


def word_in_sql(row: StoredTurn, day: date) -> str:
    """State by SQLite from the stored columns and the day alone; days as ISO text, NULL where there is none."""
    columns = {name: getattr(row, name) for name in DAYS_STORED}
    texts = {name: None if value is None else value.isoformat() for name, value in columns.items()}
    answer = DATABASE.execute(WORD_IN_SQL, {**texts, "ended": row.ended.value, "day": day.isoformat()}).fetchone()
    return str(answer[0])


def known_on(blocks: Sequence[Block], day: date) -> tuple[Block, ...]:
    """Blocks as they stood on `day`: begun, and released only if they were released by then."""
    begun = (block for block in blocks if block.from_day <= day)
    return tuple(replace(b, to_day=None) if b.to_day is not None and b.to_day > day else b for b in begun)


def days_of_writing(facts: Facts, blocks: Sequence[Block], last: date, deferrals: Sequence[Deferral] = ()) -> set[date]:
    """Days on which something happens that makes an action or the night's task write the rows anew."""
    days = {act.day for act in facts.acts} | {block.from_day for block in blocks}
    days |= {block.to_day for block in blocks if block.to_day is not None} | {facts.start}
    days |= {deferral.approved_on for deferral in deferrals}
    change = next_change(facts, facts.start, deferrals)
    while change is not None:
        days.add(change)
        change = next_change(facts, change, deferrals)
    return {day for day in days if facts.start <= day <= last}


def assert_rows_agree(facts: Facts, blocks: Sequence[Block], last: date, deferrals: Sequence[Deferral] = ()) -> int:
    """Rows written only when something happened say on every day what the formula says on that day."""
    written_on = days_of_writing(facts, blocks, last, deferrals)
    rows: dict[str, StoredTurn] = {}
    compared = 0
    for day in days_between(facts.start, last):
        if day in written_on:
            found = turns(facts, day, until=last)
            approved = [one for one in deferrals if one.approved_on <= day]
            rows = {turn.key: stored_turn(turn, known_on(blocks, day), day, approved) for turn in found}
        for turn in turns(facts, day):
            word = state(turn, day, blocks, deferrals).state
            assert word_in_sql(rows[turn.key], day) == word.value, (turn, day)
            assert state_of_row(rows[turn.key], day) is word
            compared += 1
    return compared


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.name)
def test_stored_columns_say_the_same_word_on_every_day_of_every_story(story: Story) -> None:
    last = min(story.facts.start + timedelta(days=400), date(2031, 12, 31))
    assert assert_rows_agree(story.facts, story.blocks, last) >= 400


@settings(deadline=None, max_examples=60)  # each example walks half a year of days
@given(st.data(), histories_of_blocks())
def test_stored_columns_say_the_same_word_in_every_history(data: st.DataObject, blocks: tuple[Block, ...]) -> None:
    facts = data.draw(histories())
    deferrals = data.draw(deferrals_of(tuple(turn.key for turn in turns(facts, day_after(LAST)))))
    assert_rows_agree(facts, blocks, day_after(LAST + 30), deferrals)


@pytest.mark.parametrize("mode", Mode)
@settings(deadline=None, max_examples=12)
@given(data=st.data(), blocks=histories_of_blocks())
def test_stored_columns_say_the_same_word_in_each_mode(
    mode: Mode, data: st.DataObject, blocks: tuple[Block, ...]
) -> None:
    facts = data.draw(histories(modes=(mode,), changes=1))
    deferrals = data.draw(deferrals_of(tuple(turn.key for turn in turns(facts, day_after(LAST)))))
    assert_rows_agree(facts, blocks, day_after(LAST + 30), deferrals)


class Walk:
    """A pair of due and last allowed day, carried from day to day as a person would with the rules and a calendar."""

    def __init__(self, due: date, latest: date) -> None:
        self.due, self.latest = due, latest

    def release(self, began: date, today: date) -> None:
        if began <= self.latest and today > self.due:
            self.due, self.latest = today, max(self.latest, today)


def word_by_hand(  # noqa: C901  the rules, one by one
    turn: Turn, day: date, blocks: Sequence[Block], deferrals: Sequence[Deferral] = ()
) -> str:
    """Word by walking day by day. Source: our own rules, in their order of precedence."""
    if turn.ended_on is not None and turn.ended_on <= day:
        return turn.ended.value
    if turn.missed_from is not None and turn.missed_from <= day:
        return "missed"
    felt = [b for b in blocks if b.from_day != b.to_day and (turn.while_running if b.off else not turn.by_rule)]
    felt = [] if turn.kind is Kind.READING else felt
    asked = [] if turn.by_rule else sorted((d for d in deferrals if d.turn == turn.key), key=lambda d: d.key)
    use = turn.use
    dates = Walk(turn.due, turn.latest)
    by_use = Walk((use.due if use else None) or NEVER, (use.latest if use else None) or NEVER)
    put_off: list[date] = []  # deferrals that still hold
    from_tomorrow: list[date] = []  # approved when it was overdue: they hold from the day after

    def effective(walk: Walk, until: Sequence[date]) -> Walk:
        return Walk(max([walk.due, *until]), max([walk.latest, *until]))

    walked = min([turn.own_due, day, *(one.approved_on for one in asked)])
    while walked <= day:
        put_off += from_tomorrow
        from_tomorrow = []
        for block in felt:
            if block.to_day == walked:
                for walk in (dates, by_use):
                    now = effective(walk, put_off)
                    now.release(block.from_day, walked)
                    if now.due == walked:
                        walk.due, walk.latest = now.due, now.latest
        for one in (one for one in asked if one.approved_on == walked):
            late = walked > min(effective(dates, put_off).latest, effective(by_use, put_off).latest)
            (from_tomorrow if late else put_off).append(one.to_day)
        if walked >= turn.own_due and any(block.covers(walked) for block in felt):
            put_off = [min(until, walked) for until in put_off]
            from_tomorrow = [min(until, walked) for until in from_tomorrow]
        walked += timedelta(days=1)
    if any(block.covers(day) for block in felt):
        return "blocked" if day >= turn.own_due else "not yet"
    if any(day < until for until in put_off):
        return "deferred"
    dates, by_use = effective(dates, put_off), effective(by_use, put_off)
    if day > dates.latest or day > by_use.latest:
        return "overdue"
    if day > dates.due:
        return "late but allowed"
    if day == dates.due or day >= by_use.due:
        return "due"
    return "can be done now" if day >= min(turn.earliest, (use.earliest if use else None) or NEVER) else "not yet"


@given(st.data(), histories_of_blocks(), st.integers(0, LAST + 40).map(day_after))
def test_the_word_is_the_one_found_by_walking_the_days(
    data: st.DataObject, blocks: tuple[Block, ...], day: date
) -> None:
    facts = data.draw(histories())
    found = turns(facts, day)
    deferrals = data.draw(deferrals_of(tuple(turn.key for turn in found)))
    for turn in found:
        assert state(turn, day, blocks, deferrals).state.value == word_by_hand(turn, day, blocks, deferrals)


@given(histories_of_blocks(), st.integers(-30, LAST), st.integers(0, 60))
def test_blocked_days_are_the_days_on_which_a_block_was_on(blocks: tuple[Block, ...], due: int, after: int) -> None:
    day = day_after(due + after)
    owed = day_after(due)
    turn = Turn(key="a", kind=Kind.ONCE, due=owed, earliest=owed, latest=owed, while_running=True)
    stopped = [d for d in days_between(turn.due, day - timedelta(days=1)) if any(b.covers(d) for b in blocks)]
    assert state(turn, day, blocks).blocked_days == len(stopped)


def test_every_word_is_met() -> None:
    """The stories and histories above would prove little if a word never came up."""
    met = {
        state(turn, day, story.blocks).state
        for story in STORIES
        for day in days_between(story.facts.start, min(story.facts.start + timedelta(days=90), date(2031, 1, 1)))
        for turn in turns(story.facts, day)
    }
    facts = routine(floating(30), act("8 Feb"), start="8 Feb")
    (owed,) = turns(facts, on("12 Mar"))
    met.add(state(owed, on("12 Mar"), (), (put_off(owed, "9 Mar", "15 Mar"),)).state)
    assert met == set(State)
