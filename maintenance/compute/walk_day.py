"""The figures of a day from what the walks read: what counters counted, how machines shared, the water balance.

A day runs from its first reading to the first one of the next day, as plants count that read once a morning; so nothing
is shared out over midnight, and every total is an end minus a start of one register.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from zoneinfo import ZoneInfo

from assets.compute.formulas.counters import duty
from assets.compute.readings.balance import Balance, Kind, Rise, balance, metered, rise_by_area, rise_by_table
from assets.compute.readings.facts import Span, Taken, about, in_order
from assets.compute.readings.running import Ran, Run, Shared, ran_by_counter, ran_by_switching, share_between
from assets.compute.readings.running_flags import (
    Noticed,
    idle_by_counter,
    ran_all_night,
    ran_all_night_by_counter,
    twins_apart,
)
from assets.compute.readings.series import Count, Total, total_over

NIGHT_FROM, NIGHT_TO = dt.time(22), dt.time(6)
"""The night in which a machine that never stops is noticed: own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """One counter that the walk reads, with its readings in `unit`; twin: the tag it shares its running with."""

    tag: str
    what: str
    unit: str
    counts: tuple[Count, ...]
    twin: str = ""

    @property
    def hours(self) -> bool:
        """Whether it counts the hours a machine ran."""
        return self.unit == "h"


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What one counter counted in a day, from one reading to another; None where the day was not read at both ends."""

    register: Register
    start: Count | None
    end: Count | None
    total: Total | None

    @property
    def value(self) -> Fraction | None:
        """What it counted."""
        return self.total.value if self.total is not None else None

    @property
    def duty(self) -> Fraction | None:
        """The share of the time it ran, 0 to 1, by an hour counter."""
        if not self.register.hours or self.total is None or self.total.value is None or not self.total.covered_hours:
            return None
        return duty(self.total.value, self.total.covered_hours)


def ends_of(taken: Sequence[Taken], day: dt.date, zone: ZoneInfo) -> tuple[Taken, Taken] | None:
    """Return the first reading of a day and the first of the next day; None where one is missing."""
    first: dict[dt.date, Taken] = {}
    for one in in_order(taken):
        first.setdefault(one.at.astimezone(zone).date(), one)
    start, end = first.get(day), first.get(day + dt.timedelta(days=1))
    return (start, end) if start is not None and end is not None else None


def counted_on(register: Register, day: dt.date, zone: ZoneInfo) -> Counted:
    """Return what a counter counted in a day."""
    ends = ends_of(register.counts, day, zone)
    if ends is None:
        return Counted(register=register, start=None, end=None, total=None)
    start, end = (next(one for one in register.counts if one == wanted) for wanted in ends)
    total = total_over(register.counts, Span(start=start.at, end=end.at))
    return Counted(register=register, start=start, end=end, total=total)


@dataclass(frozen=True, slots=True, kw_only=True)
class Twins:
    """How two machines shared the running of the hours that both are known for."""

    tags: tuple[str, str]
    shared: Shared
    hours: Fraction


def twins_on(registers: Sequence[Register], day: dt.date, zone: ZoneInfo) -> tuple[Twins, ...]:
    """Return how machines that share their running shared it in a day, each pair once."""
    by_tag = {one.tag: one for one in registers if one.hours}
    pairs = {tuple(sorted((one.tag, one.twin))) for one in by_tag.values() if one.twin in by_tag}
    found = (_twins(by_tag[one], by_tag[other], day, zone) for one, other in sorted(pairs))
    return tuple(one for one in found if one is not None)


def _twins(one: Register, other: Register, day: dt.date, zone: ZoneInfo) -> Twins | None:
    ends = (ends_of(one.counts, day, zone), ends_of(other.counts, day, zone))
    if ends[0] is None or ends[1] is None:
        return None
    # The two are read some minutes apart; only the hours that both cover can be shared.
    start, end = max(both[0].at for both in ends if both), min(both[1].at for both in ends if both)
    if end <= start:
        return None
    span = Span(start=start, end=end)
    shared = share_between(ran_by_counter(one.counts, span), ran_by_counter(other.counts, span))
    return Twins(tags=(one.tag, other.tag), shared=shared, hours=span.hours) if shared is not None else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of the balance: a register in m³, or a store by its level in m.

    share: standard uncertainty of a total, 0.01 for 1 %; area, u_area in m²; u_level in m. None: not stated.
    """

    name: str
    kind: str
    face: str
    taken: tuple[Count, ...]
    share: Fraction | None = None
    area: Fraction | None = None
    u_level: Fraction | None = None
    u_area: Fraction | None = None
    table: tuple[tuple[Fraction, Fraction], ...] = ()
    table_share: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayBalance:
    """The balance of a day with the value of each part, m³; `balance` is None where a part was not read."""

    day: dt.date
    balance: Balance | None
    values: tuple[tuple[str, str, Fraction | None], ...]
    missing: tuple[str, ...] = ()
    why: str = ""

    @property
    def says(self) -> str:
        """The sentence that stands beside it."""
        if self.balance is None and self.why:
            return self.why
        if self.balance is None:
            return f"Not read at both ends of the day: {', '.join(self.missing)}."
        return self.balance.says

    @property
    def percent(self) -> str:
        """The imbalance in %, to three digits; '' where there is none."""
        known = self.balance is not None and self.balance.percent is not None
        return about(self.balance.percent) if known and self.balance and self.balance.percent is not None else ""


