"""Acts: which count, what became of them, what was known when. Source: our own rules for records, worked by hand."""

from __future__ import annotations

import pytest

from maintenance.compute.schedule import (
    ENTERED_BY_MISTAKE,
    FAILED,
    NOT_VALID,
    Act,
    Allowance,
    Block,
    Fate,
    Mode,
    Retirement,
    State,
    Unit,
    blocks_as_known,
    next_change,
    not_fulfilled,
    replay,
    state,
    turns,
)
from tests.maintenance.compute.routines import act, at, fitted, fixed, floating, line, locked, on, routine, term


def fates(*done: Act, start: str = "31 Jan") -> list[tuple[Fate, tuple[str, ...]]]:
    facts = routine(fixed("31 Jan"), act("31 Jan", key="first"), *done, start=start)
    return [(fate.fate, fate.turns) for fate in replay(facts, on("30 Apr")).fates]


def test_every_act_is_told_what_it_did() -> None:
    told = fates(
        act("28 Feb", key="in time"),
        act("10 Mar", key="too early"),
        act("30 Mar", key="invalid", because=NOT_VALID),
        act("31 Mar", clock="09:00", key="closes"),
        act("31 Mar", clock="15:00", key="again"),
    )
    assert told == [
        (Fate.BEFORE_START, ()),
        (Fate.CLOSED, ("2026-02-28",)),
        (Fate.EXTRA, ()),
        (Fate.NOT_COUNTED, ()),
        (Fate.CLOSED, ("2026-03-31",)),
        (Fate.EXTRA, ()),
    ]


def test_the_first_counting_act_of_a_site_date_closes_the_turn() -> None:
    facts = routine(
        floating(),
        act("8 Feb"),
        act("10 Mar", clock="15:00", key="afternoon"),
        act("10 Mar", clock="09:00", key="morning"),
        start="8 Feb",
    )
    done = [turn for turn in turns(facts, on("10 Mar")) if turn.by_act]
    assert [(turn.due, turn.by_act) for turn in done] == [(on("10 Mar"), "morning")]


def test_one_a_day_counts_on_the_same_asset_too() -> None:
    facts = routine(
        floating(),
        act("8 Feb"),
        act("10 Mar", clock="09:00"),
        act("10 Mar", clock="15:00"),
        start="8 Feb",
        follows_asset=True,
        fittings=(fitted("old", "1 Feb"),),
    )
    assert [fate.fate for fate in replay(facts, on("10 Mar")).fates] == [Fate.BEFORE_START, Fate.CLOSED, Fate.EXTRA]


def test_an_invalid_act_in_the_morning_does_not_use_up_the_day() -> None:
    facts = routine(
        floating(), act("8 Feb"), act("10 Mar", clock="09:00", because=NOT_VALID), act("10 Mar", key="b"), start="8 Feb"
    )
    assert [turn.by_act for turn in turns(facts, on("10 Mar"))] == ["b", ""]


@pytest.mark.parametrize("because", [FAILED, NOT_VALID])
def test_the_newest_act_that_did_not_count_is_the_second_state(because: str) -> None:
    facts = routine(floating(), act("8 Feb"), act("10 Mar", key="a", because=because), start="8 Feb")
    second = not_fulfilled(facts, on("11 Mar"))
    assert second is not None
    assert (second.act, second.day, second.because) == ("a", on("10 Mar"), because)
    assert not_fulfilled(facts, on("9 Mar")) is None


def test_a_good_act_afterwards_ends_the_second_state() -> None:
    facts = routine(floating(), act("8 Feb"), act("10 Mar", because=FAILED), act("12 Mar"), start="8 Feb")
    assert not_fulfilled(facts, on("12 Mar")) is None


def test_an_entry_made_by_mistake_hides_nothing() -> None:
    facts = routine(
        floating(),
        act("8 Feb"),
        act("10 Mar", because=FAILED),
        act("12 Mar", key="slip"),
        act("12 Mar", key="taken back", replaces="slip", because=ENTERED_BY_MISTAKE),
        start="8 Feb",
    )
    second = not_fulfilled(facts, on("13 Mar"))
    assert second is not None
    assert second.because == FAILED
    assert [line(turn, on("13 Mar")) for turn in turns(facts, on("13 Mar"))] == ["10 Mar overdue late 3"]


