"""Due days by interval, period and record: the everyday cases, each on dates worked by hand.

Source: the Gregorian calendar for every date (month ends also against pandas in test_intervals); the rules themselves
are our own unless a test names another source. Lines read as in `routines.line`.
"""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from maintenance.compute.schedule import (
    FAILED,
    NOT_VALID,
    Act,
    Allowance,
    Fate,
    Mode,
    Outcome,
    Unit,
    not_fulfilled,
    outcome,
    replay,
    turns,
)
from tests.maintenance.compute.routines import (
    NO_DAYS,
    act,
    acts,
    fitted,
    fixed,
    floating,
    lines,
    on,
    owed,
    quarter,
    routine,
    term,
)
from tests.maintenance.compute.stories import QUARTERLY, YEARLY, monthly, thirty_days

DENVER = ZoneInfo("America/Denver")


def test_01_month_ends_come_back_after_a_short_month() -> None:
    facts = monthly(*acts("28 Feb", "31 Mar", "30 Apr"))
    assert [turn.due for turn in turns(facts, on("30 Apr"))] == [
        on(d) for d in ("28 Feb", "31 Mar", "30 Apr", "31 May")
    ]


def test_02_quarters_and_years_from_the_last_days_of_a_month_meet_the_leap_day() -> None:
    quarters = routine(fixed("30 Nov 2027", QUARTERLY), act("30 Nov 2027"), start="30 Nov 2027")
    expected = [on(d) for d in ("29 Feb 2028", "30 May 2028", "30 Aug 2028")]
    assert [turn.due for turn in turns(quarters, on("30 May 2028"))] == expected
    years = routine(fixed("29 Feb 2028", YEARLY), act("29 Feb 2028"), start="29 Feb 2028")
    expected = [on(d) for d in ("28 Feb 2029", "28 Feb 2030", "28 Feb 2031", "29 Feb 2032")]
    assert [turn.due for turn in turns(years, on("1 Mar 2031"))] == expected


def test_03_done_late_on_fixed_days_the_next_day_stays() -> None:
    assert lines(monthly(*acts("28 Feb", "5 Apr")), "5 Apr")[1:] == ["31 Mar done 5 Apr late 5", "30 Apr not yet"]


def test_04_one_job_never_closes_two_and_the_older_one_is_missed() -> None:
    facts = monthly(act("2 Apr"), early=NO_DAYS)
    assert lines(facts, "2 Apr") == ["28 Feb missed 31 Mar", "31 Mar done 2 Apr late 2", "30 Apr not yet"]


def test_05_early_work_counts_inside_the_window_only() -> None:
    inside = monthly(*acts("28 Feb", "25 Mar"))
    assert lines(inside, "25 Mar")[1:] == ["31 Mar done 25 Mar", "30 Apr not yet"]
    before = monthly(*acts("28 Feb", "20 Mar"))
    assert replay(before, on("20 Mar")).fates[-1].fate is Fate.EXTRA
    assert (owed(before, "24 Mar").due, owed(before, "24 Mar").earliest) == (on("31 Mar"), on("24 Mar"))


def test_06_an_interval_counts_from_the_day_performed_not_entered() -> None:
    facts = thirty_days(act("10 Mar", entered="14 Mar"))
    assert owed(facts, "14 Mar").due == on("9 Apr")


def test_07_an_older_record_that_arrives_late_leaves_the_newest_in_charge() -> None:
    before = thirty_days(act("10 Mar"))
    after = thirty_days(act("10 Mar"), act("5 Mar", entered="20 Mar"))
    assert owed(before, "20 Mar").due == owed(after, "20 Mar").due == on("9 Apr")
    assert lines(after, "20 Mar")[:2] == ["10 Mar done 5 Mar", "4 Apr done 10 Mar"]


def test_08_a_corrected_day_moves_the_due_day() -> None:
    facts = thirty_days(act("10 Mar", key="a"), act("1 Mar", key="b", replaces="a", entered="12 Mar"), start="20 Feb")
    assert lines(facts, "1 Apr")[-1] == "31 Mar overdue late 1"


def test_09_found_failing_is_fulfilled_only_when_it_was_put_right() -> None:
    left_failing = thirty_days(act("10 Mar", because=FAILED))
    second = not_fulfilled(left_failing, on("10 Mar"))
    assert lines(left_failing, "10 Mar") == ["10 Mar due"]
    assert second is not None
    assert second.because == FAILED
    put_right = thirty_days(act("10 Mar"))
    assert owed(put_right, "10 Mar").due == on("9 Apr")
    assert not_fulfilled(put_right, on("10 Mar")) is None


