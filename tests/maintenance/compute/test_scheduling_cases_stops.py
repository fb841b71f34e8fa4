"""Work that is stopped, put off, out of season, taken over by other work, or ended: the cases on dates worked by hand.

Source: the Gregorian calendar for the dates; the rules are our own, after SR 3.0.2 and 3.0.3 in their idea (a deferral
is a decision with a risk accepted, not a habit; from memory). Lines read as in `routines.line`.
"""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

import pytest

from maintenance.compute.schedule import (
    BEFORE_USE,
    Allowance,
    AlsoFulfils,
    Block,
    Deferral,
    Ended,
    Fate,
    Need,
    Outcome,
    Retirement,
    State,
    Unit,
    off_stretches,
    outcome,
    refused,
    replay,
    share_kept,
    state,
    turns,
)
from tests.maintenance.compute.routines import (
    act,
    acts,
    at,
    fitted,
    fixed,
    floating,
    lines,
    locked,
    on,
    owed,
    put_off,
    ran,
    routine,
    season,
)
from tests.maintenance.compute.stories import LOCKED, MONTHLY_ON_THE_TENTH, PROBE_SWAPPED, thirty_days


@pytest.mark.parametrize(
    ("facts", "then"),
    [
        (thirty_days(act("20 Mar")), "19 Apr"),
        (routine(fixed("10 Feb"), *acts("10 Feb", "20 Mar"), start="10 Feb"), "10 Apr"),
    ],
    ids=["an interval", "fixed days"],
)
def test_17_locked_over_its_due_day_it_is_blocked_and_done_on_release_not_on_time(facts: object, then: str) -> None:
    not_done = thirty_days() if then == "19 Apr" else MONTHLY_ON_THE_TENTH
    seen = [state(owed(not_done, day), on(day), LOCKED).state for day in ("9 Mar", "10 Mar", "19 Mar", "20 Mar")]
    assert seen == [State.NOT_YET, State.BLOCKED, State.BLOCKED, State.DUE]
    turn, following = turns(facts, on("20 Mar"))  # type: ignore[arg-type]
    assert state(turn, on("20 Mar"), LOCKED).blocked_days == 10
    assert outcome(turn, LOCKED) is Outcome.LATE
    assert following.due == on(then)


def test_17_what_a_rule_demands_is_never_stopped_by_our_lock() -> None:
    facts = routine(floating(5, by_rule=True), act("27 Feb"), start="27 Feb")
    assert lines(facts, "5 Mar", LOCKED) == ["4 Mar overdue (locked out) late 1"]


def test_17_a_rule_that_says_so_counts_only_while_the_unit_runs() -> None:
    """Ran to 3 March and again from 11 March; due 4 March."""
    runs = (ran("20 Feb", "3 Mar"), ran("11 Mar"))
    off = off_stretches(runs, first=on("20 Feb"))
    assert [(block.from_day, block.to_day) for block in off] == [(on("4 Mar"), on("11 Mar"))]
    facts = routine(floating(5, by_rule=True, while_running=True), act("27 Feb"), start="27 Feb")
    assert lines(facts, "6 Mar", off) == ["4 Mar blocked (not running) blocked 2"]
    assert lines(facts, "11 Mar", off) == ["4 Mar due blocked 7"]
    assert lines(facts, "12 Mar", off) == ["4 Mar overdue late 1 blocked 7"]
    assert state(owed(facts, "6 Mar"), on("6 Mar"), LOCKED).state is State.OVERDUE  # a lock is no such reason
    always = routine(floating(5, by_rule=True), act("27 Feb"), start="27 Feb")
    assert lines(always, "6 Mar", off) == ["4 Mar overdue late 2"]


DUE_10_MAR = thirty_days(late=Allowance(0))


