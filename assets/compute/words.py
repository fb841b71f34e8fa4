"""Days, moments and counts in words, the same on every page, file and message."""

from __future__ import annotations

import datetime as dt

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def day_of_year(day: dt.date) -> str:
    """Write a day where its year goes without saying: 25 November."""
    return f"{day.day} {MONTHS[day.month - 1]}"


def day_named(day: dt.date) -> str:
    """Write a day, or the day of a moment on the clock it carries: 25 November 2026."""
    return f"{day_of_year(day)} {day.year}"


def moment_named(moment: dt.datetime) -> str:
    """Write a moment on the clock it carries: 25 November 2026, 14:05."""
    return f"{day_named(moment)}, {moment:%H:%M}"


def day_said(day: dt.date, seen_from: dt.date) -> str:
    """Write a day, with its year where that is another one: 21 November, 21 November 2025."""
    return day_of_year(day) if day.year == seen_from.year else day_named(day)


def count_of(number: int, one: str, many: str = "") -> str:
    """Write a count with its noun: 1 reading, 8 readings; `many` where that is no plain s."""
    return f"{number} {one if number == 1 else many or one + 's'}"
