"""Values that a condition works out: from which readings and numbers by its terms, and what they say."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from zoneinfo import ZoneInfo

from assets.compute.numbers import kept_number
from assets.compute.readings.together import MINUTES, Read, taken_together
from assets.compute.rounding import as_typed
from assets.compute.units import convert
from maintenance.compute import worked
from maintenance.compute.schedule import Limits
from maintenance.compute.worked_kinds import BY_CODE
from maintenance.models import PlanTerm, TermInput
from maintenance.reads.readings_kept import ReadingsKept, Wanted


@dataclass(frozen=True, slots=True, kw_only=True)
class Definition:
    """What a term works out: its kind, the unit of its value and limits, how far apart readings may be.

    readings: tag and name of each reading that goes in; given: the numbers in the units of the kind; `said`: as typed.
    """

    kind: worked.Kind
    unit: str
    minutes: int
    same_walk: bool
    readings: Mapping[str, tuple[int, str]]
    given: Mapping[str, Fraction]
    said: Mapping[str, str]

    def want(self, wanted: Wanted) -> None:
        """Say which readings it takes."""
        wanted.walks = wanted.walks or self.same_walk
        for ask in self.kind.asks:
            if ask.name in self.readings:
                position, name = self.readings[ask.name]
                wanted.positions.add(position)
                wanted.names.add(name)
                wanted.counters |= {position} if ask.counter else set()


def inputs_of(terms: Iterable[PlanTerm]) -> dict[int, list[TermInput]]:
    """What goes into the values of terms, by term; no query where none works one out."""
    found: dict[int, list[TermInput]] = defaultdict(list)
    ids = [term.pk for term in terms if term.computes]
    for row in TermInput.objects.filter(term__in=ids).order_by("id") if ids else ():
        found[row.term_id].append(row)
    return found


def definition_of(term: PlanTerm, inputs: Sequence[TermInput]) -> Definition | None:
    """What a term works out; None where it works out nothing, or something that goes in is missing."""
    kind = BY_CODE.get(term.computes)
    if kind is None:
        return None
    readings = {row.name: (row.reads_at_id or 0, row.reads) for row in inputs if row.reads}
    numbers = {row.name: row for row in inputs if row.number}
    needed = {ask.name for ask in kind.asks if ask.needed} - readings.keys()
    if needed or {one.name for one in kind.givens if one.needed} - numbers.keys():
        return None
    units = {one.name: one.unit for one in kind.givens}
    given = {
        name: convert(kept_number(row.number) or Fraction(0), row.unit, units[name])
        for name, row in numbers.items()
        if name in units
    }
    return Definition(
        kind=kind,
        unit=term.reads_unit,
        minutes=MINUTES if term.together is None else term.together,
        same_walk=bool(term.same_walk),
        readings=readings,
        given=given,
        said={name: f"{as_typed(row.number)} {row.unit}" for name, row in numbers.items()},
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueWorked:
    """One value in the unit of its limits (None: it could not be worked out, and `why`), and what went in."""

    value: Fraction | None
    unit: str
    worked: worked.Worked
    inputs: tuple[tuple[str, str], ...]
    why: str

    @property
    def key(self) -> str:
        """The key of the reading that leads it."""
        return self.worked.together.lead.key


def worked_values(
    definition: Definition,
    readings: ReadingsKept,
    zone: ZoneInfo,
    *,
    in_time: Callable[[dt.date, dt.datetime], bool] | None = None,
) -> list[ValueWorked]:
    """Every value that can be worked out, and every one that cannot, in order of time.

    in_time: from which readings, by their site day and instant; those of later terms are no partner of earlier ones.
    """
    kind = definition.kind
    own = {
        ask.name: (readings.counted if ask.counter else readings.values)(*definition.readings[ask.name], ask.unit, zone)
        for ask in kind.asks
        if ask.name in definition.readings
    }
    if in_time is not None:
        own = {name: [one for one in reads if in_time(one.at.date(), one.at)] for name, reads in own.items()}
    sets = taken_together(own, lead=kind.lead, minutes=definition.minutes, same_walk=definition.same_walk)
    return [_value(definition, one) for one in worked.values_of(kind, sets, definition.given)]


def _value(definition: Definition, one: worked.Worked) -> ValueWorked:
    value = one.value.value
    labels = {ask.name: ask.label for ask in definition.kind.asks}
    return ValueWorked(
        value=None if value is None else convert(value, one.value.unit, definition.unit),
        unit=definition.unit,
        worked=one,
        inputs=tuple((labels[name], _went_in(name, read, one)) for name, read in one.together.found.items()),
        why=one.value.why or one.value.doubt,
    )


def _went_in(name: str, read: Read, one: worked.Worked) -> str:
    return read.told if one.since is None else f"{one.since.found[name].told} to {read.told}"


def said_of(definition: Definition, one: ValueWorked, limits: Limits) -> str:
    """A value in one sentence: what it is, what it was worked out from and when that was read, and the baseline."""
    assert one.value is not None
    value = worked.shown_beside(one.value, limits.outside)
    went_in = ", ".join(f"{label} {text}" for label, text in one.inputs)
    sets = [one.worked.together, *([one.worked.since] if one.worked.since is not None else [])]
    times = worked.times_said([read.at for together in sets for read in together.found.values()])
    said = f"{value} {one.unit}, worked out from {went_in}, read {times}"
    return f"{said}; {baseline_said(definition)}" if definition.said else said


def baseline_said(definition: Definition) -> str:
    """The numbers that were given once, in words: reference flow 100 m³/h, clean 12 kPa."""
    own = [(one.short, definition.said[one.name]) for one in definition.kind.givens if one.name in definition.said]
    return ", ".join(f"{short} {said}" for short, said in own)