def test_the_failure_of_a_probe_leaves_with_the_probe() -> None:
    done = (act("1 Mar"), act("4 Mar", because=FAILED, asset="old"))
    fittings = (fitted("old", "1 Feb"), fitted("new", "5 Mar"))
    facts = routine(floating(), *done, start="1 Mar", follows_asset=True, fittings=fittings)
    assert not_fulfilled(facts, on("4 Mar")) is not None
    assert not_fulfilled(facts, on("5 Mar")) is None


def test_work_on_an_asset_that_was_not_fitted_fulfils_nothing() -> None:
    fittings = (fitted("old", "1 Feb"),)
    facts = routine(
        floating(), act("1 Mar"), act("20 Mar", asset="new"), start="1 Mar", follows_asset=True, fittings=fittings
    )
    assert [fate.fate for fate in replay(facts, on("20 Mar")).fates] == [Fate.BEFORE_START, Fate.NOT_COUNTED]
    assert [line(turn, on("20 Mar")) for turn in turns(facts, on("20 Mar"))] == ["31 Mar not yet"]


def test_the_due_day_as_it_was_known_earlier() -> None:
    """Done 10 March, entered 14 March: on the 13th the plant could only know it as overdue."""
    facts = routine(floating(), act("8 Feb"), act("10 Mar", entered="14 Mar"), start="8 Feb")
    day = on("13 Mar")
    assert [line(turn, day) for turn in turns(facts, day, known_at=at(day))] == ["10 Mar overdue late 3"]
    assert [line(turn, day) for turn in turns(facts, day)] == ["10 Mar done 10 Mar", "9 Apr not yet"]


def test_a_correction_counts_only_from_when_it_was_known_and_keeps_the_turn_its_key() -> None:
    done = (act("10 Mar", key="a"), act("1 Mar", key="b", replaces="a", entered="12 Mar"))
    facts = routine(floating(), act("20 Feb"), *done, start="20 Feb")
    before = turns(facts, on("1 Apr"), known_at=at(on("11 Mar")))
    after = turns(facts, on("1 Apr"))
    assert [turn.due for turn in before] == [on("22 Mar"), on("9 Apr")]
    assert [turn.due for turn in after] == [on("22 Mar"), on("31 Mar")]
    assert before[-1].key == after[-1].key == "after a"


def test_a_correction_of_a_correction_leaves_the_last() -> None:
    done = (
        act("10 Mar", key="a"),
        act("1 Mar", key="b", replaces="a"),
        act("4 Mar", key="c", replaces="b"),
    )
    facts = routine(floating(), act("20 Feb"), *done, start="20 Feb")
    assert [turn.due for turn in turns(facts, on("1 Apr"))] == [on("22 Mar"), on("3 Apr")]


def test_terms_fittings_and_the_end_are_unknown_before_they_are_recorded() -> None:
    facts = routine(
        (floating(30), floating(14, decided="10 Mar")),
        act("1 Mar"),
        start="1 Mar",
        follows_asset=True,
        fittings=(fitted("old", "1 Feb"), fitted("new", "12 Mar")),
        retired=Retirement(day=on("14 Mar"), recorded_at=at(on("14 Mar")), because="scrapped"),
    )
    day = on("16 Mar")
    told = {seen: [line(turn, day) for turn in turns(facts, day, known_at=at(on(seen)))] for seen in KNOWN_ON}
    assert told == KNOWN_ON


KNOWN_ON = {
    "9 Mar": ["31 Mar not yet"],
    "11 Mar": ["15 Mar overdue late 1"],
    "13 Mar": ["12 Mar before use overdue late 4", "15 Mar withdrawn 12 Mar (asset taken out)"],
    "15 Mar": ["12 Mar before use withdrawn 14 Mar (scrapped)", "15 Mar withdrawn 12 Mar (asset taken out)"],
}


def test_a_release_recorded_later_was_not_known() -> None:
    block = Block(
        from_day=on("1 Mar"),
        to_day=on("12 Mar"),
        because="locked out",
        recorded_at=at(on("1 Mar")),
        to_recorded_at=at(on("14 Mar")),
    )
    facts = routine(floating(), act("8 Feb"), start="8 Feb")
    (turn,) = turns(facts, on("13 Mar"))
    seen = [state(turn, on("13 Mar"), blocks_as_known((block,), at(on(d)))).state for d in ("13 Mar", "15 Mar")]
    assert seen == [State.BLOCKED, State.OVERDUE]
    assert blocks_as_known((block,), at(on("28 Feb"))) == ()


