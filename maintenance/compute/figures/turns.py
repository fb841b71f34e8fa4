"""Due items in figures: how many were done on time, and how late the others were, by the columns they are stored in.

On time is judged by the turn's own due day: the day the routine gave it, whatever held it up. What was held up by a
lock, and what was put off with approval, stand in the denominator and are not on time; each is a bucket of its own.
Source of the rule: SMRP metric 5.4.14, second-hand: the rule must stand beside the figure.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from assets.compute.words import day_named
from maintenance.compute.figures.shares import Figure, LeftOut, middle, share

NAMED = 40


class Bucket(StrEnum):
    """How one due item of the period counts."""

    ON_TIME = "done by its due day"
    WITHIN = "done within the days allowed"
    DEFERRED = "put off with approval"
    BLOCKED = "held up by a lock or a stop"
    LATE = "done late"
    MISSED = "missed: its turn passed undone"
    NOT_DONE = "not done yet"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One due item as stored.

    own: the due day its routine gave it; due and latest: moved by what held it up; by_rule: a rule demands the
    interval; deferred: it was put off with approval; blocked: something stops it now; because: why it was withdrawn or
    what stopped it.
    """

    name: str
    own: date
    due: date
    latest: date
    ended: str
    ended_on: date | None
    by_rule: bool = False
    deferred: bool = False
    blocked: bool = False
    because: str = ""

    @property
    def days_late(self) -> int:
        """Days from its own due day to the day it was done; 0 for one that was not done or came in time."""
        done = self.ended_on if self.ended == "done" else None
        return max(0, (done - self.own).days) if done is not None else 0


def bucket_of(one: Due) -> Bucket:
    """Say how a due item counts. What was moved and done by the day it was moved to counts as held up or put off."""
    if one.ended == "withdrawn":
        return Bucket.WITHDRAWN
    moved = Bucket.DEFERRED if one.deferred else Bucket.BLOCKED
    if one.ended == "missed":
        return Bucket.BLOCKED if one.because else Bucket.MISSED
    if one.ended_on is None:
        return moved if one.blocked or one.due > one.own else Bucket.NOT_DONE
    if one.ended_on <= one.own:
        return Bucket.ON_TIME
    if one.ended_on <= one.latest:
        return moved if one.due > one.own else Bucket.WITHIN
    return Bucket.LATE


def on_time(items: Iterable[Due]) -> Figure:
    """Share of due items of the period that were done by their own due day; the other rule stands beside it."""
    buckets = sorted_out(items)
    counted = [one for bucket, ones in buckets.items() if bucket is not Bucket.WITHDRAWN for one in ones]
    good = len(buckets[Bucket.ON_TIME])
    allowed = good + len(buckets[Bucket.WITHIN])
    other = share("", "", kept=allowed, of=len(counted), words=("", ""))
    beside = f"Within the days allowed: {other.shown}, {allowed} of {len(counted)}." if counted else ""
    by_rule = sum(one.by_rule for one in counted)
    if by_rule:
        beside += f" {by_rule} of {len(counted)} by rule, with no day allowed."
    return share(
        "Done on time",
        "due items done by their own due day ÷ all due items whose due day lies in the period",
        kept=good,
        of=len(counted),
        words=("done by their due day", "due in the period"),
        says=beside.strip(),
        left_out=[_left_out(bucket, buckets[bucket]) for bucket in Bucket if bucket not in _COUNTED_AS_TOLD],
    )


def days_late(items: Iterable[Due]) -> Figure:
    """Middle value and longest of the days between the own due day and the day it was done, of what was done late."""
    buckets = sorted_out(items)
    late = [one for ones in buckets.values() for one in ones if one.days_late]
    undone = [*buckets[Bucket.MISSED], *buckets[Bucket.NOT_DONE]]
    return middle(
        "Days late, middle value",
        "middle of the days from the due day to the day it was done, of what was done after its due day",
        [one.days_late for one in late],
        words=f"{len(late)} done after their due day",
        left_out=[LeftOut("missed or not done yet: there is no day on which it was done", len(undone))],
    )


def sorted_out(items: Iterable[Due]) -> dict[Bucket, list[Due]]:
    """Put due items into their buckets; every bucket is there."""
    found: dict[Bucket, list[Due]] = {bucket: [] for bucket in Bucket}
    for one in items:
        found[bucket_of(one)].append(one)
    return found


_COUNTED_AS_TOLD = frozenset({Bucket.ON_TIME, Bucket.WITHIN})
_STANDS: dict[Bucket, str] = {
    Bucket.WITHDRAWN: "stands in neither number",
    Bucket.DEFERRED: "in the denominator, not on time",
    Bucket.BLOCKED: "in the denominator, not on time",
}


def _left_out(bucket: Bucket, ones: Sequence[Due]) -> LeftOut:
    stands = _STANDS.get(bucket, "in the denominator, not on time")
    return LeftOut(f"{bucket.value}; {stands}", len(ones), tuple(_told(one) for one in ones[:NAMED]))


def _told(one: Due) -> str:
    because = f": {one.because}" if one.because else ""
    return f"{one.name}, due {day_named(one.own)}{because}"