def test_18_a_deferral_that_a_lock_ended_does_not_revive() -> None:
    turn = owed(DUE_10_MAR, "9 Mar")
    deferred = (put_off(turn, "9 Mar", "15 Mar"),)
    block = (locked("12 Mar", "18 Mar"),)
    said = {day: state(turn, on(day), block, deferred).state for day in DAY_BY_DAY}
    assert said == DAY_BY_DAY
    overdue = state(turn, on("19 Mar"), block, deferred)
    assert (overdue.due, overdue.days_late, overdue.days_after_due, overdue.blocked_days) == (on("18 Mar"), 1, 9, 6)


DAY_BY_DAY = {
    "8 Mar": State.CAN_BE_DONE,
    "9 Mar": State.DEFERRED,
    "11 Mar": State.DEFERRED,
    "12 Mar": State.BLOCKED,
    "17 Mar": State.BLOCKED,
    "18 Mar": State.DUE,
    "19 Mar": State.OVERDUE,
}


def test_18_a_lock_released_before_the_deferral_ends_has_ended_it_all_the_same() -> None:
    turn = owed(DUE_10_MAR, "9 Mar")
    deferred = (put_off(turn, "9 Mar", "15 Mar"),)
    over_due_day = (locked("12 Mar", "13 Mar"),)
    seen = [state(turn, on(day), over_due_day, deferred).state for day in ("11 Mar", "12 Mar", "13 Mar", "14 Mar")]
    assert seen == [State.DEFERRED, State.BLOCKED, State.DUE, State.OVERDUE]
    before_due_day = (locked("9 Mar", "10 Mar"),)
    seen = [state(turn, on(day), before_due_day, deferred).state for day in ("10 Mar", "14 Mar", "15 Mar", "16 Mar")]
    assert seen == [State.DEFERRED, State.DEFERRED, State.DUE, State.OVERDUE]


def test_18_a_deferral_approved_on_release_outlives_the_lock_before_it() -> None:
    """Due 10 March, locked 10 to 12 March, put off on the day of release to 20 March."""
    turn = owed(DUE_10_MAR, "9 Mar")
    deferred, lock = (put_off(turn, "12 Mar", "20 Mar"),), (locked("10 Mar", "12 Mar"),)
    seen = [state(turn, on(day), lock, deferred) for day in ("11 Mar", "12 Mar", "19 Mar", "20 Mar", "21 Mar")]
    assert [one.state for one in seen] == [*(State.BLOCKED, State.DEFERRED, State.DEFERRED, State.DUE, State.OVERDUE)]
    assert not seen[-1].moved_late


def test_19_approved_when_it_was_overdue_the_past_stays_and_it_is_not_on_time() -> None:
    facts = thirty_days(act("18 Mar"))
    turn = turns(facts, on("18 Mar"))[0]
    deferred = (put_off(turn, "12 Mar", "20 Mar"),)
    open_turn = owed(DUE_10_MAR, "12 Mar")
    seen = {day: state(open_turn, on(day), (), deferred) for day in ("11 Mar", "12 Mar", "13 Mar", "20 Mar", "21 Mar")}
    assert [one.state for one in seen.values()] == [
        *(State.OVERDUE, State.OVERDUE, State.DEFERRED, State.DUE, State.OVERDUE)
    ]
    assert [one.days_late for one in seen.values()] == [1, 2, 0, 0, 1]
    assert seen["13 Mar"].because == "part ordered"
    done = state(turn, on("18 Mar"), (), deferred)
    assert (done.state, done.moved_late, done.days_after_due) == (State.DONE, True, 8)
    assert outcome(turn, (), deferred) is Outcome.LATE


def test_19_approved_in_time_and_done_by_its_day_it_has_its_own_bucket() -> None:
    facts = thirty_days(act("18 Mar"))
    turn = turns(facts, on("18 Mar"))[0]
    in_time = (put_off(turn, "10 Mar", "20 Mar"),)
    assert not turn.on_time
    assert outcome(turn, (), in_time) is Outcome.DEFERRED
    assert outcome(turn, (), (put_off(turn, "10 Mar", "17 Mar"),)) is Outcome.LATE
    assert outcome(turn, (), (put_off(turn, "10 Mar", "18 Mar"),)) is Outcome.DEFERRED
    assert outcome(turn, (), (put_off(turn, "19 Mar", "20 Mar"),)) is Outcome.LATE  # approved when it was done
    assert state(turn, on("18 Mar"), (), in_time).moved_late is False