def test_one_block_by_two_reasons_is_counted_once_and_says_both() -> None:
    facts = routine(floating(), act("8 Feb"), start="8 Feb")
    (turn,) = turns(facts, on("16 Mar"))
    seen = state(turn, on("16 Mar"), (locked("1 Mar"), locked("12 Mar", because="drained")))
    assert (seen.blocked_days, seen.because) == (6, "locked out, drained")


def test_blocked_when_already_overdue_keeps_saying_how_late_it_was() -> None:
    facts = routine(floating(), act("8 Feb"), start="8 Feb")
    (turn,) = turns(facts, on("16 Mar"))
    seen = state(turn, on("16 Mar"), (locked("13 Mar"),))
    assert (seen.state, seen.overdue_when_blocked, seen.days_late) == (State.BLOCKED, 3, 0)


def test_done_late_after_a_block_keeps_all_three_counts() -> None:
    """Due 10 March, 2 days allowed, locked 1 to 20 March, done 23 March."""
    facts = routine(floating(late=Allowance(2)), *(act("8 Feb"), act("23 Mar")), start="8 Feb")
    turn = turns(facts, on("23 Mar"))[0]
    seen = state(turn, on("23 Mar"), (locked("1 Mar", "20 Mar"),))
    assert (seen.days_late, seen.days_after_due, seen.days_after_allowed, seen.blocked_days) == (3, 13, 11, 10)
    assert not turn.on_time
    assert not turn.within_allowed


def test_a_turn_looked_at_on_a_day_before_it_was_done_was_open_then() -> None:
    facts = routine(floating(), *(act("8 Feb"), act("12 Mar")), start="8 Feb")
    turn = turns(facts, on("12 Mar"))[0]
    seen = [state(turn, on(day)) for day in ("10 Mar", "11 Mar", "12 Mar")]
    assert [(s.state, s.days_late) for s in seen] == [(State.DUE, 0), (State.OVERDUE, 1), (State.DONE, 2)]


def test_the_next_known_change_is_found() -> None:
    facts = routine((floating(30), floating(14, decided="10 Mar")), act("1 Mar"), start="1 Mar")
    assert next_change(facts, on("1 Mar")) == on("10 Mar")
    assert next_change(facts, on("10 Mar")) is None


def test_of_two_terms_decided_on_one_day_the_later_holds() -> None:
    first, second = floating(30), floating(14)
    later = term(Mode.FLOATING, (14, Unit.DAY), decided="1 Jan")
    assert second == later
    facts = routine(
        (first, floating(60, decided="10 Mar"), floating(14, decided="10 Mar")), act("1 Mar"), start="1 Mar"
    )
    assert [turn.due for turn in turns(facts, on("10 Mar"))] == [on("15 Mar")]


def test_nothing_is_owed_before_the_start_or_without_terms() -> None:
    assert turns(routine(floating(), start="3 Mar"), on("2 Mar")) == ()
    assert turns(routine((), start="3 Mar"), on("4 Mar")) == ()


@pytest.mark.parametrize(
    ("done", "sentence"),
    [
        ((act("1 Mar", key="a"), act("2 Mar", key="a")), "Two acts have the key a"),
        (
            (act("1 Mar", key="b", replaces="a"), act("2 Mar", key="c", replaces="a")),
            "Two acts correct the act a",
        ),
        ((act("1 Mar", key="a", replaces="b"), act("2 Mar", key="b", replaces="a")), "circle"),
        ((act("1 Mar", key="a", replaces="a"),), "circle"),
    ],
)
def test_acts_that_contradict_each_other_are_refused(done: tuple[Act, ...], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        routine(floating(), *done, start="1 Mar")


def test_a_release_before_the_block_is_refused() -> None:
    with pytest.raises(ValueError, match="before the block began"):
        locked("2 Mar", "1 Mar")


def test_a_grid_without_anchor_and_an_interval_of_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="Anchor"):
        term(Mode.FIXED)
    with pytest.raises(ValueError, match="Interval: 0 days"):
        floating(0)
