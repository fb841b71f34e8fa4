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
    Block,
    Facts,
    Kind,
    State,
    StoredTurn,
    Turn,
    next_change,
    state,
    stored_turn,
    turns,
)
from tests.maintenance.compute.histories import LAST, day_after, histories, histories_of_blocks
from tests.maintenance.compute.routines import days_between
from tests.maintenance.compute.stories import Story
from tests.maintenance.compute.test_cases import STORIES

WORD_IN_SQL = """
SELECT CASE
  WHEN :ended <> 'open' THEN :ended
  WHEN :missed_from <= :day THEN 'missed'
  WHEN :blocked_from <= :day THEN 'blocked'
  WHEN :blocked_from > :day THEN 'not yet'
  WHEN :day > :latest THEN 'overdue'
  WHEN :day > :due THEN 'late but allowed'
  WHEN :day = :due THEN 'due'
  WHEN :day >= :earliest THEN 'can be done now'
  ELSE 'not yet' END
"""
DATABASE = sqlite3.connect(":memory:")


def word_in_sql(row: StoredTurn, day: date) -> str:
    """State by SQLite from the stored columns and the day alone; days as ISO text, NULL where there is none."""
    columns = {name: getattr(row, name) for name in ("due", "earliest", "latest", "blocked_from", "missed_from")}
    texts = {name: None if value is None else value.isoformat() for name, value in columns.items()}
    answer = DATABASE.execute(WORD_IN_SQL, {**texts, "ended": row.ended.value, "day": day.isoformat()}).fetchone()
    return str(answer[0])


def known_on(blocks: Sequence[Block], day: date) -> tuple[Block, ...]:
    """Blocks as they stood on `day`: begun, and released only if they were released by then."""
    begun = (block for block in blocks if block.from_day <= day)
    return tuple(replace(b, to_day=None) if b.to_day is not None and b.to_day > day else b for b in begun)


def days_of_writing(facts: Facts, blocks: Sequence[Block], last: date) -> set[date]:
    """Days on which something happens that makes an action write the rows anew."""
    days = {act.day for act in facts.acts} | {block.from_day for block in blocks}
    days |= {block.to_day for block in blocks if block.to_day is not None} | {facts.start}
    change = next_change(facts, facts.start)
    while change is not None:
        days.add(change)
        change = next_change(facts, change)
    return {day for day in days if facts.start <= day <= last}


def assert_rows_agree(facts: Facts, blocks: Sequence[Block], last: date) -> int:
    """Rows written only when something happened say on every day what the formula says on that day."""
    written_on = days_of_writing(facts, blocks, last)
    rows: dict[str, StoredTurn] = {}
    compared = 0
    for day in days_between(facts.start, last):
        if day in written_on:
            found = turns(facts, day, until=last)
            rows = {turn.key: stored_turn(turn, known_on(blocks, day), day) for turn in found}
        for turn in turns(facts, day):
            assert word_in_sql(rows[turn.key], day) == state(turn, day, blocks).state.value, (turn, day)
            compared += 1
    return compared


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.name)
def test_stored_columns_say_the_same_word_on_every_day_of_every_story(story: Story) -> None:
    last = min(story.facts.start + timedelta(days=400), date(2031, 12, 31))
    assert assert_rows_agree(story.facts, story.blocks, last) >= 400


@settings(deadline=None, max_examples=60)  # each example walks half a year of days
@given(histories(), histories_of_blocks())
def test_stored_columns_say_the_same_word_in_every_history(facts: Facts, blocks: tuple[Block, ...]) -> None:
    assert_rows_agree(facts, blocks, day_after(LAST + 30))


def word_by_hand(turn: Turn, day: date, blocks: Sequence[Block]) -> str:  # noqa: C901  the rules, one by one
    """Word by walking from the due day to `day`, as a person would with the rules and a calendar.

    Source: our own rules, in their order of precedence.
    """
    if turn.ended_on is not None and turn.ended_on <= day:
        return turn.ended.value
    if turn.missed_from is not None and turn.missed_from <= day:
        return "missed"
    felt = [] if turn.by_rule else blocks
    due, last_allowed = turn.due, turn.latest
    walked = turn.due
    while walked <= day:
        for block in felt:
            begun_in_time = block.from_day <= last_allowed
            if block.to_day == walked and block.from_day < walked and begun_in_time and walked > due:
                due, last_allowed = walked, max(last_allowed, walked)
        walked += timedelta(days=1)
    if any(block.covers(day) for block in felt):
        return "blocked" if day >= turn.due else "not yet"
    if day > last_allowed:
        return "overdue"
    if day > due:
        return "late but allowed"
    if day == due:
        return "due"
    return "can be done now" if day >= turn.earliest else "not yet"


@given(histories(), histories_of_blocks(), st.integers(0, LAST + 40).map(day_after))
def test_the_word_is_the_one_found_by_walking_the_days(facts: Facts, blocks: tuple[Block, ...], day: date) -> None:
    for turn in turns(facts, day):
        assert state(turn, day, blocks).state.value == word_by_hand(turn, day, blocks)


@given(histories_of_blocks(), st.integers(-30, LAST), st.integers(0, 60))
def test_blocked_days_are_the_days_on_which_a_block_was_on(blocks: tuple[Block, ...], due: int, after: int) -> None:
    day = day_after(due + after)
    turn = Turn(key="a", kind=Kind.ONCE, due=day_after(due), earliest=day_after(due), latest=day_after(due))
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
    assert met == set(State)