def test_19_who_asks_does_not_approve() -> None:
    with pytest.raises(ValueError, match="nobody approves what they asked for"):
        Deferral(
            key="d",
            turn="after a",
            to_day=on("20 Mar"),
            approved_on=on("9 Mar"),
            approved_at=at(on("9 Mar")),
            requested_by="ana",
            approved_by="ana",
            because="part ordered",
            recorded_at=at(on("9 Mar")),
        )


@pytest.mark.parametrize(
    ("to_day", "sentence"),
    [("9 Apr", ""), ("10 Apr", "The next one is due on 10 April 2026"), ("10 Mar", "Give a day after 10 March 2026")],
)
def test_19_it_is_put_off_until_the_day_before_the_next_one_at_most(to_day: str, sentence: str) -> None:
    turn = owed(MONTHLY_ON_THE_TENTH, "5 Mar")
    assert turn.missed_from == on("10 Apr")
    said = refused(turn, on(to_day), on("5 Mar"))
    assert said.startswith(sentence) and bool(said) == bool(sentence)


def test_19_what_a_rule_demands_cannot_be_put_off() -> None:
    facts = routine(floating(5, by_rule=True), act("27 Feb"), start="27 Feb")
    turn = owed(facts, "3 Mar")
    assert refused(turn, on("10 Mar"), on("3 Mar")).startswith("A rule demands")
    assert state(turn, on("5 Mar"), (), (put_off(turn, "3 Mar", "10 Mar"),)).state is State.OVERDUE


def test_20_out_of_season_leaves_no_missed_mondays_but_one_check_before_use() -> None:
    """1 November 2025 to 15 April 2026: 24 Mondays from 3 November to 13 April."""
    mondays = [on("3 Nov 2025") + timedelta(weeks=n) for n in range(24)]
    assert {day.strftime("%a") for day in mondays} == {"Mon"}
    assert mondays[-1] == on("13 Apr")
    weekly = fixed("20 Oct 2025", (1, Unit.WEEK), decided="1 Oct 2025")
    winter = (season("1 Nov 2025", "15 Apr"),)
    done = acts("20 Oct 2025", "27 Oct 2025")
    facts = routine(weekly, *done, start="20 Oct 2025", pauses=winter)
    found = turns(facts, on("15 Apr"))
    assert not {turn.due for turn in found} & set(mondays)
    assert lines(facts, "15 Apr") == ["27 Oct 2025 done 27 Oct 2025", "15 Apr before use due", "20 Apr not yet"]
    back = routine(weekly, *done, act("15 Apr"), start="20 Oct 2025", pauses=winter)
    assert lines(back, "20 Apr")[1:] == ["15 Apr before use done 15 Apr", "20 Apr due", "27 Apr not yet"]
    without = routine(weekly, *done, start="20 Oct 2025")
    missed = [turn.due for turn in turns(without, on("15 Apr")) if turn.ended is Ended.MISSED]
    assert missed == mondays[:-1]


@pytest.mark.parametrize(
    ("late", "line"),
    [
        (0, "10 Mar missed 15 Mar"),
        (4, "10 Mar missed 15 Mar"),
        (5, "10 Mar withdrawn 15 Mar (out of season)"),
        (7, "10 Mar withdrawn 15 Mar (out of season)"),
    ],
)
def test_20_what_is_open_when_the_season_ends_is_missed_only_past_its_allowed_days(late: int, line: str) -> None:
    winter = (season("15 Mar", "1 Jun"),)
    facts = routine(floating(30, late=Allowance(late)), act("8 Feb"), start="8 Feb", pauses=winter)
    assert lines(facts, "15 Mar") == [line]
    assert lines(facts, "1 Jun") == [line, "1 Jun before use due"]
    again = routine(floating(30, late=Allowance(late)), *acts("8 Feb", "2 Jun"), start="8 Feb", pauses=winter)
    assert lines(again, "2 Jun")[1:] == ["1 Jun before use done 2 Jun late 1", "2 Jul not yet"]