def balance_on(parts: Sequence[Part], day: dt.date, zone: ZoneInfo) -> DayBalance | None:
    """Return the water balance of a day; None where nothing counts in one."""
    if not parts:
        return None
    ends = {one.name: ends_of(one.taken, day, zone) for one in parts}
    missing = tuple(name for name, both in ends.items() if both is None)
    if missing:
        return DayBalance(day=day, balance=None, values=(), missing=missing)
    totals, rises = [], []
    values: list[tuple[str, str, Fraction | None]] = []
    for one in parts:
        both = ends[one.name]
        assert both is not None
        if one.kind == "store":
            try:
                rise = _rise(one, both)
            except ValueError as wrong:
                return DayBalance(day=day, balance=None, values=(), why=f"{one.name}: {wrong}")
            rises.append(rise)
            values.append((one.name, one.kind, rise.volume))
            continue
        total = total_over(one.taken, Span(start=both[0].at, end=both[1].at))
        kind: Kind = one.kind  # type: ignore[assignment]
        moments = (both[0].at, both[1].at)
        totals.append(metered(one.name, kind, total, face=one.face, ends=moments, share=one.share))
        values.append((one.name, one.kind, total.value))
    return DayBalance(day=day, balance=balance(totals, rises), values=tuple(values))


def _rise(part: Part, ends: tuple[Taken, Taken]) -> Rise:
    levels = (ends[0].value, ends[1].value)
    if part.table:
        return rise_by_table(part.name, levels, part.table, u_reading=part.u_level, table_share=part.table_share)
    if part.area is None:
        raise ValueError("it had neither a strapping table nor a surface that day, so its level is no volume.")
    return rise_by_area(part.name, levels, part.area, u_reading=part.u_level, u_area=part.u_area)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """One thing noticed about a machine."""

    tag: str
    noticed: Noticed


def flags_on(
    registers: Sequence[Register], runs: Mapping[str, Sequence[Run]], day: dt.date, now: dt.datetime, zone: ZoneInfo
) -> tuple[Flag, ...]:
    """Return what to notice of a day: machines that ran all night after it or stood for a week, twins that drift apart.

    runs: when machines went on and off, by tag, where that is written; else their hour counters tell it.
    """
    begin = dt.datetime.combine(day, NIGHT_FROM, tzinfo=zone)
    night = Span(start=begin, end=dt.datetime.combine(day + dt.timedelta(days=1), NIGHT_TO, tzinfo=zone))
    found: list[Flag] = []
    for one in registers:
        if not one.hours:
            continue
        switched = runs.get(one.tag, ())
        ran: Ran | None = ran_by_switching(switched, night, known_until=now) if switched else None
        all_night = ran_all_night(ran) if ran is not None else ran_all_night_by_counter(one.counts, night)
        until = tuple(count for count in one.counts if count.at <= night.end + dt.timedelta(hours=18))
        found += [Flag(tag=one.tag, noticed=it) for it in (all_night, idle_by_counter(until, now)) if it is not None]
    return (*found, *_drifting(registers, day, zone))


def _drifting(registers: Sequence[Register], day: dt.date, zone: ZoneInfo) -> list[Flag]:
    days = [day - dt.timedelta(days=n) for n in range(13, -1, -1)]
    periods: dict[tuple[str, str], list[Shared]] = {}
    for one in days:
        for pair in twins_on(registers, one, zone):
            periods.setdefault(pair.tags, []).append(pair.shared)
    found = ((tags, twins_apart(tags, shared, least=7)) for tags, shared in periods.items())
    return [Flag(tag=" and ".join(tags), noticed=noticed) for tags, noticed in found if noticed is not None]
