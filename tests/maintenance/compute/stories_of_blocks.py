"""Stories of routines that cannot be done because of a lock.

Source of every expected line: our own rules for due dates, worked by hand from a calendar of 2026 (Gregorian). Month
ends and leap days are checked against pandas in test_intervals. Lines read: due day, why, state, day it ended,
reason, days late, days blocked.
"""

from __future__ import annotations

from maintenance.compute.schedule import Allowance
from tests.maintenance.compute.routines import (
    act,
    acts,
    fixed,
    floating,
    locked,
    routine,
)
from tests.maintenance.compute.stories import (
    LOCKED,
    MONTHLY_ON_THE_TENTH,
    Story,
    thirty_days,
)

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
