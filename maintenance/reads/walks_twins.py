"""The counter of the machine beside the one that a check point asks: what it showed before, and on this walk."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assets.compute.readings.facts import Taken
from assets.compute.readings.series import Count
from assets.models import Position, Reading
from maintenance.models import LineKind, PointLine


@dataclass(frozen=True, slots=True, kw_only=True)
class TwinView:
    """A twin's readings in the unit of the line beside it; read: the one of this walk, None where there is none yet."""

    position: Position
    history: tuple[Count, ...] = ()
    read: Reading | None = None
    now: Taken | None = None


def twins_of(lines: Sequence[PointLine]) -> dict[int, Position]:
    """Return the machine beside the one of each counter, whichever of the two lines names the other; one query."""
    counters = [line for line in lines if line.kind == LineKind.COUNTER and line.position_id is not None]
    found = {line.pk: line.twin for line in counters if line.twin is not None}
    alone = {line.position_id: line for line in counters if line.pk not in found}
    if not alone:
        return found
    naming = PointLine.objects.filter(kind=LineKind.COUNTER, twin__in=alone, ended_at__isnull=True)
    for other in naming.select_related("position").order_by("pk"):
        line = alone[other.twin_id]
        if other.position is not None and other.what == line.what:
            found.setdefault(line.pk, other.position)
    return found


def beside(lines: Sequence[PointLine], twins: Mapping[int, Position]) -> dict[int, PointLine]:
    """Return lines, never kept, that ask of each twin what the line beside it asks, by that line's key."""
    return {
        line.pk: PointLine(
            pk=-line.pk, kind=line.kind, what=line.what, position=twins[line.pk], unit=line.unit, face=line.face
        )
        for line in lines
        if line.pk in twins
    }


def twin_view(
    position: Position, rows: Sequence[Reading], history: tuple[Count, ...], *, unit: str, since: dt.datetime | None
) -> TwinView:
    """Return a twin with its reading of the walk begun at `since`, where it can be put right: one in the same unit.

    rows: the newest first; history: the same as numbers in that unit.
    """
    newest = rows[0] if rows else None
    now = max(history, key=lambda one: one.at, default=None)
    if newest is None or since is None or newest.taken_at < since or now is None:
        return TwinView(position=position, history=history)
    fits = newest.unit == unit and now.at == newest.taken_at and not hasattr(newest, "counter_break")
    if not fits:
        return TwinView(position=position, history=history)
    return TwinView(position=position, history=history, read=newest, now=now)
