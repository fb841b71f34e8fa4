"""Stories of routines that begin, end, change their terms or see an asset swapped.

Source of every expected line: our own rules for due dates, worked by hand from a calendar of 2026 (Gregorian). Month
ends and leap days are checked against pandas in test_intervals. Lines read: due day, why, state, day it ended,
reason, days late, days blocked.
"""

from __future__ import annotations

from maintenance.compute.schedule import Retirement
from tests.maintenance.compute.routines import (
    act,
    acts,
    at,
    fixed,
    floating,
    on,
    routine,
)
from tests.maintenance.compute.stories import (
    PROBE_SWAPPED,
    QUARTERLY,
    Story,
)

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
