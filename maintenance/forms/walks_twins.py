"""Two machines read the wrong way round on the walk: which question is put, and what putting both right changes."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from assets.compute.readings.asked import Asked
from assets.compute.readings.facts import Taken
from assets.models import Reading
from maintenance.compute.walk import Seen, other_way_round
from maintenance.reads.walks_lines import LineView


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """The question whether a line shows its twin's number, and where the twin's own number is.

    twin: key of the twin's line on this page; read: the twin's reading at an earlier check point of this walk.
    """

    asked: Asked
    twin: int | None = None
    read: Reading | None = None


def pairs_of(views: Sequence[LineView], taken: Mapping[int, Taken], *, left_out: Collection[int]) -> dict[int, Pair]:
    """Return the pairs to ask about, by the key of one line of each; taken: what was typed, by line.

    left_out: lines whose counter was said to have been replaced or to have begun anew.
    """
    found: dict[int, Pair] = {}
    for view in views:
        pk = view.line.pk
        other = _twin_on_page(view, views)
        if view.twin is None or pk not in taken or pk in left_out:
            continue
        if other is not None and (other.line.pk in found or other.line.pk in left_out):
            continue
        pair = _pair(view, other, taken)
        if pair is not None:
            found[pk] = pair
    return found


def _pair(view: LineView, other: LineView | None, taken: Mapping[int, Taken]) -> Pair | None:
    assert view.twin is not None
    typed = taken.get(other.line.pk) if other is not None else None
    one = Seen(tag=view.tag, asks=view.asks, history=view.history, now=taken[view.line.pk])
    asks = other.asks if other is not None else replace(view.asks, modulus=None)
    twin = Seen(tag=view.twin.position.tag, asks=asks, history=view.twin.history, now=typed if typed else view.twin.now)
    asked = other_way_round(one, twin)
    if asked is None:
        return None
    if other is not None and typed is not None:
        return Pair(asked=asked, twin=other.line.pk)
    return Pair(asked=asked, read=view.twin.read)


def _twin_on_page(view: LineView, views: Sequence[LineView]) -> LineView | None:
    line, twin = view.line, view.twin
    if twin is None:
        return None
    same = (
        one
        for one in views
        if (one.line.position_id, one.line.what, one.line.unit) == (twin.position.pk, line.what, line.unit)
    )
    return next(same, None)
