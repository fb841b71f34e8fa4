"""A value that is worked out, as a person chooses it for a routine: what goes in, and what is refused of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from assets.compute.numbers import NotANumber, normal_text, read_number
from assets.compute.readings.facts import plain
from assets.compute.readings.together import MINUTES
from assets.compute.units import UnknownUnit, convert, same_quantity, unit_of
from assets.errors import Reason, Refusal
from assets.models import Position, Site
from maintenance.compute.worked import Given, Kind
from maintenance.compute.worked_kinds import BY_CODE
from maintenance.models import TermInput

MOST_MINUTES = 240
"""Readings farther apart than a long walk are not of one moment: own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkedOut:
    """A value that is worked out: its kind, the tag and name of each reading that goes in, the numbers of its baseline.

    readings: by what they are of; numbers: as typed, each with its unit; together: minutes between readings at most;
    same_walk: those of one walk belong together too; baseline_from: where the numbers come from.
    """

    kind: str
    readings: Mapping[str, tuple[Position, str]]
    numbers: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    together: int = MINUTES
    same_walk: bool = False
    baseline_from: str = ""


def reading_box(name: str) -> str:
    """The box of the form in which a reading is chosen."""
    return f"in_{name.replace(' ', '_')}"


def number_box(name: str) -> str:
    """The box of the form in which a number of the baseline is written."""
    return f"n_{name.replace(' ', '_')}"


def columns_of(typed: WorkedOut) -> dict[str, Any]:
    """The columns of the term. Raises Refusal for a kind that is not known."""
    if typed.kind not in BY_CODE:
        raise Refusal("Choose what is worked out from those that are offered.", field="kind")
    return {
        "computes": typed.kind,
        "together": typed.together,
        "same_walk": typed.same_walk or None,
        "baseline_from": typed.baseline_from.strip(),
        "reads": BY_CODE[typed.kind].words,
        "reads_at": None,
    }


def inputs_from(typed: WorkedOut, site: Site, unit: str) -> list[TermInput]:
    """What goes in, one row each, still without its term; `unit` is that of the limits.

    Raises Refusal with every reason at its box.
    """
    kind = BY_CODE[typed.kind]
    given: dict[str, Fraction] = {}
    reasons = [
        *_reading_faults(kind, typed, site),
        *_number_faults(kind, typed, site, given),
        *_rest(kind, typed, unit),
    ]
    if not reasons:
        boxes = {one.name for one in kind.givens}
        reasons = [
            Reason(f"{_label(kind, name)}: {said}.", number_box(name) if name in boxes else reading_box(name))
            for name, said in kind.faults(typed.readings.keys(), given)
        ]
    if reasons:
        raise Refusal(reasons)
    rows = [TermInput(name=name, reads=what.strip(), reads_at=at) for name, (at, what) in typed.readings.items()]
    rows += [
        TermInput(name=name, number=normal_text(text), unit=unit_of(own).code)
        for name, (text, own) in typed.numbers.items()
    ]
    return rows


def _label(kind: Kind, name: str) -> str:
    labels = {ask.name: f"{ask.label[:1].upper()}{ask.label[1:]}" for ask in kind.asks}
    return {**labels, **{one.name: one.label for one in kind.givens}}[name]


def _reading_faults(kind: Kind, typed: WorkedOut, site: Site) -> Iterator[Reason]:
    seen: set[tuple[int, str]] = set()
    for ask in kind.asks:
        box, label = reading_box(ask.name), _label(kind, ask.name)
        if ask.name not in typed.readings:
            if ask.needed:
                yield Reason(f"{label}: choose where it is read.", box)
            continue
        at, what = typed.readings[ask.name]
        if at.site_id != site.pk or not what.strip():
            yield Reason(f"{label}: choose a reading of a tag of this site.", box)
        elif (at.pk, what.casefold()) in seen:
            yield Reason(f"{label}: this reading is chosen above already; choose another one.", box)
        seen.add((at.pk, what.casefold()))
    for name in typed.readings.keys() - {ask.name for ask in kind.asks}:
        yield Reason(f"{name} does not go into this value.")


def _number_faults(kind: Kind, typed: WorkedOut, site: Site, given: dict[str, Fraction]) -> Iterator[Reason]:
    for one in kind.givens:
        text, unit = typed.numbers.get(one.name, ("", one.unit))
        if not text.strip():
            if one.needed:
                yield Reason(f"{one.label}: write the number.", number_box(one.name))
            continue
        try:
            number = read_number(text, decimal_mark=site.decimal_mark)
            code = unit_of(unit).code
        except (NotANumber, UnknownUnit) as wrong:
            yield Reason(f"{one.label}: {wrong}", number_box(one.name))
            continue
        if not same_quantity(code, one.unit):
            yield Reason(f"{one.label}: {code} measures something else than {one.unit}.", number_box(one.name))
            continue
        given[one.name] = convert(number, code, one.unit)
        yield from _outside(one, given[one.name], text, code)


def _outside(one: Given, value: Fraction, text: str, unit: str) -> Iterator[Reason]:
    below = one.low is not None and value < one.low
    if below or (one.high is not None and value > one.high):
        sides = [f"{plain(side)} {one.unit}" for side in (one.low, one.high) if side is not None]
        good = f"from {' to '.join(sides)}" if len(sides) > 1 else f"of {sides[0]} or more"
        yield Reason(f"{one.label}: {text} {unit} cannot be meant; write a number {good}.", number_box(one.name))


def _rest(kind: Kind, typed: WorkedOut, unit: str) -> Iterator[Reason]:
    if unit and not same_quantity(unit, kind.unit):
        yield Reason(f"Unit of the limits: {unit} measures something else than {kind.unit}.", "reads_unit")
    if not 0 <= typed.together <= MOST_MINUTES:
        yield Reason(
            f"Minutes between readings: {typed.together}. Write 0 to {MOST_MINUTES}; readings farther apart are not of "
            "one moment.",
            "together",
        )
    if not kind.over_days and not typed.baseline_from.strip():
        yield Reason(
            "Where the baseline comes from: write when and by whom it was measured, or the maker’s paper.",
            "baseline_from",
        )
