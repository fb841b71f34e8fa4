"""What a story of a routine is: facts, a day, and the turns it must have on that day.

Source of every expected line: our own rules for due dates, worked by hand from a calendar of 2026 (Gregorian). Month
ends and leap days are checked against pandas in test_intervals. Lines read: due day, why, state, day it ended,
reason, days late, days blocked.
"""

from __future__ import annotations

from dataclasses import dataclass

from maintenance.compute.schedule import Act, Allowance, Block, Facts, Unit
from tests.maintenance.compute.routines import (
    NO_DAYS,
    act,
    fitted,
    fixed,
    floating,
    locked,
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
