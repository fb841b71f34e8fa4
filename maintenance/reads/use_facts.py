"""What routines by use and on a condition look at: the totals of their meters and the values they watch."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from django.db.models import Q

from assets.compute.readings.facts import taken
from assets.compute.readings.series import Broken, broken, totals, with_break
from assets.compute.units import OtherQuantity, UnknownUnit
from assets.models import CounterBreak, Fitting, Reading
from maintenance.compute import schedule
from maintenance.compute.meters import metered_from
from maintenance.models import Plan, PlanTerm
from maintenance.models.routines import Mode

BY_USE = frozenset({Mode.USAGE, Mode.FIRST_OF})


@dataclass(frozen=True, slots=True)
class Looked:
    """What one routine looks at."""

    metered: tuple[schedule.Metered, ...] = ()
    values: tuple[schedule.Value, ...] = ()


@dataclass(slots=True)
class _Wanted:
    """Which readings one routine's terms name: at which tags and assets, of which name, in which unit."""

    plan: Plan
    term: PlanTerm
    positions: set[int] = field(default_factory=set)
    assets: set[int] = field(default_factory=set)


def looked_at(plans: Sequence[Plan], terms: Mapping[int, Sequence[PlanTerm]]) -> dict[int, Looked]:
    """Totals and values of the routines that need them; the number of queries does not depend on theirs.

    The newest term of a routine says which reading it is; a routine that changes its meter begins a new count with it.
    """
    wanted = [one for plan in plans if (one := _wanted(plan, terms.get(plan.pk, ()))) is not None]
    if not wanted:
        return {}
    _add_fitted(wanted)
    rows = _readings(wanted)
    breaks = {row.reading_id: row for row in CounterBreak.objects.filter(reading__in=[row.pk for row in rows])}
    return {one.plan.pk: _looked(one, rows, breaks) for one in wanted}


def _wanted(plan: Plan, terms: Sequence[PlanTerm]) -> _Wanted | None:
    naming = [term for term in terms if term.reads]
    if not naming:
        return None
    term = max(naming, key=lambda one: (one.from_day, one.pk))
    place = term.reads_at_id or plan.position_id
    wanted = _Wanted(plan, term)
    wanted.positions |= {place} if place else set()
    wanted.assets |= {plan.asset_id} if plan.asset_id else set()
    return wanted


def _add_fitted(wanted: Iterable[_Wanted]) -> None:
    """A counter belongs to the machine, so the readings of every asset ever fitted at the tag are looked at."""
    by_use = [one for one in wanted if one.term.mode in BY_USE and one.positions]
    fitted = defaultdict(set)
    places = {place for one in by_use for place in one.positions}
    for position, asset in Fitting.objects.filter(position__in=places).values_list("position", "asset"):
        fitted[position].add(asset)
    for one in by_use:
        for place in one.positions:
            one.assets |= fitted[place]


def _readings(wanted: Sequence[_Wanted]) -> list[Reading]:
    positions = {place for one in wanted for place in one.positions}
    assets = {asset for one in wanted for asset in one.assets}
    names = Q()
    for name in {one.term.reads for one in wanted}:
        names |= Q(what__iexact=name)
    of = Q(position__in=positions) | Q(asset__in=assets)
    return list(Reading.objects.standing().filter(of & names).order_by("taken_at", "id"))


def _looked(one: _Wanted, rows: Sequence[Reading], breaks: Mapping[int, CounterBreak]) -> Looked:
    own = [
        row
        for row in rows
        if row.what.casefold() == one.term.reads.casefold()
        and (row.position_id in one.positions or row.asset_id in one.assets)
    ]
    zone = one.plan.site.zone
    if one.term.mode in BY_USE:
        return Looked(metered=_metered(own, one.term.reads_unit, breaks, zone))
    return Looked(values=_values(own, one.term.reads_unit, zone))


def _metered(
    rows: Sequence[Reading], unit: str, breaks: Mapping[int, CounterBreak], zone: ZoneInfo
) -> tuple[schedule.Metered, ...]:
    """Totals of each meter apart: that of the tag, that of each machine. A number that falls unexplained ends one."""
    meters: dict[int, list[Reading]] = defaultdict(list)
    for row in rows:
        meters[row.asset_id or 0].append(row)
    found: list[schedule.Metered] = []
    for asset, own in meters.items():
        counts = []
        for row in own:
            said = breaks.get(row.pk)
            try:
                reading = taken(row.entered, row.unit, row.taken_at, into=unit, recorded_at=row.recorded_at)
                why = _broken(said, row.unit, unit) if said is not None else None
            except (UnknownUnit, OtherQuantity):
                continue
            counts.append(with_break(reading, why))
        found.extend(metered_from(totals(counts), zone, asset=str(asset) if asset else ""))
    return tuple(sorted(found, key=lambda one: (one.at, one.total)))


def _broken(said: CounterBreak, unit: str, into: str) -> Broken:
    numbers = (said.modulus, said.old_last, said.new_first)
    if said.kind == "rolled over":
        return broken("rolled over", numbers=numbers, unit=unit, into=into, recorded_at=said.recorded_at)
    return broken("replaced", numbers=numbers, unit=unit, into=into, recorded_at=said.recorded_at)


def _values(rows: Sequence[Reading], unit: str, zone: ZoneInfo) -> tuple[schedule.Value, ...]:
    found = []
    for row in rows:
        try:
            reading = taken(row.entered, row.unit, row.taken_at, into=unit, recorded_at=row.recorded_at)
        except (UnknownUnit, OtherQuantity):
            continue
        found.append(
            schedule.Value(
                key=str(row.pk),
                at=row.taken_at,
                day=_day(row.taken_at, zone),
                value=reading.value,
                known_on=_day(row.recorded_at, zone),
                recorded_at=row.recorded_at,
            )
        )
    return tuple(found)


def _day(at: dt.datetime, zone: ZoneInfo) -> dt.date:
    return at.astimezone(zone).date()
