"""Stories of fixed grids and of intervals after the last act.

Source of every expected line: our own rules for due dates, worked by hand from a calendar of 2026 (Gregorian). Month
ends and leap days are checked against pandas in test_intervals. Lines read: due day, why, state, day it ended,
reason, days late, days blocked.
"""

from __future__ import annotations

from maintenance.compute.schedule import FAILED, NOT_VALID, Act, Allowance, Unit
from tests.maintenance.compute.routines import (
    NO_DAYS,
    act,
    acts,
    at,
    fixed,
    floating,
    on,
    quarter,
    routine,
)
from tests.maintenance.compute.stories import (
    QUARTERLY,
    YEARLY,
    Story,
    monthly,
    thirty_days,
)

MONTH_ENDS = [
    Story(
        name="month ends are counted from the anchor, never from a shorter month",
        facts=monthly(*acts("28 Feb", "31 Mar", "30 Apr")),
        day="30 Apr",
        lines=("28 Feb done 28 Feb", "31 Mar done 31 Mar", "30 Apr done 30 Apr", "31 May not yet"),
    ),
    Story(
        name="quarterly from 30 November meets a leap day",
        facts=routine(fixed("30 Nov 2027", QUARTERLY), act("30 Nov 2027"), start="30 Nov 2027"),
        day="30 May 2028",
        lines=("29 Feb 2028 missed 30 May 2028", "30 May 2028 due", "30 Aug 2028 not yet"),
    ),
    Story(
        name="yearly from a leap day comes back to it",
        facts=routine(fixed("29 Feb 2028", YEARLY), act("29 Feb 2028"), start="29 Feb 2028"),
        day="1 Mar 2031",
        lines=(
            "28 Feb 2029 missed 28 Feb 2030",
            "28 Feb 2030 missed 28 Feb 2031",
            "28 Feb 2031 overdue late 1",
            "29 Feb 2032 not yet",
        ),
    ),
]

FIXED = [
    Story(
        name="late by five days does not move the grid",
        facts=monthly(*acts("28 Feb", "5 Apr")),
        day="5 Apr",
        lines=("28 Feb done 28 Feb", "31 Mar done 5 Apr late 5", "30 Apr not yet"),
    ),
    Story(
        name="two open, one done: one job never closes two",
        facts=monthly(act("2 Apr"), early=NO_DAYS),
        day="2 Apr",
        lines=("28 Feb missed 31 Mar", "31 Mar done 2 Apr late 2", "30 Apr not yet"),
    ),
    Story(
        name="before the next is due the older one is still overdue",
        facts=monthly(early=NO_DAYS),
        day="30 Mar",
        lines=("28 Feb overdue late 30", "31 Mar not yet"),
    ),
    Story(
        name="done early for the next: the older one is missed from that day",
        facts=monthly(act("25 Mar")),
        day="25 Mar",
        lines=("28 Feb missed 25 Mar", "31 Mar done 25 Mar", "30 Apr not yet"),
    ),
    Story(
        name="done inside the early window counts",
        facts=monthly(*acts("28 Feb", "25 Mar")),
        day="31 Mar",
        lines=("28 Feb done 28 Feb", "31 Mar done 25 Mar", "30 Apr not yet"),
    ),
    Story(
        name="done before the early window is extra work",
        facts=monthly(*acts("28 Feb", "20 Mar")),
        day="23 Mar",
        lines=("28 Feb done 28 Feb", "31 Mar not yet"),
    ),
    Story(
        name="the early window of seven days opens on 24 March",
        facts=monthly(*acts("28 Feb", "20 Mar")),
        day="24 Mar",
        lines=("28 Feb done 28 Feb", "31 Mar can be done now"),
    ),
    Story(
        name="a weekly routine opens at most a quarter of its week early",
        facts=routine(fixed("2 Mar", (1, Unit.WEEK)), act("2 Mar"), start="2 Mar"),
        day="7 Mar",
        lines=("9 Mar not yet",),
    ),
    Story(
        name="a quarter of ninety days allowed: 22 whole days, counted from the due day",
        facts=routine(fixed("1 Jan", (90, Unit.DAY), late=quarter()), act("1 Jan"), start="1 Jan"),
        day="23 Apr",
        lines=("1 Apr late but allowed", "30 Jun not yet"),
    ),
    Story(
        name="past the last allowed day lateness counts from the due day",
        facts=routine(fixed("1 Jan", (90, Unit.DAY), late=quarter()), act("1 Jan"), start="1 Jan"),
        day="24 Apr",
        lines=("1 Apr overdue late 23", "30 Jun not yet"),
    ),
    Story(
        name="done on the last allowed day, the windows do not add up",
        facts=routine(fixed("1 Jan", (90, Unit.DAY), late=quarter()), *acts("1 Jan", "23 Apr"), start="1 Jan"),
        day="23 Apr",
        lines=("1 Apr done 23 Apr", "30 Jun not yet"),
    ),
]

