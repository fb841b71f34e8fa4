"""Readings for tests: a number, so many hours after the first Monday of March, at an invented plant in Ontario."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from zoneinfo import ZoneInfo

from hypothesis import settings

from assets.compute.readings.facts import Taken, taken
from assets.compute.readings.series import Broken, Count, with_break

PROPERTY = settings(deadline=None, max_examples=50)
"""For properties: no deadline, since a machine that tests on every core is slow at times."""

ZONE = ZoneInfo("America/Toronto")
BEGIN = dt.datetime(2026, 3, 2, 6, 48, tzinfo=ZONE)


def hour(after: float) -> dt.datetime:
    """The moment so many hours after 2 March 2026, 06:48, on the clock that does not jump."""
    return (BEGIN.astimezone(dt.UTC) + dt.timedelta(hours=after)).astimezone(ZONE)


def read(text: str, unit: str, after: float, *, into: str = "") -> Taken:
    return taken(text, unit, hour(after), into=into)


def days(texts: list[str], unit: str, *, into: str = "") -> list[Taken]:
    """One reading a day at 06:48 by the clock on the wall, the first on 2 March."""
    return [taken(text, unit, BEGIN + dt.timedelta(days=n), into=into) for n, text in enumerate(texts)]


def count(value: Fraction | int | str, after: float, *, broken: Broken | None = None, late: float = 0) -> Count:
    """A reading of a counter, written down `late` hours after it was taken."""
    at = hour(after)
    one = Taken(value=Fraction(value), at=at, recorded_at=hour(after + late) if late else None)
    return with_break(one, broken)
