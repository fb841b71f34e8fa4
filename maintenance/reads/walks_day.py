"""The figures of a day: what every counter of the walks counted, twins, what to notice, the water balance."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction
from zoneinfo import ZoneInfo

from assets.compute.numbers import kept_number
from assets.compute.readings.facts import about, site_day
from assets.compute.readings.running import Run
from assets.models import Face, Production, Reading, Site
from assets.permissions import SUPERVISORS, Desk
from maintenance.compute.walk_day import (
    Counted,
    DayBalance,
    Flag,
    Part,
    Register,
    Twins,
    balance_on,
    counted_on,
    ends_of,
    flags_on,
    twins_on,
)
from maintenance.models import BalancePart, LineKind, PointLine, StrappingTable
from maintenance.queries import counting_on
from maintenance.reads.walks_lines import counts_of
from maintenance.reads.walks_strapping import TankRow, tank_row

HISTORY = 14
"""Days of balances that are shown together."""
FACES = (Face.DISPLAY, Face.HMI, Face.REPORT)


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedRow:
    """One counter of the day in words."""

    found: Counted
    code: str
    machine: bool
    counted: str
    duty: str
    n: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One part of the balance of the day, in words."""

    part: BalancePart
    counted: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TwinsRow:
    """Two machines that share their running, in words; `percent` of the first, '' where neither ran."""

    tags: tuple[str, str]
    one: str
    other: str
    percent: str
    both: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPage:
    """The figures of a day."""

    day: dt.date
    counters: tuple[CountedRow, ...]
    twins: tuple[TwinsRow, ...]
    flags: tuple[Flag, ...]
    balance: DayBalance | None
    parts: tuple[PartRow, ...]
    tanks: tuple[TankRow, ...]
    history: tuple[DayBalance, ...]
    before: dt.date
    after: dt.date | None
    may_keep: bool

    @property
    def balanced(self) -> int:
        """How many of the days shown have a balance: the n of its history."""
        return sum(bool(one.percent) for one in self.history)


def day_page(desk: Desk, day: dt.date, now: dt.datetime) -> DayPage:
    """Return the figures of a day; the same number of queries for few and many counters."""
    site, zone = desk.site, desk.site.zone
    lines = list(
        PointLine.objects.filter(point__round__site=site, kind=LineKind.COUNTER, ended_at__isnull=True)
        .select_related("position", "twin")
        .order_by("position__area__walk_order", "position__walk_order", "number", "id")
    )
    first = day - dt.timedelta(days=HISTORY)
    parts = list(BalancePart.objects.filter(site=site, from_day__lte=day).select_related("position"))
    tables = list(StrappingTable.objects.filter(position__site=site, from_day__lte=day).select_related("position"))
    tags = {line.position_id for line in lines} | {one.position_id for one in parts}
    tags |= {one.position_id for one in tables}
    read = _readings(site, tags, first, day + dt.timedelta(days=1))
    registers = _registers(site, lines, read)
    last_read = (now.astimezone(zone) - dt.timedelta(days=1)).date()
    history = tuple(
        found
        for n in range(HISTORY)
        if (found := balance_on(_parts(site, parts, tables, read, one := day - dt.timedelta(days=n)), one, zone))
        is not None
    )
    balance = next((one for one in history if one.day == day), None)
    values = {name: value for name, _, value in balance.values} if balance is not None else {}
    return DayPage(
        day=day,
        counters=tuple(_row(line, counted_on(register, day, zone)) for line, register in registers),
        twins=tuple(_twins(one) for one in twins_on([one for _, one in registers], day, zone)),
        flags=flags_on([one for _, one in registers], _runs(site, lines, day, zone), day, now.astimezone(zone), zone),
        balance=balance,
        parts=tuple(PartRow(part=one, counted=_volume(values.get(_name(one)))) for one in _standing(parts, day)),
        tanks=_tanks(site, counting_on(tables, day), read, day),
        history=history,
        before=day - dt.timedelta(days=1),
        after=day + dt.timedelta(days=1) if day < last_read else None,
        may_keep=desk.may(SUPERVISORS),
    )


def _readings(
    site: Site, positions: Collection[int | None], first: dt.date, last: dt.date
) -> dict[tuple[int, str, str], list[Reading]]:
    whole = (site_day(first, site.zone).start, site_day(last, site.zone).end)
    rows = Reading.objects.standing().filter(position__in=positions, taken_at__gte=whole[0], taken_at__lt=whole[1])
    found: dict[tuple[int, str, str], list[Reading]] = defaultdict(list)
    for row in rows.select_related("counter_break").order_by("taken_at", "id"):
        found[(row.position_id or 0, row.what.casefold(), row.face)].append(row)
    return found