FLOATING = [
    Story(
        name="counted from the day performed, not the day entered",
        facts=thirty_days(act("10 Mar", entered="14 Mar")),
        day="14 Mar",
        lines=("10 Mar done 10 Mar", "9 Apr not yet"),
    ),
    Story(
        name="a late record of an earlier day leaves the newest in charge",
        facts=thirty_days(act("10 Mar"), act("5 Mar", entered="20 Mar")),
        day="20 Mar",
        lines=("10 Mar done 5 Mar", "4 Apr done 10 Mar", "9 Apr not yet"),
    ),
    Story(
        name="a correction moves the day performed and with it the due day",
        facts=thirty_days(
            act("10 Mar", key="a"), act("1 Mar", key="b", replaces="a", entered="12 Mar"), start="20 Feb"
        ),
        day="1 Apr",
        lines=("22 Mar done 1 Mar", "31 Mar overdue late 1"),
    ),
    Story(
        name="found failing and not put right: nothing is fulfilled",
        facts=thirty_days(act("10 Mar", because=FAILED)),
        day="10 Mar",
        lines=("10 Mar due",),
    ),
    Story(
        name="found failing, put right: fulfilled",
        facts=thirty_days(act("10 Mar")),
        day="10 Mar",
        lines=("10 Mar done 10 Mar", "9 Apr not yet"),
    ),
    Story(
        name="a check that is not valid fulfils nothing",
        facts=thirty_days(act("10 Mar", because=NOT_VALID)),
        day="11 Mar",
        lines=("10 Mar overdue late 1",),
    ),
    Story(
        name="done twice on one site date is done once",
        facts=thirty_days(act("10 Mar", clock="09:00"), act("10 Mar", clock="15:00")),
        day="10 Mar",
        lines=("10 Mar done 10 Mar", "9 Apr not yet"),
    ),
    Story(
        name="shortened on 20 March: due on the day of the decision, not before",
        facts=routine((floating(30), floating(14, decided="20 Mar")), act("1 Mar"), start="1 Mar"),
        day="21 Mar",
        lines=("20 Mar overdue late 1",),
    ),
    Story(
        name="shortened on 10 March: due on the new interval's own day",
        facts=routine((floating(30), floating(14, decided="10 Mar")), act("1 Mar"), start="1 Mar"),
        day="10 Mar",
        lines=("15 Mar not yet",),
    ),
    Story(
        name="lengthened while still in time: due later",
        facts=routine((floating(30), floating(60, decided="31 Mar")), act("1 Mar"), start="1 Mar"),
        day="31 Mar",
        lines=("30 Apr not yet",),
    ),
    Story(
        name="lengthened when already overdue: still overdue",
        facts=routine((floating(30), floating(60, decided="1 Apr")), act("1 Mar"), start="1 Mar"),
        day="1 Apr",
        lines=("31 Mar overdue late 1",),
    ),
    Story(
        name="days allowed given when already overdue: still overdue",
        facts=routine((floating(30), floating(30, late=Allowance(14), decided="1 Apr")), act("1 Mar"), start="1 Mar"),
        day="2 Apr",
        lines=("31 Mar overdue late 2",),
    ),
    Story(
        name="lengthened in its days allowed, so not yet overdue: due later",
        facts=routine(
            (floating(30, late=Allowance(7)), floating(60, late=Allowance(7), decided="3 Apr")),
            act("1 Mar"),
            start="1 Mar",
        ),
        day="3 Apr",
        lines=("30 Apr not yet",),
    ),
    Story(
        name="days allowed taken away in the middle of them: that day is the last one",
        facts=routine((floating(30, late=Allowance(7)), floating(30, decided="3 Apr")), act("1 Mar"), start="1 Mar"),
        day="3 Apr",
        lines=("31 Mar late but allowed",),
    ),
    Story(
        name="days allowed taken away: overdue the day after, counted from the due day",
        facts=routine((floating(30, late=Allowance(7)), floating(30, decided="3 Apr")), act("1 Mar"), start="1 Mar"),
        day="4 Apr",
        lines=("31 Mar overdue late 4",),
    ),
    Story(
        name="shortened on 20 March and dated back: no earlier than the decision",
        facts=routine((floating(30), floating(14, decided="20 Mar", asked="2 Mar")), act("1 Mar"), start="1 Mar"),
        day="20 Mar",
        lines=("20 Mar due",),
    ),
    Story(
        name="shortened from a day to come: unchanged until then",
        facts=routine((floating(30), floating(14, decided="10 Mar", asked="25 Mar")), act("1 Mar"), start="1 Mar"),
        day="24 Mar",
        lines=("31 Mar can be done now",),
    ),
    Story(
        name="shortened from a day to come: due on that day",
        facts=routine((floating(30), floating(14, decided="10 Mar", asked="25 Mar")), act("1 Mar"), start="1 Mar"),
        day="25 Mar",
        lines=("25 Mar due",),
    ),
    Story(
        name="every ninety days: the second of two checks in two quarters was due earlier",
        facts=routine(floating(90), *acts("2 Jan", "28 Jun"), start="2 Jan"),
        day="28 Jun",
        lines=("2 Apr done 28 Jun late 87", "26 Sep not yet"),
    ),
    Story(
        name="ten to midnight is still that site date, though the next day elsewhere",
        facts=routine(
            floating(5, by_rule=True),
            act("27 Feb"),
            Act(key="night", day=on("4 Mar"), performed_at=at(on("5 Mar"), "06:50"), recorded_at=at(on("5 Mar"))),
            start="27 Feb",
        ),
        day="5 Mar",
        lines=("4 Mar done 4 Mar", "9 Mar not yet"),
    ),
    Story(
        name="a routine demanded by a rule has no days allowed, whatever its terms say",
        facts=routine(floating(5, by_rule=True, late=Allowance(3)), act("27 Feb"), start="27 Feb"),
        day="5 Mar",
        lines=("4 Mar overdue late 1",),
    ),
]
