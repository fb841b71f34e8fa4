"""Seasons that come back every year: worked by hand from a calendar, and every property of the formula with them.

That a routine is owed once before use when its season begins is own judgement (see `maintenance.compute.season`); dates
are those of the Gregorian calendar. Lines read as in
`tests.maintenance.compute.routines.line`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import groupby
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from maintenance.compute.figures.ahead import Routine, jobs_of
from maintenance.compute.schedule import (
    BEFORE_USE,
    ByUse,
    Ended,
    Facts,
    Kind,
    Limits,
    Mode,
    Pause,
    State,
    Term,
    Turn,
    Unit,
    next_change,
    replay,
    state,
    stored_turn,
    turns,
)
from maintenance.compute.season import Season
from tests.maintenance.compute import test_replay_properties as everywhere
from tests.maintenance.compute.histories import LAST, START, day_after, histories
from tests.maintenance.compute.routines import act, acts, fixed, floating, lines, on, read, routine, season, term, value

SUMMER = Season(first=(5, 1), last=(9, 30))
WINTER = Season(first=(11, 1), last=(2, 29))


# ------------------------------------------------------------------------------------------------------ days of a year


@pytest.mark.parametrize(
    ("asked", "day", "covers", "returns", "ends"),
    [
        (SUMMER, "30 Apr", False, "1 May", "30 Apr"),
        (SUMMER, "1 May", True, "1 May", "1 Oct"),
        (SUMMER, "30 Sep", True, "30 Sep", "1 Oct"),
        (SUMMER, "1 Oct", False, "1 May 2027", "1 Oct"),
        (WINTER, "31 Oct", False, "1 Nov", "31 Oct"),
        (WINTER, "31 Dec", True, "31 Dec", "1 Mar 2027"),
        # 2028 has a 29 February, 2027 has none: the season that ends on it ends on its 28th.
        (WINTER, "28 Feb 2027", True, "28 Feb 2027", "1 Mar 2027"),
        (WINTER, "29 Feb 2028", True, "29 Feb 2028", "1 Mar 2028"),
        (Season(first=(2, 29), last=(6, 30)), "28 Feb 2027", False, "1 Mar 2027", "28 Feb 2027"),
        (Season(first=(2, 29), last=(6, 30)), "28 Feb 2028", False, "29 Feb 2028", "28 Feb 2028"),
    ],
)
def test_both_its_days_are_in_it_and_29_february_is_the_next_or_the_last_day_there_is(
    asked: Season, day: str, covers: bool, returns: str, ends: str
) -> None:
    assert asked.covers(on(day)) is covers
    assert (asked.returns_on(on(day)), asked.ends_before(on(day))) == (on(returns), on(ends))


DAYS_OF_A_YEAR = st.dates(date(2000, 1, 1), date(2000, 12, 31)).map(lambda day: (day.month, day.day))


@st.composite
def seasons(draw: st.DrawFn) -> Season:
    first, last = draw(DAYS_OF_A_YEAR), draw(DAYS_OF_A_YEAR)
    try:
        return Season(first=first, last=last)
    except ValueError:
        return SUMMER


@settings(max_examples=40)
@given(seasons(), st.dates(date(2023, 1, 1), date(2030, 12, 31)))
def test_its_stretches_are_the_days_it_leaves_out_walked_one_by_one(asked: Season, begin: date) -> None:
    """Reference: each day of four years held against the two days of the year."""
    walked = [begin + timedelta(days=n) for n in range(1464)]
    covered = [asked.covers(day) for day in walked]
    days = walked[:731]
    off = {day for first, back in asked.off(begin, days[-1]) for day in days if first <= day < back}
    assert off == {day for day in days if not asked.covers(day)} - ({days[-1]} - off)
    for n in range(0, 731, 37):
        assert asked.returns_on(walked[n]) == walked[covered.index(True, n)]
        assert asked.ends_before(walked[n]) == walked[covered.index(False, n)]
        assert asked.next_turn(walked[n]) == walked[covered.index(not covered[n], n + 1)]


@pytest.mark.parametrize(
    ("first", "last", "says"),
    [
        ((1, 1), (12, 31), "whole year"),
        ((5, 1), (4, 30), "whole year"),
        ((2, 29), (2, 29), "29 February alone"),
        ((2, 30), (4, 30), "day"),
        ((13, 1), (4, 30), "month"),
    ],
)
def test_a_season_of_all_days_or_of_no_day_is_refused(first: tuple[int, int], last: tuple[int, int], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Season(first=first, last=last)


def test_fixed_days_that_never_lie_in_it_are_refused() -> None:
    with pytest.raises(ValueError, match="none of its next fixed days"):
        fixed("1 Jan", (1, Unit.YEAR), season=SUMMER)
    # Every five months from 1 January: 1 June is the second one.
    assert fixed("1 Jan", (5, Unit.MONTH), season=SUMMER).season is SUMMER


# ------------------------------------------------------------------------------------------------------ how it counts


def test_20_weekly_mondays_out_of_season_from_november_to_mid_april() -> None:
    """The season written once gives what the pause of that winter gives: no Monday missed, one check, then 20 April."""
    in_season = Season(first=(4, 15), last=(10, 31))
    weekly = (1, Unit.WEEK)
    facts = routine(
        fixed("13 Oct 2025", weekly, decided="13 Oct 2025", season=in_season), act("13 Oct 2025"), start="13 Oct 2025"
    )
    by_hand = routine(
        fixed("13 Oct 2025", weekly, decided="13 Oct 2025"),
        act("13 Oct 2025"),
        start="13 Oct 2025",
        pauses=(season("1 Nov 2025", "15 Apr", because="out of season until 15 April"),),
    )
    assert lines(facts, "15 Apr") == lines(by_hand, "15 Apr")
    assert lines(facts, "15 Apr")[-2:] == ["15 Apr before use due", "20 Apr not yet"]
    assert not [line for line in lines(facts, "15 Apr") if "missed 10 Nov" in line]


def test_what_was_open_ends_with_the_season_and_is_owed_once_when_it_begins() -> None:
    facts = routine(floating(30, season=SUMMER), *acts("1 Sep", "20 Sep"), start="1 Sep")
    assert lines(facts, "30 Sep")[-1] == "20 Oct not yet"
    assert lines(facts, "1 Oct")[-1] == "20 Oct withdrawn 1 Oct (out of season until 1 May)"
    assert lines(facts, "30 Apr 2027") == lines(facts, "1 Oct")
    assert lines(facts, "2 May 2027")[-1] == "1 May 2027 before use overdue late 1"
    done = replace(facts, acts=(*facts.acts, act("3 May 2027")))
    assert lines(done, "4 May 2027")[-1] == "2 Jun 2027 not yet", "the interval counts from that work"


def test_what_was_overdue_when_the_season_ended_is_missed_and_not_cured() -> None:
    facts = routine(floating(30, season=SUMMER), act("1 Aug"), start="1 Aug")
    assert lines(facts, "2 Oct")[-1] == "31 Aug missed 1 Oct"


def test_a_season_over_the_turn_of_the_year_counts_on_at_new_year() -> None:
    facts = routine(floating(30, season=WINTER), act("20 Dec"), start="20 Dec")
    assert lines(facts, "2 Jan 2027")[-1] == "19 Jan 2027 not yet"
    done = replace(facts, acts=(*facts.acts, act("15 Feb 2027")))
    assert lines(done, "1 Mar 2027")[-1] == "17 Mar 2027 withdrawn 1 Mar 2027 (out of season until 1 November)"


def test_once_a_year_in_season_is_owed_by_its_last_day_and_can_be_done_from_its_first() -> None:
    yearly = term(Mode.PERIOD, (1, Unit.YEAR), season=SUMMER)
    facts = routine(yearly, act("10 Jul"), start="10 Jul")
    (done, coming) = turns(facts, on("1 Nov"))
    assert (done.due, done.ended) == (on("30 Sep"), Ended.DONE)
    assert (coming.earliest, coming.due, coming.missed_from) == (
        on("1 May 2027"), on("30 Sep 2027"), on("1 Oct 2027"),
    )  # fmt: skip


def test_hours_run_out_of_season_count_for_nothing() -> None:
    """500 h after the work; 400 h at the end of season, 900 h in winter: owed once in May, then 500 h from there."""
    by_hours = term(Mode.USAGE, use=ByUse(every=Fraction(500), unit="h"), season=SUMMER)
    totals = (read("1 Jul", 0), read("20 Sep", 400), read("1 Feb 2027", 900), read("2 May 2027", 1000))
    facts = routine(by_hours, *acts("1 Jul", "2 May 2027"), start="1 Jul", metered=totals)
    found = turns(facts, on("3 May 2027"))
    assert [(turn.why, turn.ended) for turn in found if turn.kind is Kind.ONCE] == [(BEFORE_USE, Ended.DONE)]
    (after,) = [turn for turn in found if turn.ended is Ended.OPEN and turn.kind is Kind.FLOATING]
    assert after.use is not None
    assert (after.use.base, after.use.next_at, after.use.due) == (1000, 1500, None)


def test_a_value_seen_out_of_season_asks_for_nothing() -> None:
    on_high = term(Mode.CONDITION, limits=Limits(high=Fraction(10)), season=SUMMER)
    facts = routine(on_high, act("1 Jul"), start="1 Jul", values=(value("5 Oct", "12"), value("1 May 2027", "13")))
    assert [turn.due for turn in turns(facts, on("3 May 2027"))] == [on("1 May 2027")]


def test_a_pause_that_ends_when_the_season_begins_asks_once() -> None:
    facts = routine(
        fixed("1 Jun", (1, Unit.WEEK), season=SUMMER), act("1 Jun"), start="1 Jun",
        pauses=(season("1 Sep", "1 May 2027", because="drained"),),
    )  # fmt: skip
    asked = [turn for turn in turns(facts, on("1 May 2027")) if turn.why == BEFORE_USE]
    assert [turn.due for turn in asked] == [on("1 May 2027")]


def test_new_terms_end_the_time_out_of_season_on_the_day_they_hold() -> None:
    all_year = floating(30, decided="10 Nov")
    facts = routine((floating(30, season=SUMMER), all_year), act("20 Sep"), start="20 Sep")
    assert lines(facts, "9 Nov")[-1] == "20 Oct withdrawn 1 Oct (out of season until 1 May)"
    assert lines(facts, "10 Nov")[-1] == "10 Nov before use due"


# ---------------------------------------------------------------------------------------------------------- properties


def with_season(one: Term, asked: Season | None) -> Term:
    try:
        return replace(one, season=asked)
    except ValueError:  # fixed days that never lie in it
        return one


@st.composite
def seasonal(draw: st.DrawFn, **other: object) -> Facts:
    """Any history, each of its terms with a season or none."""
    facts = draw(histories(**other))  # type: ignore[arg-type]
    terms = tuple(with_season(one, draw(st.none() | seasons())) for one in facts.terms)
    return replace(facts, terms=terms)


DAYS = st.integers(0, LAST + 400).map(day_after)


@given(seasonal(), DAYS, st.randoms(use_true_random=False))
def test_any_order_of_recording_gives_the_same_turns(facts: Facts, day: date, random: Random) -> None:
    everywhere.test_any_order_of_recording_gives_the_same_turns.hypothesis.inner_test(facts, day, random)  # type: ignore[attr-defined]


@given(seasonal(), DAYS, st.integers(1, 400))
def test_nothing_is_lost_counted_twice_or_taken_back(facts: Facts, day: date, more: int) -> None:
    for proven in (
        everywhere.test_keys_are_unique_and_days_in_order,
        everywhere.test_a_turn_ends_once_and_an_act_closes_at_most_one_turn_of_a_grid,
        everywhere.test_every_act_so_far_has_one_fate_and_only_counting_acts_close_turns,
        everywhere.test_after_its_end_a_routine_owes_nothing,
    ):
        proven.hypothesis.inner_test(facts, day)  # type: ignore[attr-defined]
    everywhere.test_an_end_is_never_taken_back_by_time.hypothesis.inner_test(facts, day, more)  # type: ignore[attr-defined]


def owed_by(facts: Facts, day: date) -> list[Turn]:
    """The turns that have ended or are due by a day, without the day on which they would be missed later."""
    found = turns(facts, day)
    return [replace(turn, missed_from=None) for turn in found if turn.ended is not Ended.OPEN or turn.own_due <= day]


def pause_of(facts: Facts, stretch: list[date]) -> Pause:
    """The pause a person would write for a stretch of days, one after the other, out of season."""
    season = facts.term_on(stretch[0]).season
    assert season is not None
    return Pause(
        key=f"season {stretch[0].isoformat()}",
        from_day=stretch[0],
        to_day=stretch[-1] + timedelta(days=1),
        because=season.off_words,
        recorded_at=facts.terms[0].recorded_at,
    )


NO_PERIOD = tuple(mode for mode in Mode if mode is not Mode.PERIOD)  # one is owed by its last day in season


@given(seasonal(modes=NO_PERIOD), DAYS)
def test_a_season_is_what_pauses_written_by_hand_for_each_year_would_be(facts: Facts, day: date) -> None:
    """Reference: the same history without seasons, with a pause for each stretch of days out of season of one term."""
    days = [START + timedelta(days=n) for n in range(-400, (day - START).days + 1000)]
    off = [one for one in days if (in_force := facts.term_on(one).season) is not None and not in_force.covers(one)]
    in_turn = [((one.toordinal() - n, facts.term_on(one).takes_effect), one) for n, one in enumerate(off)]
    stretches = [[one for _, one in own] for _, own in groupby(in_turn, key=lambda one: one[0])]
    by_hand = replace(
        facts,
        terms=tuple(replace(one, season=None) for one in facts.terms),
        pauses=facts.pauses + tuple(pause_of(facts, stretch) for stretch in stretches),
    )
    assert owed_by(facts, day) == owed_by(by_hand, day)


@given(seasonal(), DAYS)
def test_out_of_season_nothing_is_asked(facts: Facts, day: date) -> None:
    if facts.start > day or not facts.paused_on(day):
        return
    for turn in turns(facts, day):
        if turn.ended is Ended.OPEN:
            assert turn.own_due > day
            assert state(turn, day).state in (State.NOT_YET, State.CAN_BE_DONE)
    begins = {pause.to_day for pause in facts.all_pauses(day)}
    back = [turn for turn in turns(facts, day) if turn.why == BEFORE_USE and " from " in turn.key]
    assert len({turn.due for turn in back}) == len(back)
    assert {turn.due for turn in back} <= begins


@given(seasonal(), DAYS, st.integers(1, 60))
def test_stored_turns_hold_until_the_next_change(facts: Facts, day: date, more: int) -> None:
    """What is stored today says the word of a later day, as long as no fact and no season turns between."""
    changes = next_change(facts, day)
    later = day + timedelta(days=more)
    if changes is not None and changes <= later:
        return
    then = {turn.key: turn for turn in turns(facts, later)}
    for turn in turns(facts, day):
        if turn.ended is not Ended.OPEN:
            assert stored_turn(turn, (), day).ended_on == stored_turn(then[turn.key], (), later).ended_on


# ------------------------------------------------------------------------------------------------------ the coming year


def ahead(mode: Mode, every: tuple[int, Unit], **other: object) -> Routine:
    facts: dict[str, object] = {"pk": 1, "name": "x", "kind": "Upkeep", "minutes": 30, "season": SUMMER, **other}
    return Routine(mode=mode, every=every[0], unit=every[1], **facts)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("one", "days"),
    [
        # 30 days from 1 September: 1 October is out of season, so once on 1 May, then every 30 days.
        (
            ahead(Mode.FLOATING, (30, Unit.DAY), next_due=on("1 Sep")),
            ["1 Sep", "1 May 2027", "31 May 2027", "30 Jun 2027", "30 Jul 2027"],
        ),
        # Out of season nothing is open: the first job is that of 1 May.
        (ahead(Mode.FLOATING, (3, Unit.MONTH)), ["1 May 2027"]),
        # Done on 20 July, so open until the season ends and then withdrawn: the next job is that of 1 May.
        (ahead(Mode.FLOATING, (3, Unit.MONTH), next_due=on("20 Oct")), ["1 May 2027"]),
        # Each first of two months from February: June and August lie in it, April fell out, so 1 May before use.
        (
            ahead(Mode.FIXED, (2, Unit.MONTH), anchor=on("1 Feb")),
            ["1 Aug", "1 May 2027", "1 Jun 2027"],
        ),
        (ahead(Mode.PERIOD, (1, Unit.YEAR), next_due=on("30 Sep")), ["30 Sep"]),
        (ahead(Mode.PERIOD, (3, Unit.MONTH), next_due=on("30 Sep")), ["30 Sep", "1 May 2027", "30 Jun 2027"]),
    ],
    ids=["floating", "floating in winter", "floating past the end", "fixed", "yearly", "quarterly"],
)
def test_the_coming_year_leaves_out_what_is_out_of_season(one: Routine, days: list[str]) -> None:
    first = on("15 Oct") if one.next_due is None and one.mode is Mode.FLOATING else on("15 Jul")
    assert jobs_of(one, first, on("31 Jul 2027")) == tuple(on(day) for day in days)


@given(seasonal(changes=0, pauses=False, modes=(Mode.FIXED, Mode.FLOATING)), st.integers(0, LAST).map(day_after))
def test_no_job_of_the_coming_year_is_out_of_season(facts: Facts, day: date) -> None:
    only = facts.terms[0]
    open_now = [turn.own_due for turn in replay(facts, day).turns if turn.ended is Ended.OPEN]
    one = ahead(
        only.mode, (only.every, only.unit), anchor=only.anchor, season=only.season, next_due=min(open_now, default=None)
    )
    found = jobs_of(one, day, day + timedelta(days=364))
    assert found is not None
    assert list(found) == sorted(set(found))
    assert only.season is None or all(only.season.covers(one) or one == day for one in found)
