"""One check point of a walk, and where it lies in it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q

from maintenance.models import PointLine, StopAnswer, Walk, WalkStop
from maintenance.reads.walks_lines import LineView, line_views


@dataclass(frozen=True, slots=True, kw_only=True)
class StopPage:
    """One check point of a walk, and where it lies in it."""

    walk: Walk
    stop: WalkStop
    lines: tuple[LineView, ...]
    answer: StopAnswer | None
    seconds: tuple[StopAnswer, ...]
    stops: tuple[StopMark, ...]
    at: dt.datetime

    @property
    def of(self) -> int:
        """How many check points the walk has."""
        return len(self.stops)

    @property
    def before(self) -> StopMark | None:
        """The check point before this one."""
        return next((mark for mark in reversed(self.stops) if mark.number < self.stop.number), None)

    @property
    def next(self) -> StopMark | None:
        """The next check point in walking order that is not done, else the first one left."""
        left = [mark for mark in self.stops if not mark.done and mark.number != self.stop.number]
        return next((mark for mark in left if mark.number > self.stop.number), left[0] if left else None)


@dataclass(frozen=True, slots=True, kw_only=True)
class StopMark:
    """One check point as the list of a walk shows it; x and width: of its tick, in percent."""

    number: int
    name: str
    url: str
    outcome: str = ""
    odd: bool = False
    beside: bool = False
    now: bool = False
    x: str = ""
    width: str = ""

    @property
    def done(self) -> bool:
        """Whether somebody wrote it."""
        return bool(self.outcome)

    @property
    def skipped(self) -> bool:
        """Whether it was not running or could not be done."""
        return self.outcome in {"not running", "could not"}

    @property
    def tick(self) -> str:
        """The look of its tick."""
        if self.now:
            return "tick-now"
        return "tick-skip" if self.skipped else "tick-done" if self.done else "tick"

    @property
    def word(self) -> str:
        """How it stands, in a word."""
        words = {"read": "Done", "not running": "Not running", "could not": "Could not"}
        return "Now" if self.now and not self.done else words.get(self.outcome, "")

    @property
    def shape(self) -> str:
        """The shape of that word."""
        if self.now and not self.done:
            return "now"
        return "waiting" if self.skipped else "yes"


def stop_page(
    walk: Walk, stop: WalkStop, marks: tuple[StopMark, ...], now: dt.datetime, *, shown: str | None = None
) -> StopPage:
    """Return what the page of a check point shows; the same number of queries for one line and for twenty.

    shown: key of the answer that stood on the page that is sent, None where it is only asked for.
    What somebody else wrote there meanwhile is no number before this one: a second answer is asked what it would be
    asked if it had been the first.
    """
    answers = list(
        StopAnswer.objects.filter(stop=stop)
        .select_related("written_by", "recorded_by", "replaced_by", "taken_as")
        .prefetch_related("entries__line__position", "entries__reading__replaced_by", "entries__order")
    )
    counting = [one for one in answers if one.beside_id is None and not hasattr(one, "replaced_by")]
    first = [one for one in counting if shown is not None and str(one.pk) != shown]
    others = [entry.reading_id for one in first for entry in one.entries.all() if entry.reading_id]
    return StopPage(
        walk=walk,
        stop=stop,
        lines=line_views(walk.site, lines_of(stop), now, since=walk.begun_at, without=others),
        answer=counting[0] if counting else None,
        seconds=tuple(one for one in answers if one.beside_id is not None and not hasattr(one, "taken_as")),
        stops=marks,
        at=now,
    )


def lines_of(stop: WalkStop) -> list[PointLine]:
    """Return what a check point asked when its walk was begun, whatever it asks by now."""
    begun = stop.walk.begun_at
    asked = PointLine.objects.filter(point_id=stop.point_id, added_at__lte=begun)
    standing = asked.filter(Q(ended_at__isnull=True) | Q(ended_at__gt=begun))
    return list(standing.select_related("point__position", "position", "twin"))