def test_10_a_check_that_is_not_valid_fulfils_nothing() -> None:
    assert lines(thirty_days(act("10 Mar", because=NOT_VALID)), "11 Mar") == ["10 Mar overdue late 1"]


def test_11_done_twice_on_a_day_is_done_once_and_one_key_is_one_act() -> None:
    facts = thirty_days(act("10 Mar", clock="09:00"), act("10 Mar", clock="15:00"))
    assert [fate.fate for fate in replay(facts, on("10 Mar")).fates[1:]] == [Fate.CLOSED, Fate.EXTRA]
    with pytest.raises(ValueError, match="Two acts have the key"):
        thirty_days(act("10 Mar", key="sent"), act("10 Mar", key="sent"))


@pytest.mark.parametrize(("decided", "due"), [("20 Mar", "20 Mar"), ("10 Mar", "15 Mar")])
def test_12_a_shorter_interval_is_due_no_earlier_than_it_was_decided(decided: str, due: str) -> None:
    facts = routine((floating(30), floating(14, decided=decided)), act("1 Mar"), start="1 Mar")
    assert owed(facts, "20 Mar").due == on(due)
    assert lines(facts, "22 Mar") == [f"{due} overdue late {(on('22 Mar') - on(due)).days}"]


def each_quarter(*done: Act, start: str = "2 Jan", spacing: int = 0, decided: str = "1 Jan") -> object:
    terms = term(Mode.PERIOD, QUARTERLY, spacing=spacing, decided=decided)
    return routine(terms, *done, start=start)


def test_13_once_each_quarter_is_met_though_half_a_year_lies_between() -> None:
    """2 January to 28 June are 177 days; under every 90 days the second was due on 2 April."""
    facts = each_quarter(*acts("2 Jan", "28 Jun"))
    assert (on("28 Jun") - on("2 Jan")).days == 177
    assert lines(facts, "30 Jun") == ["31 Mar done 2 Jan", "30 Jun done 28 Jun", "30 Sep not yet"]
    assert [outcome(turn) for turn in turns(facts, on("30 Jun"))[:2]] == [Outcome.ON_TIME, Outcome.ON_TIME]
    by_days = routine(floating(90), *acts("2 Jan", "28 Jun"), start="2 Jan")
    assert lines(by_days, "28 Jun")[0] == "2 Apr done 28 Jun late 87"


def test_13_with_thirty_days_between_the_last_and_the_first_day_of_quarters_do_not_make_two() -> None:
    facts = each_quarter(*acts("31 Mar", "1 Apr"), start="1 Mar", spacing=30)
    told = lines(facts, "29 Apr")
    assert told == ["1 Mar no record done 31 Mar late 30", "31 Mar done 31 Mar", "30 Jun not yet"]
    assert lines(facts, "30 Apr")[-1] == "30 Jun can be done now"  # the thirtieth day counts
    without = each_quarter(*acts("31 Mar", "1 Apr"), start="1 Mar")
    assert lines(without, "29 Apr")[-2:] == ["30 Jun done 1 Apr", "30 Sep not yet"]


def test_13_a_check_before_use_just_before_the_days_between_are_over_is_not_the_periods_own() -> None:
    """Done 31 March, swapped 5 April, so the quarter opens on 30 April; 10 April only closes what the swap owed."""
    fittings = {"follows_asset": True, "fittings": (fitted("old", "1 Jan"), fitted("new", "5 Apr"))}
    done = acts("2 Jan", "31 Mar", "10 Apr")
    facts = routine(term(Mode.PERIOD, QUARTERLY, spacing=30), *done[1:], start="1 Mar", **fittings)
    told = lines(facts, "10 Apr")
    assert told[-2:] == ["5 Apr before use done 10 Apr late 5", "30 Jun not yet"]
    assert owed(facts, "10 Apr").earliest == on("10 May")


def test_13_work_that_only_answered_a_swap_keeps_the_open_period_its_days_apart() -> None:
    """Opens on 30 April, swapped on the 28th, checked on 2 May: the period opens anew on 1 June."""
    fittings = {"follows_asset": True, "fittings": (fitted("old", "1 Jan"), fitted("new", "28 Apr"))}
    done = acts("31 Mar", "2 May", "10 May")
    facts = routine(term(Mode.PERIOD, QUARTERLY, spacing=30), *done, start="1 Mar", **fittings)
    assert lines(facts, "10 May")[-2:] == ["28 Apr before use done 2 May late 4", "30 Jun not yet"]
    assert lines(facts, "1 Jun")[-1] == "30 Jun can be done now"
    assert replay(facts, on("10 May")).fates[-1].fate is Fate.EXTRA


