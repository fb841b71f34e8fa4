"""Runs in a process of its own, that may be killed: a worker of a real site with its own database file."""

from __future__ import annotations

import datetime as dt
import sys
import time

from django.db import connections
from django.utils import timezone

from assets.models import Role
from maintenance import tasks
from maintenance.actions import messages
from maintenance.models import Message, MessageTry
from tests.maintenance.messages.people import reachable
from tests.make import make_position, make_site
from tests.make_upkeep import make_order

MORNING = dt.datetime(2026, 11, 25, 13, 0, tzinfo=dt.UTC)  # 06:00 at the site


def at(minutes: int) -> None:
    """Stop the clock so many minutes after the time of the morning message."""
    timezone.now = lambda: MORNING + dt.timedelta(minutes=minutes)  # type: ignore[assignment]


def make() -> None:
    """A site with one message to send."""
    at(0)
    site = make_site()
    ruth = reachable(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")
    make_order(make_position(site=site), by=ruth)
    print(tasks.write_messages(), flush=True)  # noqa: T201 - the terminal is how it answers


def send(minutes: int) -> None:
    """Send what waits and say what is known of it."""
    at(minutes)
    tasks.send_messages()
    known = [(one.sent, one.ended_at is not None) for one in MessageTry.objects.order_by("number")]
    print(Message.objects.count(), known, flush=True)  # noqa: T201


def stand_still_before(step: str, minutes: int) -> None:
    """Send what waits, and stop for ever before a step: `handing over` or `marking`."""
    at(minutes)

    def stop(*_: object, **__: object) -> None:
        print("standing still", flush=True)  # noqa: T201
        time.sleep(600)

    setattr(messages, {"handing over": "_handed_over", "marking": "end_try"}[step], stop)
    tasks.send_messages()


def do(asked: str) -> None:
    """Do what is asked: a function of this module and what it is given."""
    name, *given = asked.split(", ")
    globals()[name](*[int(word) if word.isdecimal() else word for word in given])


def answer_until_the_end() -> None:
    """Do what stands in each line; a process that was killed is never the one that goes on."""
    for line in sys.stdin:
        do(line.strip())
        connections.close_all()
