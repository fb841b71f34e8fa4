"""Failure clocks and the grabs owed while a compliance monitor is out.

Sources: 40 CFR 141.174(b) for five working days following the failure and a grab every four hours, 40 CFR 141.561 for
fourteen days; the calendar of 2026 with Memorial Day on 25 May and Independence Day observed on 3 July (5 U.S.C. 6103);
clocks of the zone database: America/Denver goes forward on 8 March 2026 at 02:00 and back on 1 November at 02:00.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.compute.clocks import (
    ClockState,
    SlotState,
    after_days,
    after_working_days,
    clock_state,
    end_of,
    grab_slots,
    next_grab,
    site_day,
)
from maintenance.compute.schedule import Act, Fate, Run, Unit, replay, turns
from tests.maintenance.compute.routines import act, acts, fixed, lines, on, routine

DENVER = ZoneInfo("America/Denver")
MEMORIAL_DAY, OBSERVED = date(2026, 5, 25), date(2026, 7, 3)


@pytest.mark.parametrize(
    ("failed", "holidays", "counts", "last"),
    [
        ("22 May", {MEMORIAL_DAY}, False, "1 Jun"),
        ("22 May", set(), False, "29 May"),
        ("29 Jun", {OBSERVED}, False, "7 Jul"),
        ("22 May", {MEMORIAL_DAY}, True, "29 May"),
        ("22 May", set(), True, "28 May"),
        ("29 Jun", {OBSERVED}, True, "6 Jul"),
        ("23 May", {MEMORIAL_DAY}, False, "1 Jun"),
        ("23 May", {MEMORIAL_DAY}, True, "1 Jun"),
        ("25 May", {MEMORIAL_DAY}, True, "1 Jun"),
    ],
)
def test_15_five_working_days_follow_the_failure_and_holidays_are_none(
    failed: str, holidays: set[date], counts: bool, last: str
) -> None:
    assert after_working_days(on(failed), 5, holidays, count_failure_day=counts) == on(last)


@given(st.dates(date(2025, 1, 1), date(2027, 12, 31)), st.integers(1, 30), st.sets(st.integers(0, 60), max_size=6))
def test_15_working_days_agree_with_numpy(failed: date, days: int, offsets: set[int]) -> None:
    """Reference: numpy.busday_offset, its day rolled back to a working day first."""
    holidays = [failed + timedelta(days=n) for n in offsets]
    reference = np.busday_offset(failed, days, roll="backward", holidays=holidays).astype(date)
    assert after_working_days(failed, days, holidays) == reference


def test_15_a_clock_ends_at_midnight_of_its_last_day_at_the_site() -> None:
    end = end_of(on("1 Jun"), DENVER)
    assert end == datetime(2026, 6, 2, 6, tzinfo=UTC)
    assert end_of(on("8 Mar"), DENVER) - end_of(on("7 Mar"), DENVER) == timedelta(hours=23)
    states = [
        clock_state(on("1 Jun"), DENVER, end),
        clock_state(on("1 Jun"), DENVER, end + timedelta(seconds=1)),
        clock_state(on("1 Jun"), DENVER, end + timedelta(days=1), back_at=end),
        clock_state(on("1 Jun"), DENVER, end + timedelta(days=1), back_at=end + timedelta(seconds=1)),
        clock_state(on("1 Jun"), DENVER, end - timedelta(days=1), back_at=end),
    ]
    assert states == [ClockState.RUNNING, ClockState.OVER, ClockState.ENDED, ClockState.LATE, ClockState.RUNNING]


def test_15_fourteen_days_end_with_the_fourteenth_day_after_the_failure() -> None:
    assert after_days(on("22 May")) == on("5 Jun")
    assert after_days(on("20 Feb 2028")) == on("5 Mar 2028")


def test_15_a_clock_without_days_is_refused() -> None:
    for wrong in (after_working_days, after_days):
        with pytest.raises(ValueError, match="Give 1 or more"):
            wrong(on("22 May"), 0)
    with pytest.raises(ValueError, match="at least one working day"):
        after_working_days(on("22 May"), 5, weekend=range(7))


def here(day: int, hour: int, minute: int = 0, month: int = 3) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=DENVER)


def test_16_four_hours_after_ten_at_night_is_three_when_clocks_go_forward() -> None:
    """22:00 MST on 7 March; 02:00 does not exist on 8 March, so four hours later clocks show 03:00."""
    due = next_grab(here(7, 22)).astimezone(DENVER)
    assert (due.day, due.hour, due.minute) == (8, 3, 0)
    slots = grab_slots(here(7, 18), here(8, 8))
    assert [slot.due_at.astimezone(DENVER).hour for slot in slots] == [22, 3, 7, 11]
    back = next_grab(datetime(2026, 10, 31, 22, tzinfo=DENVER)).astimezone(DENVER)
    assert (back.day, back.hour) == (1, 1)  # the second 01:00 of 1 November
    assert back.fold == 1


def test_16_grabs_are_counted_from_the_last_one_and_a_missed_one_is_said() -> None:
    """Failed 08:00; grabs at 11:00 and 14:30, none by 18:30, one at 20:00."""
    grabs = [here(3, 11), here(3, 14, 30), here(3, 20), here(3, 7)]
    slots = grab_slots(here(3, 8), here(3, 21), grabs)
    told = [(slot.due_at.astimezone(DENVER).strftime("%H:%M"), slot.state) for slot in slots]
    assert told == [
        ("12:00", SlotState.TAKEN),
        ("15:00", SlotState.TAKEN),
        ("18:30", SlotState.MISSED),
        ("22:30", SlotState.TAKEN),
        ("00:00", SlotState.OPEN),
    ]
    assert [slot.taken_at for slot in slots] == [here(3, 11), here(3, 14, 30), None, here(3, 20), None]


def test_16_at_the_last_moment_a_grab_is_in_time_and_not_yet_missed() -> None:
    assert grab_slots(here(3, 8), here(3, 12))[0].state is SlotState.OPEN
    assert grab_slots(here(3, 8), here(3, 12), [here(3, 12)])[0].state is SlotState.TAKEN
    assert grab_slots(here(3, 8), here(3, 12) + timedelta(seconds=1))[0].state is SlotState.MISSED


def test_16_back_in_service_no_more_grabs_are_owed() -> None:
    slots = grab_slots(here(3, 8), here(3, 20), [here(3, 11)], back_at=here(3, 14))
    assert [slot.state for slot in slots] == [SlotState.TAKEN]
    slots = grab_slots(here(3, 8), here(3, 20), back_at=here(3, 14))
    assert [slot.state for slot in slots] == [SlotState.MISSED]


def test_16_no_grab_is_owed_in_hours_in_which_the_unit_made_no_water() -> None:
    """Ran to 10:00 and again from 19:00: nothing is owed from 12:00 to 16:00."""
    run = [
        Run(
            key="a",
            from_at=here(3, 6),
            from_day=on("3 Mar"),
            recorded_at=here(3, 6),
            to_at=here(3, 10),
            last_day=on("3 Mar"),
            to_recorded_at=here(3, 10),
        ),
        Run(key="b", from_at=here(3, 19), from_day=on("3 Mar"), recorded_at=here(3, 19)),
    ]
    slots = grab_slots(here(3, 8), here(3, 21), [here(3, 19, 30)], running=run)
    assert [slot.state for slot in slots] == [*(SlotState.MISSED, SlotState.NOT_OWED, SlotState.TAKEN, SlotState.OPEN)]


@given(
    st.lists(st.integers(1, 48 * 60), max_size=20),
    st.integers(60, 48 * 60),
    st.integers(60, 12 * 60),
)
def test_16_between_two_grabs_in_time_never_more_than_the_hours_pass(minutes: list[int], now: int, every: int) -> None:
    """Slots follow each other without a gap, and each grab stands in one slot at most."""
    began = here(7, 12)
    grabs = [began.astimezone(UTC) + timedelta(minutes=n) for n in minutes]
    end = began.astimezone(UTC) + timedelta(minutes=now)
    slots = grab_slots(began, end, grabs, hours=Fraction(every, 60))
    for before, after in zip(slots, slots[1:], strict=False):
        assert after.from_at == (before.taken_at or before.due_at)
    taken = [slot.taken_at for slot in slots if slot.taken_at]
    assert len(taken) == len(set(taken)) == len({grab for grab in grabs if grab <= end})
    assert all(slot.due_at - slot.from_at == timedelta(minutes=every) for slot in slots)


DAILY = fixed("6 Mar", (1, Unit.DAY))


def test_16_a_daily_routine_is_due_on_the_day_without_half_past_two() -> None:
    """02:30 does not exist on 8 March; the routine is owed on dates, so it is due that day like any other."""
    skipped = datetime(2026, 3, 8, 2, 30, tzinfo=DENVER)
    assert site_day(skipped, DENVER) == on("8 Mar")
    done = Act(key="night", day=site_day(skipped, DENVER), performed_at=skipped, recorded_at=skipped)
    facts = routine(DAILY, *acts("6 Mar", "7 Mar"), done, start="6 Mar")
    assert lines(facts, "8 Mar")[1:] == ["8 Mar done 8 Mar", "9 Mar not yet"]


def test_16_a_daily_routine_is_due_once_on_the_day_with_half_past_one_twice() -> None:
    first = datetime(2026, 11, 1, 1, 30, tzinfo=DENVER)
    second = first.replace(fold=1)
    assert second.astimezone(UTC) - first.astimezone(UTC) == timedelta(hours=1)
    done = [
        Act(key=key, day=site_day(moment, DENVER), performed_at=moment, recorded_at=moment)
        for key, moment in (("first", first), ("second", second))
    ]
    facts = routine(fixed("31 Oct", (1, Unit.DAY)), act("31 Oct"), *done, start="31 Oct")
    found = replay(facts, on("1 Nov"))
    assert [fate.fate for fate in found.fates] == [Fate.BEFORE_START, Fate.CLOSED, Fate.EXTRA]
    assert [turn.due for turn in turns(facts, on("2 Nov"))] == [on("1 Nov"), on("2 Nov"), on("3 Nov")]


def test_30_the_day_at_the_site_is_told_by_the_zone_of_the_site_alone() -> None:
    """23:50 at the site is the next day in UTC and on a phone farther east."""
    moment = datetime(2026, 3, 4, 23, 50, tzinfo=DENVER)
    seen = {moment.astimezone(ZoneInfo(zone)) for zone in ("UTC", "Asia/Tokyo", "America/Denver")}
    assert {site_day(one, DENVER) for one in seen} == {on("4 Mar")}
    with pytest.raises(ValueError, match="needs its zone"):
        site_day(moment.replace(tzinfo=None), DENVER)