def test_20_work_in_the_shed_owes_nothing_until_the_return() -> None:
    winter = (season("15 Feb", "1 Jun"),)
    facts = routine(floating(30), *acts("8 Feb", "1 Mar"), start="8 Feb", pauses=winter)
    assert lines(facts, "20 May") == ["10 Mar withdrawn 15 Feb (out of season)"]
    assert lines(facts, "1 Jun")[-1] == "1 Jun before use due"
    ready = routine(floating(30), *acts("8 Feb", "20 May"), start="8 Feb", pauses=winter)
    assert lines(ready, "1 Jun")[-2:] == ["1 Jun before use due", "19 Jun not yet"]


def test_20_two_pauses_that_overlap_owe_one_check_at_the_end_of_both() -> None:
    winter = (season("1 Mar", "15 Apr"), season("10 Apr", "1 May", because="being rebuilt"))
    facts = routine(floating(30), act("8 Feb"), start="8 Feb", pauses=winter)
    assert lines(facts, "20 Apr") == ["10 Mar withdrawn 1 Mar (out of season)"]
    assert [turn.due for turn in turns(facts, on("1 May")) if turn.why == BEFORE_USE] == [on("1 May")]


def test_21_a_swapped_probe_owes_a_check_before_use_whatever_the_bench_says() -> None:
    bench = act("20 Feb", asset="new")
    facts = routine(floating(), act("1 Mar"), bench, start="1 Mar", **PROBE_SWAPPED)
    assert lines(facts, "5 Mar")[0] == "5 Mar before use due"
    done = routine(floating(), act("1 Mar"), bench, act("5 Mar", asset="new"), start="1 Mar", **PROBE_SWAPPED)
    assert owed(done, "5 Mar").due == on("4 Apr")


def test_21_where_the_bench_is_allowed_the_interval_runs_from_there() -> None:
    """A gauge tested on the bench on 20 February and fitted on 5 March: 22 March by 30 days."""
    bench = act("20 Feb", asset="new", key="bench", in_place=False)
    facts = routine(floating(bench=True), act("1 Mar"), bench, start="1 Mar", **PROBE_SWAPPED)
    assert lines(facts, "5 Mar") == ["22 Mar not yet", "31 Mar withdrawn 5 Mar (asset taken out)"]
    fates = {fate.act: fate.fate for fate in replay(facts, on("5 Mar")).fates}
    assert fates["bench"] is Fate.ON_THE_BENCH
    too_old = routine(floating(bench=True), act("1 Mar"), act("2 Feb", asset="new"), start="1 Mar", **PROBE_SWAPPED)
    assert lines(too_old, "5 Mar")[0] == "5 Mar before use due"


def test_21_what_was_fitted_since_the_bench_owes_a_check_before_use_again() -> None:
    fittings = (fitted("old", "1 Feb"), fitted("new", "5 Mar"), fitted("old", "10 Mar"), fitted("new", "15 Mar"))
    bench = act("20 Feb", asset="new", in_place=False)
    facts = routine(floating(bench=True), act("1 Mar"), bench, start="1 Mar", fittings=fittings, follows_asset=True)
    assert owed(facts, "15 Mar").why == BEFORE_USE


@pytest.mark.parametrize(("allowed", "due"), [(True, "9 Apr"), (False, "10 Mar")])
def test_21_work_out_of_its_place_counts_only_where_the_terms_allow_it(allowed: bool, due: str) -> None:
    facts = routine(floating(bench=allowed), act("8 Feb"), act("10 Mar", in_place=False), start="8 Feb")
    assert owed(facts, "10 Mar").due == on(due)


