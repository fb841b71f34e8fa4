"""Strapping tables as pages show them: those that count, one with what lies between two levels, tanks of a day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.numbers import kept_number, read_number
from assets.compute.readings.facts import Taken, about
from assets.compute.readings.strapping import OutOfTable
from assets.compute.units import same_quantity
from assets.models import Site
from maintenance.models import StrappingTable


@dataclass(frozen=True, slots=True)
class TableRow:
    """One table of the list: how many rows, from where to where."""

    table: StrappingTable
    rows: int
    levels: str
    volumes: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TableView:
    """One table: its rows as typed; `now`: whether it counts today; `others`: of the same level, the newest first."""

    table: StrappingTable
    rows: tuple[tuple[str, str], ...]
    now: bool
    others: tuple[StrappingTable, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Between:
    """What a table says of a level, or of two: volumes with their unit, the difference, a rate; or why it cannot."""

    volumes: tuple[str, ...] = ()
    change: str = ""
    rate: str = ""
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TankRow:
    """What a tank held at both ends of a day by its table; `says` where it cannot be told."""

    table: StrappingTable
    start: Taken
    end: Taken
    volumes: tuple[str, str]
    change: str
    says: str


def tables_of(site: Site, day: dt.date) -> list[StrappingTable]:
    """Return the tables of a site that count on a day, by tag; one query."""
    found = StrappingTable.objects.filter(position__site=site).in_force(day)
    return sorted(found, key=lambda one: (one.position.tag, one.what))


def table_rows(site: Site, day: dt.date) -> tuple[TableRow, ...]:
    """Return the list of the tables that count on a day."""
    return tuple(_row(one) for one in tables_of(site, day))


def _row(table: StrappingTable) -> TableRow:
    rows = _rows(table)
    (low, least), (high, most) = rows[0], rows[-1]
    return TableRow(table, len(rows), f"{low} to {high} {table.level_unit}", f"{least} to {most} {table.volume_unit}")


def _rows(table: StrappingTable) -> tuple[tuple[str, str], ...]:
    lines = (line.partition("\t") for line in table.rows.splitlines())
    return tuple((level, volume) for level, _, volume in lines)


def table_view(table: StrappingTable, day: dt.date) -> TableView:
    """Return what the page of one table shows."""
    same = StrappingTable.objects.filter(position=table.position, what__iexact=table.what)
    counting = {one.pk for one in same.in_force(day)}
    others = same.exclude(pk=table.pk).select_related("recorded_by").order_by("-from_day", "-id")
    return TableView(table=table, rows=_rows(table), now=table.pk in counting, others=tuple(others))


def between(table: StrappingTable, level: str, then: str, minutes: str, *, decimal_mark: str) -> Between:
    """Return the volume at a level, or what was drawn or filled between two, as typed; minutes give a rate."""
    exact, unit = table.exact, table.volume_unit
    levels = [read_number(text, decimal_mark=decimal_mark) for text in (level, then) if text]
    try:
        volumes = [exact.volume_of(one, table.level_unit) for one in levels]
    except OutOfTable as wrong:
        return Between(says=str(wrong))
    told = tuple(f"{about(one, 6)} {unit}" for one in volumes)
    if len(volumes) < 2:
        return Between(volumes=told)
    change = volumes[1] - volumes[0]
    lasted = read_number(minutes, decimal_mark=decimal_mark) if minutes else Fraction(0)
    rate = f"{about(abs(change) * 60 / lasted, 4)} {unit} an hour" if lasted > 0 else ""
    return Between(volumes=told, change=changed(change, unit), rate=rate)


def changed(change: Fraction, unit: str) -> str:
    """Write a difference of volumes: 12.4 m³ drawn, 3 m³ filled, as much as before."""
    if change == 0:
        return "as much as before"
    return f"{about(abs(change), 6)} {unit} {'filled' if change > 0 else 'drawn'}"


def volume_said(tables: Iterable[StrappingTable], position: int, what: str, level: str, unit: str) -> str:
    """Write what a level read at a tag means by its table: 412 m³; '' without one, or where it does not reach."""
    for table in tables:
        if (table.position_id, table.what.casefold()) == (position, what.casefold()):
            number = kept_number(level)
            if number is None or not same_quantity(unit, table.level_unit):
                return ""
            try:
                return f"{about(table.exact.volume_of(number, unit), 5)} {table.volume_unit}"
            except OutOfTable:
                return "beyond its strapping table"
    return ""


def tank_row(table: StrappingTable, ends: Sequence[Taken]) -> TankRow:
    """Return what a tank held at both ends of a day; ends: its level in the unit of the table."""
    start, end = ends
    try:
        volumes = tuple(table.exact.volume_of(one.value, table.level_unit) for one in (start, end))
    except OutOfTable as wrong:
        return TankRow(table=table, start=start, end=end, volumes=("", ""), change="", says=str(wrong))
    told = tuple(f"{about(one, 6)} {table.volume_unit}" for one in volumes)
    change = changed(volumes[1] - volumes[0], table.volume_unit)
    return TankRow(table=table, start=start, end=end, volumes=(told[0], told[1]), change=change, says="")
