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
    every: Literal["five minutes", "hourly", "daily"]
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
    Periodic(
        name="messages written",
        path="maintenance.tasks.write_messages",
        every="five minutes",
        why="writes the morning messages once the site's time for them has come, and what is past its last allowed day",
    ),
    Periodic(
        name="messages sent",
        path="maintenance.tasks.send_messages",
        every="five minutes",
        why="sends what waits for the mail server; apart from the writing, so that neither stops the other",
    ),
)


def write() -> list[str]:
    """Make the schedule rows equal to the table; return a sentence for each row that was made, mended or removed."""
    from django.db import transaction
    from django_q.models import Schedule

    hourly = {"schedule_type": Schedule.HOURLY, "minutes": None}
    kinds = {
        "five minutes": {"schedule_type": Schedule.MINUTES, "minutes": 5},
        "hourly": hourly,
        "daily": {**hourly, "schedule_type": Schedule.DAILY},
    }
    done: list[str] = []
    with transaction.atomic():
        stray = Schedule.objects.exclude(name__in=[task.name for task in PERIODIC])
        done += [f"removed: {row.name or row.func}" for row in stray]
        stray.delete()
        for task in PERIODIC:
            wanted = {"func": task.path, "repeats": -1, **kinds[task.every]}
            blank = {"args": None, "kwargs": None, "hook": None, "cron": None, "cluster": None}
            rows = Schedule.objects.filter(name=task.name)
            if rows.filter(**wanted, **blank).count() == 1 == rows.count():
                continue
            rows.delete()
            Schedule.objects.create(name=task.name, **wanted, **blank)
            done.append(f"written: {task.name}, {task.every}, {task.path}")
    return done