def test_13_past_the_end_of_the_period_it_is_missed_and_never_overdue() -> None:
    facts = each_quarter(act("2 Jan"))
    assert lines(facts, "30 Jun")[1:] == ["30 Jun due", "30 Sep not yet"]
    assert lines(facts, "1 Jul")[1:] == ["30 Jun missed 1 Jul", "30 Sep can be done now"]
    late = each_quarter(*acts("2 Jan", "1 Jul"))
    assert lines(late, "1 Jul")[1:] == ["30 Jun missed 1 Jul", "30 Sep done 1 Jul", "31 Dec not yet"]


def test_14_ten_to_midnight_is_that_site_day_and_a_holiday_moves_nothing() -> None:
    """Every 5 days, 40 CFR 141.74(a)(2), from memory: Friday 27 February, then Wednesday 4 March at 23:50."""
    assert (on("27 Feb").strftime("%A"), on("4 Mar").strftime("%A")) == ("Friday", "Wednesday")
    done_at = datetime(2026, 3, 4, 23, 50, tzinfo=DENVER)
    assert done_at.astimezone(UTC).date() == on("5 Mar")
    night = Act(key="night", day=on("4 Mar"), performed_at=done_at, recorded_at=done_at)
    facts = routine(floating(5, by_rule=True, late=Allowance(2)), act("27 Feb"), night, start="27 Feb")
    assert lines(facts, "5 Mar") == ["4 Mar done 4 Mar", "9 Mar not yet"]
    # No list of holidays goes into the formula: the due day stays, the work may be done earlier, and never later.
    assert lines(facts, "10 Mar")[-1] == "9 Mar overdue late 1"
    early = routine(floating(5, by_rule=True), *acts("27 Feb", "3 Mar"), start="27 Feb")
    assert owed(early, "3 Mar").due == on("8 Mar")


def test_22_a_new_routine_without_history_is_due_the_day_it_is_put_into_force() -> None:
    for terms in (floating(30), fixed("3 Apr"), term(Mode.PERIOD, QUARTERLY)):
        facts = routine(terms, start="3 Mar")
        assert lines(facts, "3 Mar")[0] == "3 Mar no record due"
        assert lines(facts, "4 Mar")[0] == "3 Mar no record overdue late 1"


def test_23_a_quarter_of_ninety_days_is_twenty_two_and_windows_do_not_add_up() -> None:
    """1.25 times the interval, in the manner of technical specification SR 3.0.2 (from memory): 112 whole days."""
    facts = routine(fixed("1 Jan", (90, Unit.DAY), late=quarter()), *acts("1 Jan", "23 Apr"), start="1 Jan")
    first, second = turns(facts, on("23 Apr"))
    assert (first.due, first.latest, second.due) == (on("1 Apr"), on("23 Apr"), on("30 Jun"))
    assert (first.latest - on("1 Jan")).days == 112 == 90 * 125 // 100
    assert (first.on_time, first.within_allowed, outcome(first)) == (False, True, Outcome.WITHIN_ALLOWED)
    assert first.ended_on == on("23 Apr")


def test_23_a_share_of_a_month_is_a_share_of_that_turns_days() -> None:
    """25 % of the 28 days to 28 February are 7, of the 31 days to 31 March 7, of 8 weeks 14; all rounded down."""
    facts = routine(fixed("31 Jan", late=quarter()), act("31 Jan"), start="31 Jan")
    latest = [(turn.latest - turn.due).days for turn in turns(facts, on("31 Jan"), until=on("30 Apr"))]
    assert latest[:3] == [28 // 4, 31 // 4, 30 // 4]
    weeks = routine(fixed("5 Jan", (8, Unit.WEEK), late=quarter()), act("5 Jan"), start="5 Jan")
    assert (owed(weeks, "5 Jan").latest - owed(weeks, "5 Jan").due).days == 14


def test_30_due_days_do_not_move_with_the_zone_of_a_site_or_a_phone() -> None:
    """Each record carries the site day that was settled when it was made; the zone of its instant says nothing."""
    here = thirty_days(act("10 Mar", clock="23:50"), act("20 Mar", clock="00:10"))
    days = [turn.due for turn in turns(here, on("20 Mar"))]
    for zone in ("Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kathmandu"):
        elsewhere = tuple(
            Act(
                key=one.key,
                day=one.day,
                performed_at=one.performed_at.astimezone(ZoneInfo(zone)),
                recorded_at=one.recorded_at.astimezone(ZoneInfo(zone)),
            )
            for one in here.acts
        )
        moved = routine(here.terms[0], *elsewhere, start="8 Feb")
        assert [turn.due for turn in turns(moved, on("20 Mar"))] == days
        assert any(one.performed_at.date() != one.day for one in elsewhere)
    assert days[-1] == on("19 Apr")
