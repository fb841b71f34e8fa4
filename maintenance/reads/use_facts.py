"""What routines by use and on a condition look at: the totals of their meters and the values they watch."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from assets.compute.readings.series import totals
from assets.compute.words import moment_named
from assets.models import Reading
from maintenance.compute import schedule
from maintenance.compute.meters import metered_from
from maintenance.compute.worked import shown_beside
from maintenance.models import Plan, PlanTerm
from maintenance.models.routines import Mode
from maintenance.reads.readings_kept import ReadingsKept, Wanted, kept, read_of
from maintenance.reads.stretch_facts import limits_of
from maintenance.reads.worked_values import Definition, definition_of, inputs_of, said_of, worked_values

BY_USE = frozenset({Mode.USAGE, Mode.FIRST_OF})


@dataclass(frozen=True, slots=True)
class Looked:
    """What one routine looks at."""

    metered: tuple[schedule.Metered, ...] = ()
    values: tuple[schedule.Value, ...] = ()


@dataclass(frozen=True, slots=True)
class Watching:
    """A term on a condition, from when to when it judges, and what it works out (None: it watches a reading)."""

    plan: Plan
    term: PlanTerm
    begins: schedule.Begin | None
    ends: schedule.Begin | None
    definition: Definition | None

    def judges(self, value: schedule.Value) -> bool:
        """Whether a value is held against its limits."""
        begun = self.begins is None or self.begins.reached(value.day, value.at)
        return begun and self.in_time(value.day, value.at)

    def in_time(self, day: dt.date, at: dt.datetime) -> bool:
        """Whether a reading of a site day and instant was taken before other terms came."""
        return self.ends is None or not self.ends.reached(day, at)


def looked_at(plans: Sequence[Plan], terms: Mapping[int, Sequence[PlanTerm]]) -> dict[int, Looked]:
    """Totals and values of the routines that need them; the number of queries does not depend on theirs.

    The newest term by use says which meter it is; a routine that changes its meter begins a new count with it. A value
    belongs to the condition in force when it was taken, so that other limits never judge it.
    """
    counting = {plan.pk: term for plan in plans if (term := _counting(terms.get(plan.pk, ()))) is not None}
    watching = _watching(plans, terms)
    if not counting and not watching:
        return {}
    readings = kept(_wanted(plans, counting, watching))
    values: dict[int, list[schedule.Value]] = defaultdict(list)
    for one in watching:
        values[one.plan.pk] += [value for value in _values(one, readings) if one.judges(value)]
    return {
        plan.pk: Looked(
            metered=_metered(plan, counting[plan.pk], readings) if plan.pk in counting else (),
            values=tuple(values[plan.pk]),
        )
        for plan in plans
        if plan.pk in counting or plan.pk in values
    }


def _counting(terms: Sequence[PlanTerm]) -> PlanTerm | None:
    """The newest term by use that names a reading."""
    naming = [term for term in terms if term.mode in BY_USE and term.reads]
    return max(naming, key=lambda one: (one.from_day, one.pk), default=None)


def _watching(plans: Sequence[Plan], terms: Mapping[int, Sequence[PlanTerm]]) -> list[Watching]:
    inputs = inputs_of(term for plan in plans for term in terms.get(plan.pk, ()))
    return [
        Watching(plan, term, begins, ends, definition_of(term, inputs[term.pk]) if term.computes else None)
        for plan in plans
        for term, begins, ends in schedule.judging(
            terms.get(plan.pk, ()), lambda row: (max(row.from_day, row.decided_on), row.decided_on, row.recorded_at)
        )
        if term.mode == Mode.CONDITION and term.reads
    ]


def _wanted(plans: Sequence[Plan], counting: Mapping[int, PlanTerm], watching: Sequence[Watching]) -> Wanted:
    wanted = Wanted()
    for plan in plans:
        if plan.pk in counting:
            _want(wanted, plan, counting[plan.pk])
            wanted.counters |= _places(plan, counting[plan.pk])
    for one in watching:
        if one.definition is not None:
            one.definition.want(wanted)
        elif not one.term.computes:
            _want(wanted, one.plan, one.term)
    return wanted


def _want(wanted: Wanted, plan: Plan, term: PlanTerm) -> None:
    wanted.names.add(term.reads)
    wanted.positions |= _places(plan, term)
    wanted.assets |= {plan.asset_id} if plan.asset_id else set()


def _places(plan: Plan, term: PlanTerm) -> set[int]:
    """The tag where it is read: the one the term names, else the routine's own."""
    place = term.reads_at_id or plan.position_id
    return {place} if place else set()


def _metered(plan: Plan, term: PlanTerm, readings: ReadingsKept) -> tuple[schedule.Metered, ...]:
    """Totals of each meter apart: that of the tag, that of each machine. A number that falls unexplained ends one."""
    places = _places(plan, term)
    machines = readings.fitted(places) | ({plan.asset_id} if plan.asset_id else set())
    meters: list[tuple[str, Sequence[Reading]]] = [("", readings.at(place, term.reads)) for place in places]
    meters += [(str(asset), readings.of(asset, term.reads)) for asset in sorted(machines)]
    found: list[schedule.Metered] = []
    for asset, own in meters:
        found += metered_from(totals(readings.counts(own, term.reads_unit)), plan.site.zone, asset=asset)
    return tuple(found)


def _values(one: Watching, readings: ReadingsKept) -> Iterator[schedule.Value]:
    zone, limits = one.plan.site.zone, limits_of(one.term)
    if one.definition is not None:
        for found in worked_values(one.definition, readings, zone, in_time=one.in_time):
            together = found.worked.together
            if found.value is not None:
                yield schedule.Value(
                    key=f"{one.term.pk}:{found.key}",
                    at=together.at,
                    day=together.at.date(),
                    value=found.value,
                    known_on=_day(together.known_at, zone),
                    recorded_at=together.known_at,
                    told=said_of(one.definition, found, limits),
                )
        return
    places = [] if one.term.computes else [readings.at(place, one.term.reads) for place in _places(one.plan, one.term)]
    for row in [row for own in places for row in own] + list(_carried(one, readings)):
        read = read_of(row, one.term.reads_unit, zone)
        if read is not None:
            said = (
                f"{shown_beside(read.value, limits.outside)} {one.term.reads_unit}, " if _other_unit(one, row) else ""
            )
            yield schedule.Value(
                key=read.key,
                at=row.taken_at,
                day=read.at.date(),
                value=read.value,
                known_on=_day(row.recorded_at, zone),
                recorded_at=row.recorded_at,
                told=f"{said}{read.told}, read {moment_named(read.at)}",
            )


def _carried(one: Watching, readings: ReadingsKept) -> Sequence[Reading]:
    return () if one.term.computes else readings.of(one.plan.asset_id, one.term.reads)


def _other_unit(one: Watching, row: Reading) -> bool:
    return row.unit != one.term.reads_unit


def _day(at: dt.datetime, zone: ZoneInfo) -> dt.date:
    return at.astimezone(zone).date()
