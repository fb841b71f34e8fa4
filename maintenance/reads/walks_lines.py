"""What one line of a check point shows beside its box: the last numbers, its limits, what is usual."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor
from typing import Literal

from django.db.models import F, Q, Window
from django.db.models.functions import RowNumber

from assets.compute import rounding
from assets.compute.numbers import kept_number
from assets.compute.readings.counting import LEFT_HOURS, most_starts
from assets.compute.readings.facts import about, hours_between, plain, taken, when
from assets.compute.readings.plausibility import Bound, Thresholds
from assets.compute.readings.series import Broken, Count, broken, with_break
from assets.compute.readings.usual import TooFew, usual
from assets.compute.units import convert, same_quantity
from assets.models import CounterBreak, Face, Limit, Position, Reading, Site
from assets.reads.site_rules import rules_on
from maintenance.compute.orders import usual_type
from maintenance.compute.walk import HOURS, STARTS, Asks, said_of
from maintenance.models import LineKind, PointLine, StrappingTable
from maintenance.reads.walks_strapping import tables_of, volume_said
from maintenance.reads.walks_twins import TwinView, beside, twin_view, twins_of

NEWEST = 45
"""Readings of a line that are looked at: more than say what is usual."""
LAST = 3
OWN_LIMIT = "limit of this check point"
OFFERED = {
    LineKind.LOOK: ("Good", "Not good"),
    LineKind.LAMP: ("None is on", "One is on"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Last:
    """One number read before: when, what, by whom."""

    when: str
    told: str
    who: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LineView:
    """One line as its check point asks it."""

    line: PointLine
    asks: Asks
    history: tuple[Count, ...] = ()
    twin: TwinView | None = None
    last: tuple[Last, ...] = ()
    limits: str = ""
    usual: str = ""
    low: str = ""
    high: str = ""
    low_head: str = ""
    high_head: str = ""

    @property
    def usual_type(self) -> str:
        """The kind of work that mending what is found here usually is."""
        tag = self.line.position or self.line.point.position
        return usual_type(origin_key="walk ", has_plan=False, matters_for=tag.matters_for if tag else "other")

    @property
    def tag(self) -> str:
        """The tag it is read at, where it is another one than the check point's."""
        return self.line.position.tag if self.line.position is not None else ""

    @property
    def machine(self) -> bool:
        """Whether its plate is black."""
        return self.line.position is not None and not self.line.position.measures

    @property
    def read_at(self) -> str:
        """Where the number is read, in words."""
        return {"display": "at the display", "HMI": "at the HMI", "report": "in the report"}.get(self.line.face, "")

    @property
    def offers(self) -> tuple[str, str]:
        """What a look or a lamp can be."""
        return OFFERED.get(LineKind(self.line.kind), ("", ""))

    @property
    def signed(self) -> bool:
        """Whether what is read here can lie below nought, so that the sign is asked."""
        low = self.line.low or (self.line.position.range_low if self.line.position is not None else "")
        return self.line.kind == LineKind.READING and low.strip()[:1] in ("-", "−")


def line_views(
    site: Site,
    lines: Sequence[PointLine],
    now: dt.datetime,
    *,
    since: dt.datetime | None = None,
    without: Collection[int] = (),
) -> tuple[LineView, ...]:
    """Return lines with limits, what is usual and the last numbers, seen from a moment of the walk begun `since`.

    without: keys of readings that are left out.
    """
    numbers = [line for line in lines if line.is_number]
    here = now.astimezone(site.zone)
    rules = rules_on(site, here.date())
    thresholds = Thresholds(same_days=int(rules.hours("same_value_days")))
    limits: dict[int, list[Limit]] = defaultdict(list)
    for limit in Limit.objects.filter(position__in=[line.position_id for line in numbers]).in_force(here.date()):
        limits[limit.position_id].append(limit)
    twins = twins_of(numbers)
    others = beside(numbers, twins)
    read = readings_of([*numbers, *others.values()], now, without=without)
    tables = tables_of(site, here.date()) if numbers else []
    views = (
        _view(line, limits[line.position_id or 0], read[line.pk], At(site, here, thresholds, tables))
        if line.is_number
        else LineView(line=line, asks=Asks(unit=""))
        for line in lines
    )
    return tuple(
        replace(view, twin=_twin(site, twins[pk], others[pk], read[-pk], since))
        if (pk := view.line.pk) in twins
        else view
        for view in views
    )


def _twin(
    site: Site, position: Position, line: PointLine, rows: Sequence[Reading], since: dt.datetime | None
) -> TwinView:
    return twin_view(position, rows, counts_of(rows, line.unit, site), unit=line.unit, since=since)


def readings_of(
    lines: Sequence[PointLine], now: dt.datetime, *, without: Collection[int] = ()
) -> dict[int, list[Reading]]:
    """Return the newest standing readings of each line, the newest first, in one query."""
    found: dict[int, list[Reading]] = {line.pk: [] for line in lines}
    wanted = [(line, _face_of(line)) for line in lines]
    if not wanted:
        return found
    named = Q()
    for line, face in wanted:
        named |= Q(position=line.position, what=line.what, face=face)
    rows = (
        Reading.objects.standing()
        .filter(named, taken_at__lte=now)
        .exclude(pk__in=without)
        .annotate(
            newest=Window(
                RowNumber(),
                partition_by=[F("position"), F("what"), F("face")],
                order_by=[F("taken_at").desc(), F("id").desc()],
            )
        )
        .filter(newest__lte=NEWEST)
        .select_related("recorded_by", "counter_break")
        .order_by("-taken_at", "-id")
    )
    for row in rows:
        for line, face in wanted:
            if (row.position_id, row.what, row.face) == (line.position_id, line.what, face):
                found[line.pk].append(row)
    return found


