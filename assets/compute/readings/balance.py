"""The water balance of a day: how much of what came in is not accounted for, with its uncertainty and covered hours.

100 (in - out - plant use - backwash - rise of stores) / in. It tells a disagreement, never which meter is wrong, and it
is no alarm: a person reads it beside its uncertainty.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from assets.compute.readings.facts import about, hours_between
from assets.compute.readings.series import Total
from assets.compute.transcendental import square_root

Kind = Literal["in", "out", "plant use", "backwash"]

APART_HOURS = Fraction(1, 4)
"""How far the ends of two totals may lie apart, and their covered hours, h: own judgement, the time of a walk."""

FEW_DIGITS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Metered:
    """One metered total, m^3, and where it went.

    face: where the number was read (display, HMI, report); start, end: of the total; covered_hours: of that time; u:
    standard uncertainty, m^3, None where it is not stated.
    """

    name: str
    kind: Kind
    total: Fraction | None
    face: str
    start: dt.datetime
    end: dt.datetime
    covered_hours: Fraction
    u: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """How much more a store holds at the end than at the start, m^3, below zero for less; u: standard uncertainty."""

    name: str
    volume: Fraction
    u: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """The balance of a day.

    left: m^3 not accounted for; percent: of what came in; two_u: twice the combined standard uncertainty of `percent`,
    in its per cent, None where one part does not state its own; covered_hours of of_hours. Figures are None where the
    balance cannot be worked out, and `says` why.
    """

    came_in: Fraction
    left: Fraction | None
    percent: Fraction | None
    two_u: Fraction | None
    covered_hours: Fraction
    of_hours: Fraction
    says: str


def metered(
    name: str,
    kind: Kind,
    total: Total,
    *,
    face: str,
    ends: tuple[dt.datetime, dt.datetime],
    share: Fraction | None = None,
) -> Metered:
    """Return a counter's total as a part of the balance; ends: its first and last reading; share: u, 0.01 for 1 %.

    The error of a meter is the same all day, so its uncertainty is a share of the total and does not average out.
    """
    u = None if share is None or total.value is None else abs(total.value) * share
    return Metered(
        name=name, kind=kind, total=total.value, face=face, start=ends[0], end=ends[1],
        covered_hours=total.covered_hours, u=u,
    )  # fmt: skip


def balance(parts: Sequence[Metered], rises: Sequence[Rise] = (), *, apart_hours: Fraction = APART_HOURS) -> Balance:
    """Return the water balance of metered totals and stores over one and the same time.

    Every total is an end minus a start of one register, all read at one face: a rate summed up by a computer is not set
    against a meter's own register. Not worked out where nothing came in, a total is missing, faces are mixed, or the
    totals do not cover the same hours within `apart_hours`.
    """
    came_in = sum((one.total or Fraction(0) for one in parts if one.kind == "in"), Fraction(0))
    covered = min((one.covered_hours for one in parts), default=Fraction(0))
    of_hours = max((hours_between(one.start, one.end) for one in parts), default=Fraction(0))
    why = _why_not(parts, came_in, apart_hours)
    if why:
        return Balance(
            came_in=came_in, left=None, percent=None, two_u=None, covered_hours=covered, of_hours=of_hours, says=why
        )
    away = sum((one.total or Fraction(0) for one in parts if one.kind != "in"), Fraction(0))
    left = came_in - away - sum((one.volume for one in rises), Fraction(0))
    two_u, unstated = _two_u(parts, rises, came_in, left)
    percent = 100 * left / came_in
    beside = f"2u {about(two_u, 2)} %" if two_u is not None else f"uncertainty not stated for {', '.join(unstated)}"
    return Balance(
        came_in=came_in,
        left=left,
        percent=percent,
        two_u=two_u,
        covered_hours=covered,
        of_hours=of_hours,
        says=(
            f"{about(percent, FEW_DIGITS)} % of what came in is not accounted for ({beside}); covers "
            f"{about(covered)} of {about(of_hours)} h."
        ),
    )


def _why_not(parts: Sequence[Metered], came_in: Fraction, apart_hours: Fraction) -> str:
    missing = [one.name for one in parts if one.total is None]
    names = [one.name for one in parts]
    twice = sorted({one for one in names if names.count(one) > 1})
    faces = sorted({one.face for one in parts})
    if missing:
        return f"No total of {', '.join(missing)}."
    if came_in == 0:
        return "Nothing came in, so there is no share of it."
    if twice:
        return f"{', '.join(twice)} stands in it twice: two faces of one meter are not two meters."
    if len(faces) > 1:
        return f"The totals were read at different faces ({', '.join(faces)}); take them all from one."
    return _not_together(parts, apart_hours)


def _not_together(parts: Sequence[Metered], apart_hours: Fraction) -> str:
    first = parts[0]
    for one in parts[1:]:
        gaps = (
            hours_between(first.start, one.start),
            hours_between(first.end, one.end),
            first.covered_hours - one.covered_hours,
        )
        if any(abs(gap) > apart_hours for gap in gaps):
            return (
                f"{first.name} and {one.name} do not cover the same time ({about(first.covered_hours)} and "
                f"{about(one.covered_hours)} h); only hours that all meters have can be balanced."
            )
    return ""


def _two_u(
    parts: Sequence[Metered], rises: Sequence[Rise], came_in: Fraction, left: Fraction
) -> tuple[Fraction | None, list[str]]:
    # percent = 100 (1 - away / in): what measures what comes in counts with away / in^2, everything else with 1 / in.
    incoming = (came_in - left) / came_in
    stated = [(one.name, one.u, incoming if one.kind == "in" else Fraction(1)) for one in parts]
    stated += [(one.name, one.u, Fraction(1)) for one in rises]
    unstated = [name for name, u, _ in stated if u is None]
    if unstated:
        return None, unstated
    squares = sum(((u or Fraction(0)) ** 2 * weight**2 for _, u, weight in stated), Fraction(0))
    return 200 * square_root(squares) / abs(came_in), []


def rise_by_area(
    name: str,
    levels: tuple[Fraction, Fraction],
    area: Fraction,
    *,
    u_reading: Fraction | None = None,
    u_area: Fraction | None = None,
    span_share: Fraction = Fraction(0),
) -> Rise:
    """Return how much a store with straight walls rose, m^3.

    levels: at the start and the end, m, read at the moments of the totals; area: m^2. u_reading: standard uncertainty
    of one level reading, m; u_area: of the area, m^2; span_share: of the span of the gauge, 0.01 for 1 %. A constant
    error of the level cancels. Without u_reading and u_area none is stated.
    """
    change = levels[1] - levels[0]
    u = None
    if u_reading is not None and u_area is not None:
        u = square_root(2 * (area * u_reading) ** 2 + (span_share * area * change) ** 2 + (u_area * change) ** 2)
    return Rise(name=name, volume=area * change, u=u)


def rise_by_table(
    name: str,
    levels: tuple[Fraction, Fraction],
    table: Sequence[tuple[Fraction, Fraction]],
    *,
    u_reading: Fraction | None = None,
    table_share: Fraction | None = None,
) -> Rise:
    """Return how much a store rose by its strapping table, m^3.

    table: (level m, volume m^3), rising in both. u_reading: standard uncertainty of one level reading, m; table_share:
    of a difference of volumes, 0.005 for 0.5 %. Without both none is stated.
    Raises ValueError for a level outside the table or a table that does not rise.
    """
    volumes = tuple(volume_at(level, table) for level in levels)
    change = volumes[1] - volumes[0]
    u = None
    if u_reading is not None and table_share is not None:
        ends = sum(((_slope_at(level, table) * u_reading) ** 2 for level in levels), Fraction(0))
        u = square_root(ends + (table_share * change) ** 2)
    return Rise(name=name, volume=change, u=u)


def volume_at(level: Fraction, table: Sequence[tuple[Fraction, Fraction]]) -> Fraction:
    """Return the volume, m^3, at a level, m, on the straight line between two rows of a strapping table."""
    (low, below), (high, above) = _rows_around(level, table)
    return below + (above - below) * (level - low) / (high - low)


def _slope_at(level: Fraction, table: Sequence[tuple[Fraction, Fraction]]) -> Fraction:
    (low, below), (high, above) = _rows_around(level, table)
    return (above - below) / (high - low)


def _rows_around(
    level: Fraction, table: Sequence[tuple[Fraction, Fraction]]
) -> tuple[tuple[Fraction, Fraction], tuple[Fraction, Fraction]]:
    if any(other[0] <= one[0] or other[1] < one[1] for one, other in pairwise(table)):
        raise ValueError("A strapping table rises: each level above the one before, each volume not below it.")
    for one, other in pairwise(table):
        if one[0] <= level <= other[0]:
            return one, other
    raise ValueError(f"The strapping table does not reach to {about(level, 4)} m; nothing is guessed beyond it.")
