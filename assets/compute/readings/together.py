"""Readings of several things taken together: those that one computed value may be worked out from.

A pressure of this morning and a flow of last night say nothing of one moment. Readings belong together where they were
taken within so many minutes, or on one walk; what has no partner is named with how far off the nearest one is.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.readings.facts import Taken, about, hours_between, in_order, utc

MINUTES = 15
"""How far apart readings may be that are taken together: own judgement, a few stops of a walk."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Read(Taken):
    """A reading with its key; `walk` names the walk on which it was taken, '' for none."""

    key: str
    walk: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """The readings of one moment, by what they are of; `lead` is the first of them, for which the others were sought.

    missing: what has no partner, each with a sentence that says why.
    """

    lead: Read
    found: Mapping[str, Read]
    missing: Mapping[str, str]

    @property
    def at(self) -> dt.datetime:
        """When the last of them was taken."""
        return max((one.at for one in self.found.values()), key=utc)

    @property
    def known_at(self) -> dt.datetime:
        """When all of them could first be known."""
        return max((one.known_at for one in self.found.values()), key=utc)


def taken_together(
    readings: Mapping[str, Sequence[Read]], *, lead: str, minutes: int = MINUTES, same_walk: bool = False
) -> tuple[Together, ...]:
    """Return for each reading of `lead` the nearest reading of everything else, in order of time.

    minutes: how far apart two may be, that many included; same_walk: of one walk they may be farther apart. Of two that
    are equally near the earlier one counts. Raises ValueError for minutes below zero.
    """
    if minutes < 0:
        raise ValueError(f"Minutes between readings: {minutes}. Give 0 or more.")
    others = {name: in_order(own) for name, own in readings.items() if name != lead}
    found = []
    for one in in_order(readings.get(lead, ())):
        near: dict[str, Read] = {lead: one}
        missing: dict[str, str] = {}
        for name, own in others.items():
            partner = _partner(one, own, minutes, same_walk=same_walk)
            if partner is None:
                missing[name] = _why(one, own, minutes)
            else:
                near[name] = partner
        found.append(Together(lead=one, found=near, missing=missing))
    return tuple(found)


def _partner(one: Read, own: Sequence[Read], minutes: int, *, same_walk: bool) -> Read | None:
    near = _nearest(one, own)
    if near is not None and _apart(one, near) * 60 <= minutes:
        return near
    walked = [other for other in own if other.walk == one.walk] if same_walk and one.walk else []
    return _nearest(one, walked)


def _nearest(one: Read, own: Sequence[Read]) -> Read | None:
    place = bisect_left(own, utc(one.at), key=lambda other: utc(other.at))
    return min(own[max(0, place - 1) : place + 1], key=lambda other: _apart(one, other), default=None)


def _apart(one: Read, other: Read) -> Fraction:
    return abs(hours_between(one.at, other.at))


def _why(one: Read, own: Sequence[Read], minutes: int) -> str:
    near = _nearest(one, own)
    if near is None:
        return "it was never read"
    hours = _apart(one, near)
    how = f"{about(hours * 60, 2)} min" if hours < 1 else f"{about(hours, 2)} h" if hours < 48 else "more than a day"
    side = "before" if utc(near.at) < utc(one.at) else "after"
    return f"not read within {minutes} min; the nearest is from {how} {side}"
