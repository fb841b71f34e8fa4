"""When a morning's messages are owed, and what is to be done with one that is not known to be sent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from enum import StrEnum

CUT_SHORT_AFTER = timedelta(minutes=15)
"""A try that has not ended by then was cut short: our mail connections give up after a minute at the most."""

MOST_UNKNOWN = 2
"""So often a message is handed over without knowing whether it went out: at most one repeat, then it is named."""

WAIT_AFTER_TROUBLE = timedelta(minutes=15)


class Next(StrEnum):
    """What is to be done with a message."""

    SEND = "send"
    WAIT = "wait"
    SENT = "sent"
    NOT_KNOWN = "not known"  # handed over twice, and neither time did the mail server's answer arrive
    TOO_LATE = "too late"  # not sent while it was of use


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One try: `sent` None is not known, also while it has not ended."""

    begun_at: datetime
    ended_at: datetime | None = None
    sent: bool | None = None


def next_of(tries: Sequence[Tried], now: datetime, until: datetime) -> Next:
    """Say what is to be done with a message after these tries, in the order in which they were begun.

    A try without an answer counts as perhaps sent, so a crash between sending and marking repeats a message once and
    never twice; a second one leaves it *not known*. A try that the mail server refused is repeated until `until`.
    """
    if any(one.sent for one in tries):
        return Next.SENT
    last = tries[-1] if tries else None
    if last is not None and last.ended_at is None and now - last.begun_at < CUT_SHORT_AFTER:
        return Next.WAIT
    if sum(one.sent is None for one in tries) >= MOST_UNKNOWN:
        return Next.NOT_KNOWN
    if now > until:
        return Next.TOO_LATE
    if last is not None and last.ended_at is not None and now - last.ended_at < WAIT_AFTER_TROUBLE:
        return Next.WAIT
    return Next.SEND


def morning_has_come(here: datetime, at: time) -> bool:
    """Tell whether the time of the morning message is past on the clock of the site, `here` in its zone.

    A time that the change of clocks leaves out has come with the first minute after the gap; one that comes twice has
    come with the first.
    """
    return here.time().replace(tzinfo=None) >= at