def _registers(
    site: Site, lines: Sequence[PointLine], read: dict[tuple[int, str, str], list[Reading]]
) -> list[tuple[PointLine, Register]]:
    seen: dict[tuple[int, str, str], tuple[PointLine, Register]] = {}
    for line in lines:
        key = (line.position_id or 0, line.what.casefold(), line.face)
        if key in seen or line.position is None:
            continue
        register = Register(
            tag=line.position.tag,
            what=line.what,
            unit=line.unit,
            counts=counts_of(read.get(key, ()), line.unit, site),
            twin=line.twin.tag if line.twin is not None else "",
        )
        seen[key] = (line, register)
    return list(seen.values())


def _name(part: BalancePart) -> str:
    return f"{part.position.tag} {part.what}"


def _standing(parts: Sequence[BalancePart], day: dt.date) -> list[BalancePart]:
    return [one for one in parts if one.from_day <= day and (one.to_day is None or one.to_day >= day)]


def _parts(
    site: Site,
    parts: Sequence[BalancePart],
    tables: Sequence[StrappingTable],
    read: dict[tuple[int, str, str], list[Reading]],
    day: dt.date,
) -> list[Part]:
    made = []
    by_tag = {(one.position_id, one.what.casefold()): one for one in counting_on(tables, day)}
    for one in _standing(parts, day):
        rows = read.get((one.position_id, one.what.casefold(), one.face), ())
        share = kept_number(one.uncertainty)
        table = by_tag.get((one.position_id, one.what.casefold())) if one.kind == "store" else None
        of_table = kept_number(table.share) if table is not None else None
        made.append(
            Part(
                name=_name(one),
                kind=one.kind,
                face=one.face,
                taken=counts_of(rows, "m" if one.kind == "store" else "m³", site),
                share=None if share is None else share / 100,
                area=kept_number(one.area),
                u_level=kept_number(one.level_uncertainty),
                u_area=kept_number(one.area_uncertainty),
                table=table.exact.in_metres if table is not None else (),
                table_share=None if of_table is None else of_table / 100,
            )
        )
    return made


def _tanks(
    site: Site,
    tables: Sequence[StrappingTable],
    read: dict[tuple[int, str, str], list[Reading]],
    day: dt.date,
) -> tuple[TankRow, ...]:
    """What each tank with a strapping table held at both ends of a day, by the first face that was read at both."""
    found = []
    for table in sorted(tables, key=lambda one: (one.position.tag, one.what)):
        for face in FACES:
            rows = read.get((table.position_id, table.what.casefold(), face), ())
            ends = ends_of(counts_of(rows, table.level_unit, site), day, site.zone)
            if ends is not None:
                found.append(tank_row(table, ends))
                break
    return tuple(found)


def _runs(site: Site, lines: Sequence[PointLine], day: dt.date, zone: ZoneInfo) -> dict[str, list[Run]]:
    span = (site_day(day, zone).start, site_day(day + dt.timedelta(days=1), zone).end)
    rows = Production.objects.within(*span).filter(site=site, position__in={line.position_id for line in lines})
    found: dict[str, list[Run]] = defaultdict(list)
    for row in rows.select_related("position"):
        assert row.position is not None
        off_at = row.to_at.astimezone(zone) if row.to_at is not None else None
        found[row.position.tag].append(Run(on_at=row.from_at.astimezone(zone), off_at=off_at))
    return found


def _row(line: PointLine, found: Counted) -> CountedRow:
    assert line.position is not None
    total, share = found.total, found.duty
    return CountedRow(
        found=found,
        code=line.position.label_code,
        machine=not line.position.measures,
        counted="" if found.value is None else f"{about(found.value, 6)} {line.unit}",
        duty="" if share is None else f"{about(100 * share, 3)} %",
        n=total.n if total is not None else 0,
        says=total.says if total is not None else "Not read at both ends of the day.",
    )


def _twins(found: Twins) -> TwinsRow:
    share = found.shared.share
    return TwinsRow(
        tags=found.tags,
        one=about(found.shared.one_hours),
        other=about(found.shared.other_hours),
        percent="" if share is None else about(100 * share),
        both=about(found.hours),
    )


def _volume(value: Fraction | None) -> str:
    return "" if value is None else f"{about(value, 6)} m³"
