"""From when on a time can be meant that is written for something done under a lockout.

The day for telling people is our own: they are often told on the shift before.
"""

from __future__ import annotations

import datetime as dt

TOLD_AHEAD = dt.timedelta(days=1)


def earliest(kind: str, *, begun_at: dt.datetime) -> dt.datetime:
    """First moment that can be meant for a line of the log: the lockout's beginning; for telling, a day before it."""
    return begun_at - TOLD_AHEAD if kind == "told before" else begun_at


def is_before(moment: dt.datetime, bound: dt.datetime) -> bool:
    """Whether a moment lies before another, to the minute: what people write has no seconds."""
    return moment < bound.replace(second=0, microsecond=0)
