"""Every task that runs by itself: what, how often, why. This table is the only source of schedules.

It is reviewed like code. `write` brings django-q2's rows in line with it; nobody edits those rows by hand, because one
malformed row stops all schedules at once. Every task takes no arguments and is a sweep: running it twice, or a day
late, does the same as running it once in time. Times of day belong to a site, so a nightly task is called each hour
and asks which site's night has begun and is not done yet; a clock change then neither skips nor doubles it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Periodic:
    """One row: `path` is the dotted path of a function without arguments."""

    name: str
    path: str
    every: Literal["hourly", "daily"]
    why: str


PERIODIC: tuple[Periodic, ...] = (
    Periodic(
        name="due items at night",
        path="maintenance.tasks.nightly",
        every="hourly",
        why="compares every stored due item with the facts once a night, and brings the turns that time alone brings",
    ),
    Periodic(
        name="checks at night",
        path="calibration.tasks.nightly",
        every="hourly",
        why="compares every signed check with what it counts for, and names assets whose fitness for use has lapsed",
    ),
    Periodic(
        name="records at night",
        path="assets.tasks.nightly_records",
        every="hourly",
        why="proves the history against the newest heads, and writes the heads outside the database",
    ),
)


def write() -> list[str]:
    """Make the schedule rows equal to the table; return a sentence for each row that was made, mended or removed."""
    from django.db import transaction
    from django_q.models import Schedule

    kinds = {"hourly": Schedule.HOURLY, "daily": Schedule.DAILY}
    done: list[str] = []
    with transaction.atomic():
        stray = Schedule.objects.exclude(name__in=[task.name for task in PERIODIC])
        done += [f"removed: {row.name or row.func}" for row in stray]
        stray.delete()
        for task in PERIODIC:
            wanted = {"func": task.path, "schedule_type": kinds[task.every], "repeats": -1}
            blank = {"args": None, "kwargs": None, "hook": None, "cron": None, "minutes": None, "cluster": None}
            rows = Schedule.objects.filter(name=task.name)
            if rows.filter(**wanted, **blank).count() == 1 == rows.count():
                continue
            rows.delete()
            Schedule.objects.create(name=task.name, **wanted, **blank)
            done.append(f"written: {task.name}, {task.every}, {task.path}")
    return done