def test_27_retired_while_open_is_withdrawn_and_stands_in_no_figure() -> None:
    ended = Retirement(day=on("20 Mar"), recorded_at=at(on("20 Mar")), because="pump scrapped")
    facts = routine(floating(), act("8 Feb"), start="8 Feb", retired=ended)
    (turn,) = turns(facts, on("1 Jun"))
    assert lines(facts, "1 Jun") == ["10 Mar withdrawn 20 Mar (pump scrapped)"]
    assert outcome(turn) is Outcome.WITHDRAWN
    assert state(turn, on("1 Jun")).days_after_due == 0


def test_27_nothing_due_is_no_hundred_per_cent() -> None:
    """Four ended: on time, in its allowance, put off in time, missed; one withdrawn stands in no denominator."""
    ended = [Outcome.ON_TIME, Outcome.WITHIN_ALLOWED, Outcome.DEFERRED, Outcome.MISSED, Outcome.WITHDRAWN]
    strict, allowed = share_kept(ended), share_kept(ended, allowed_counts=True)
    assert (strict.kept, strict.of, strict.share) == (1, 4, Fraction(1, 4))
    assert (allowed.kept, allowed.of, allowed.share) == (2, 4, Fraction(1, 2))
    assert strict.left_out == 1
    assert share_kept([Outcome.WITHDRAWN]).share is None
    assert share_kept([]).share is None


def test_28_a_need_that_is_not_met_stops_nothing_and_says_why() -> None:
    facts = thirty_days()
    needs = (
        Need(met=False, because="P-2 is not locked out"),
        Need(met=True, because="storage for 14 h, 12 h needed"),
    )
    turn = owed(facts, "10 Mar")
    seen = state(turn, on("10 Mar"), (), (), needs)
    assert (seen.state, seen.cannot_start) == (State.DUE, "P-2 is not locked out")
    assert state(turn, on("1 Mar"), (), (), needs).cannot_start == ""
    blocked = state(turn, on("10 Mar"), (Block(from_day=on("1 Mar"), to_day=None, because="drained"),), (), needs)
    assert (blocked.state, blocked.cannot_start) == (State.BLOCKED, "")


def test_29_other_work_fulfils_only_where_it_was_declared() -> None:
    calibrated = act("8 Mar", key="calibration 8 Mar", routine="calibrate")
    guessed = routine(floating(), act("8 Feb"), calibrated, start="8 Feb")
    assert owed(guessed, "9 Mar").due == on("10 Mar")
    assert replay(guessed, on("9 Mar")).fates[-1].because == "done for another routine"
    also = AlsoFulfils(routine="calibrate", from_day=on("1 Mar"), recorded_at=at(on("1 Mar")))
    declared = routine(floating(), act("8 Feb"), calibrated, start="8 Feb", also=(also,))
    assert lines(declared, "9 Mar") == ["10 Mar done 8 Mar", "7 Apr not yet"]
    later = AlsoFulfils(routine="calibrate", from_day=on("9 Mar"), recorded_at=at(on("9 Mar")))
    after = routine(floating(), act("8 Feb"), calibrated, start="8 Feb", also=(later,))
    assert owed(after, "9 Mar").due == on("10 Mar")


def test_29_one_visit_that_is_recorded_for_both_is_one() -> None:
    also = AlsoFulfils(routine="calibrate", from_day=on("1 Feb"), recorded_at=at(on("1 Feb")))
    both = (act("10 Mar", clock="09:00", routine="calibrate"), act("10 Mar", clock="09:05"))
    facts = routine(floating(), act("8 Feb"), *both, start="8 Feb", also=(also,))
    assert [fate.fate for fate in replay(facts, on("10 Mar")).fates] == [Fate.BEFORE_START, Fate.CLOSED, Fate.EXTRA]