def _face_of(line: PointLine) -> str:
    return Face.COMPUTED if line.kind == LineKind.DRAWDOWN else line.face


def counts_of(rows: Iterable[Reading], unit: str, site: Site) -> tuple[Count, ...]:
    """Return readings as exact numbers in one unit, with why a counter broke off; others than of its quantity left out.

    A break is given in the unit of the reading it stands beside.
    """
    return tuple(_count(row, unit, site) for row in rows if row.unit and same_quantity(row.unit, unit))


def _count(row: Reading, unit: str, site: Site) -> Count:
    one = taken(row.entered, row.unit, row.taken_at.astimezone(site.zone), into=unit, recorded_at=row.recorded_at)
    return with_break(one, _broken(getattr(row, "counter_break", None), row.unit, unit))


def _broken(why: CounterBreak | None, unit: str, into: str) -> Broken | None:
    if why is None:
        return None
    numbers = (why.modulus, why.old_last, why.new_first)
    kind: Literal["rolled over", "replaced"] = "rolled over" if why.kind == "rolled over" else "replaced"
    return broken(kind, numbers=numbers, unit=unit, into=into, recorded_at=why.recorded_at)


@dataclass(frozen=True, slots=True)
class At:
    """Where and when lines are seen: the moment, the site's thresholds, the strapping tables that count."""

    site: Site
    here: dt.datetime
    thresholds: Thresholds
    tables: Sequence[StrappingTable]


def _view(line: PointLine, limits: Sequence[Limit], rows: Sequence[Reading], at: At) -> LineView:
    here = at.here
    bounds = (*_tag_bounds(line, limits), *_own_bounds(line))
    history = counts_of(rows, line.unit, at.site)
    counter = line.kind == LineKind.COUNTER
    low = max((one for one in bounds if one.side == "low"), key=lambda one: one.value, default=None)
    high = min((one for one in bounds if one.side == "high"), key=lambda one: one.value, default=None)
    return LineView(
        line=line,
        asks=Asks(
            unit=line.unit,
            counter=counter,
            modulus=kept_number(line.modulus),
            bounds=bounds,
            constant=line.constant,
            thresholds=at.thresholds,
        ),
        history=history,
        last=tuple(_last(row, at) for row in rows[:LAST]),
        limits=_counter_says(line, history, here) if counter else said_of(bounds, line.unit),
        usual="" if counter else _usual_says(history, line.unit),
        low=plain(low.value) if low else "",
        high=plain(high.value) if high else "",
        low_head=f"Below the {low.name}, {low.told}" if low else "",
        high_head=f"Above the {high.name}, {high.told}" if high else "",
    )


def limit_named(name: str) -> str:
    """Name a limit inside a sentence; a register may say no more than "Operating high"."""
    lower = name[:1].lower() + name[1:]
    return lower if "limit" in lower.casefold() else f"{lower} limit"


def _tag_bounds(line: PointLine, limits: Sequence[Limit]) -> tuple[Bound, ...]:
    """The limits of a tag hold for its own quantity; for its sample flow or its run hours they say nothing."""
    position = line.position
    if position is None or line.what.casefold() != position.quantity.casefold():
        return ()
    return tuple(
        Bound(
            name=limit_named(limit.name),
            side="high" if limit.side == "high" else "low",
            value=convert(value, limit.unit, line.unit),
            told=f"{limit.value} {limit.unit}",
        )
        for limit in limits
        if same_quantity(limit.unit, line.unit) and (value := kept_number(limit.value)) is not None
    )


def _own_bounds(line: PointLine) -> tuple[Bound, ...]:
    low, high = kept_number(line.low), kept_number(line.high)
    ends = (("low", low, line.low), ("high", high, line.high))
    return tuple(
        Bound(name=OWN_LIMIT, side="high" if side == "high" else "low", value=value, told=f"{text} {line.unit}")
        for side, value, text in ends
        if value is not None
    )


def _last(row: Reading, at: At) -> Last:
    computed = row.face == Face.COMPUTED
    number = about(kept_number(row.entered) or Fraction(0), 4) if computed else rounding.as_typed(row.entered)
    volume = volume_said(at.tables, row.position_id or 0, row.what, row.entered, row.unit)
    told = f"{number} {row.unit} ({volume})" if volume else f"{number} {row.unit}"
    return Last(when=_cap(when(row.taken_at, at.here)), told=told, who=row.recorded_by.name)


def _usual_says(history: Sequence[Count], unit: str) -> str:
    known = usual(history)
    if isinstance(known, TooFew):
        return ""
    # What never was below zero has no usual below it; no reading says more digits than the display has.
    step = min(one.step for one in history)
    low, high = (ceil(known.low / step) * step, floor(known.high / step) * step) if step else (known.low, known.high)
    if low < 0 and all(one.value >= 0 for one in history):
        return f"Usual up to {about(high, 4)} {unit}"
    return f"Usual {about(low, 4)} to {about(high, 4)} {unit}"


def _counter_says(line: PointLine, history: Sequence[Count], here: dt.datetime) -> str:
    """Say how much run hours, or starts, can have grown at most since the newest number."""
    if line.unit not in {HOURS, STARTS} or not history:
        return ""
    newest = max(history, key=lambda one: one.at)
    gone = hours_between(newest.at, here)
    most = about(gone + LEFT_HOURS, 3) if line.unit == HOURS else str(floor(most_starts(gone)))
    return f"At most {most} {line.unit} more than {when(newest.at, here)}"


def _cap(text: str) -> str:
    return text[:1].upper() + text[1:]
