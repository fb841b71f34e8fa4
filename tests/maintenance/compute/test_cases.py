"""Stories of routines, each with the turns it must have on a day.

Source of every expected line: our own rules for due dates, worked by hand from a calendar of 2026 (Gregorian). Month
ends and leap days are checked against pandas in test_intervals. Lines read: due day, why, state, day it ended,
reason, days late, days blocked.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from maintenance.compute.schedule import FAILED, NOT_VALID, Act, Allowance, Block, Facts, Retirement, Unit, turns
from tests.maintenance.compute.routines import (
    NO_DAYS,
    act,
    acts,
    at,
    fitted,
    fixed,
    floating,
    line,
    locked,
    on,
    quarter,
    routine,
)

QUARTERLY, YEARLY = (3, Unit.MONTH), (1, Unit.YEAR)


@dataclass(frozen=True, kw_only=True)
class Story:
    name: str
    facts: Facts
    day: str
    lines: tuple[str, ...]
    blocks: tuple[Block, ...] = ()


def monthly(*done: Act, early: Allowance | None = None) -> Facts:
    """Monthly from 31 January, done on the day it was put into force."""
    return routine(fixed("31 Jan", early=early), act("31 Jan"), *done, start="31 Jan")


def thirty_days(*done: Act, start: str = "8 Feb", late: Allowance = NO_DAYS) -> Facts:
    """Every 30 days after it was last done; first done on the day it was put into force."""
    return routine(floating(late=late), act(start), *done, start=start)


LOCKED = (locked("1 Mar", "20 Mar"),)
MONTHLY_ON_THE_TENTH = routine(fixed("10 Feb"), act("10 Feb"), start="10 Feb")
PROBE_SWAPPED = {"follows_asset": True, "fittings": (fitted("old", "1 Feb"), fitted("new", "5 Mar"))}

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

BLOCKED = [
    Story(
        name="locked before the due day: not yet, though its window is open",
        facts=MONTHLY_ON_THE_TENTH,
        blocks=LOCKED,
        day="5 Mar",
        lines=("10 Mar not yet (locked out)",),
    ),
    Story(
        name="locked on the due day: blocked, not due",
        facts=MONTHLY_ON_THE_TENTH,
        blocks=LOCKED,
        day="10 Mar",
        lines=("10 Mar blocked (locked out)", "10 Apr not yet (locked out)"),
    ),
    Story(
        name="locked past the due day: blocked, not overdue",
        facts=thirty_days(),
        blocks=LOCKED,
        day="15 Mar",
        lines=("10 Mar blocked (locked out) blocked 5",),
    ),
    Story(
        name="due on the day of release",
        facts=thirty_days(),
        blocks=LOCKED,
        day="20 Mar",
        lines=("10 Mar due blocked 10",),
    ),
    Story(
        name="overdue from the day after release",
        facts=thirty_days(),
        blocks=LOCKED,
        day="22 Mar",
        lines=("10 Mar overdue late 2 blocked 10",),
    ),
    Story(
        name="done on release, floating: counted from that day",
        facts=thirty_days(act("20 Mar")),
        blocks=LOCKED,
        day="20 Mar",
        lines=("10 Mar done 20 Mar blocked 10", "19 Apr not yet"),
    ),
    Story(
        name="done on release, fixed: the grid has not moved",
        facts=routine(fixed("10 Feb"), *acts("10 Feb", "20 Mar"), start="10 Feb"),
        blocks=LOCKED,
        day="20 Mar",
        lines=("10 Mar done 20 Mar blocked 10", "10 Apr not yet"),
    ),
    Story(
        name="locked when already overdue: blocked now, overdue again on release",
        facts=thirty_days(),
        blocks=(locked("13 Mar", "15 Mar"),),
        day="15 Mar",
        lines=("10 Mar overdue late 5 blocked 2",),
    ),
    Story(
        name="a routine demanded by a rule is not stopped by our lock",
        facts=routine(floating(5, by_rule=True), act("27 Feb"), start="27 Feb"),
        blocks=LOCKED,
        day="5 Mar",
        lines=("4 Mar overdue (locked out) late 1",),
    ),
    Story(
        name="no longer demanded by a rule, but overdue before that: our lock does not stop it",
        facts=routine((floating(5, by_rule=True), floating(5, decided="5 Mar")), act("27 Feb"), start="27 Feb"),
        blocks=LOCKED,
        day="6 Mar",
        lines=("4 Mar overdue (locked out) late 2",),
    ),
    Story(
        name="locked on the last allowed day itself: in time, due on release",
        facts=thirty_days(),
        blocks=(locked("10 Mar", "12 Mar"),),
        day="12 Mar",
        lines=("10 Mar due blocked 2",),
    ),
    Story(
        name="released on the day the next is due: missed, and said to have been blocked",
        facts=MONTHLY_ON_THE_TENTH,
        blocks=(locked("1 Mar", "10 Apr"),),
        day="10 Apr",
        lines=("10 Mar missed 10 Apr (locked out) blocked 31", "10 Apr due", "10 May not yet"),
    ),
    Story(
        name="locked over the next due day as well: missed, and said to be blocked",
        facts=MONTHLY_ON_THE_TENTH,
        blocks=(locked("1 Mar"),),
        day="11 Apr",
        lines=(
            "10 Mar missed 10 Apr (locked out) blocked 31",
            "10 Apr blocked (locked out) blocked 1",
            "10 May not yet (locked out)",
        ),
    ),
    Story(
        name="a lock put on and taken off within a day stops nothing",
        facts=thirty_days(late=Allowance(5)),
        blocks=(locked("12 Mar", "12 Mar"),),
        day="12 Mar",
        lines=("10 Mar late but allowed",),
    ),
]

BEGINNINGS_AND_ENDS = [
    Story(
        name="a new routine on an old asset without history is due today",
        facts=routine(floating(), start="3 Mar"),
        day="3 Mar",
        lines=("3 Mar no record due",),
    ),
    Story(
        name="without history and not done on its first day it is overdue the next",
        facts=routine(fixed("3 Mar"), start="3 Mar"),
        day="4 Mar",
        lines=("3 Mar no record overdue late 1", "3 Apr not yet"),
    ),
    Story(
        name="the first act closes what had no record, and the interval runs from it",
        facts=routine(floating(), act("5 Mar"), start="3 Mar"),
        day="5 Mar",
        lines=("3 Mar no record done 5 Mar late 2", "4 Apr not yet"),
    ),
    Story(
        name="done before it was put into force, inside the window of its first due day",
        facts=routine(fixed("31 Jan"), act("25 Mar"), start="27 Mar"),
        day="27 Mar",
        lines=("31 Mar done 25 Mar", "30 Apr not yet"),
    ),
    Story(
        name="a probe calibrated on the bench before it was fitted owes a check before use",
        facts=routine(floating(), act("1 Mar"), act("20 Feb", asset="new"), start="1 Mar", **PROBE_SWAPPED),
        day="5 Mar",
        lines=("5 Mar before use due", "31 Mar withdrawn 5 Mar (asset taken out)"),
    ),
    Story(
        name="the check before use starts the interval of the new probe",
        facts=routine(floating(), act("1 Mar"), act("5 Mar", asset="new"), start="1 Mar", **PROBE_SWAPPED),
        day="5 Mar",
        lines=("5 Mar before use done 5 Mar", "31 Mar withdrawn 5 Mar (asset taken out)", "4 Apr not yet"),
    ),
    Story(
        name="on a fixed grid the check before use closes the turn whose window it falls in",
        facts=routine(fixed("8 Feb"), act("8 Feb"), act("6 Mar", asset="new"), start="8 Feb", **PROBE_SWAPPED),
        day="6 Mar",
        lines=("5 Mar before use done 6 Mar late 1", "8 Mar done 6 Mar", "8 Apr not yet"),
    ),
    Story(
        name="a check before use asked for before the window of the next turn leaves that turn owed",
        facts=routine(fixed("20 Feb"), act("20 Feb"), act("14 Mar", asset="new"), start="20 Feb", **PROBE_SWAPPED),
        day="14 Mar",
        lines=("5 Mar before use done 14 Mar late 9", "20 Mar can be done now"),
    ),
    Story(
        name="a routine of the place does not mind a swap",
        facts=routine(floating(), act("1 Mar"), start="1 Mar", fittings=PROBE_SWAPPED["fittings"]),
        day="5 Mar",
        lines=("31 Mar not yet",),
    ),
    Story(
        name="old and new probe checked on one site date: both count",
        facts=routine(
            floating(),
            act("1 Feb"),
            act("5 Mar", clock="08:00", asset="old"),
            act("5 Mar", clock="10:00", asset="new"),
            start="1 Feb",
            **PROBE_SWAPPED,
        ),
        day="5 Mar",
        lines=(
            "3 Mar done 5 Mar late 2",
            "5 Mar before use done 5 Mar",
            "4 Apr withdrawn 5 Mar (asset taken out)",
            "4 Apr not yet",
        ),
    ),
    Story(
        name="retired while open: withdrawn with the reason, not missed",
        facts=routine(
            fixed("31 Jan"),
            act("31 Jan"),
            start="31 Jan",
            retired=Retirement(day=on("20 Mar"), recorded_at=at(on("20 Mar")), because="pump scrapped"),
        ),
        day="1 Jun",
        lines=("28 Feb withdrawn 20 Mar (pump scrapped)", "31 Mar withdrawn 20 Mar (pump scrapped)"),
    ),
]

CHANGED_TERMS = [
    Story(
        name="from monthly to quarterly: what fell due before the decision stays owed",
        facts=routine(
            (fixed("31 Jan"), fixed("31 May", QUARTERLY, decided="5 Apr")), *acts("31 Jan", "28 Feb"), start="31 Jan"
        ),
        day="5 Apr",
        lines=("28 Feb done 28 Feb", "31 Mar overdue late 5", "31 May not yet"),
    ),
    Story(
        name="work done before a new grid was decided does not count for its first turn",
        facts=routine(
            (fixed("31 Jan"), fixed("3 Apr", decided="1 Apr")),
            *acts("31 Jan", "28 Feb", "28 Mar", "30 Mar"),
            start="31 Jan",
        ),
        day="3 Apr",
        lines=("28 Feb done 28 Feb", "31 Mar done 28 Mar", "3 Apr due", "3 May not yet"),
    ),
    Story(
        name="from a grid to an interval with nothing owed: counted from the last act, not before the decision",
        facts=routine((fixed("31 Jan"), floating(14, decided="20 Mar")), *acts("31 Jan", "28 Feb"), start="31 Jan"),
        day="20 Mar",
        lines=("28 Feb done 28 Feb", "20 Mar due"),
    ),
    Story(
        name="from a grid to an interval with a turn owed: that one stays, nothing is asked twice",
        facts=routine((fixed("31 Jan"), floating(14, decided="20 Mar")), act("31 Jan"), start="31 Jan"),
        day="2 Apr",
        lines=("28 Feb overdue late 33",),
    ),
    Story(
        name="from a grid to an interval: the act that closes the old turn starts the interval",
        facts=routine((fixed("31 Jan"), floating(14, decided="20 Mar")), *acts("31 Jan", "2 Apr"), start="31 Jan"),
        day="2 Apr",
        lines=("28 Feb done 2 Apr late 33", "16 Apr not yet"),
    ),
    Story(
        name="from an interval to a grid: an overdue turn stays, and is missed when the grid's first is due",
        facts=routine((floating(30), fixed("15 Apr", decided="5 Apr")), act("1 Mar"), start="1 Mar"),
        day="15 Apr",
        lines=("31 Mar missed 15 Apr", "15 Apr due", "15 May not yet"),
    ),
    Story(
        name="from an interval to a grid in time: the grid takes over",
        facts=routine((floating(30), fixed("15 Apr", decided="20 Mar")), act("1 Mar"), start="1 Mar"),
        day="20 Mar",
        lines=("31 Mar withdrawn 20 Mar (routine changed)", "15 Apr not yet"),
    ),
]

STORIES = MONTH_ENDS + FIXED + FLOATING + BLOCKED + BEGINNINGS_AND_ENDS + CHANGED_TERMS


def told(story: Story) -> tuple[str, ...]:
    day = on(story.day)
    return tuple(line(turn, day, story.blocks) for turn in turns(story.facts, day))


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.name)
def test_story(story: Story) -> None:
    assert told(story) == story.lines
