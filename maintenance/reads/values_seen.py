"""The last values that a routine on a condition saw, with what they were worked out from; on its own page."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction

from assets.models import Position, Reading
from maintenance.compute.schedule import Limits
from maintenance.compute.worked import Kind, shown_beside
from maintenance.models import Plan, PlanTerm, TermInput
from maintenance.models.routines import Mode
from maintenance.reads.due_words import Shown
from maintenance.reads.readings_kept import Wanted, kept, read_of
from maintenance.reads.stretch_facts import limits_of
from maintenance.reads.worked_values import Definition, ValueWorked, baseline_said, definition_of, worked_values

LAST = 10
INSIDE = Shown("Inside", "yes")
OUTSIDE = Shown("Outside", "no", "bad")
NO_VALUE = Shown("No value", "notyet")


@dataclass(frozen=True, slots=True)
class GoesIn:
    """One reading that goes in: what it is of, where it is read and under which name."""

    label: str
    reads: str
    tag: str
    code: str
    machine: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenRow:
    """One value: when, in words, inside its limits or outside, and what went in or why there is none."""

    at: dt.datetime
    value: str
    state: Shown
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ValuesSeen:
    """What a condition watches, what is good, and the last values, the newest first; `kind` None: a plain reading."""

    good: str
    kind: Kind | None
    goes_in: tuple[GoesIn, ...]
    baseline: str
    baseline_from: str
    apart: str
    rows: tuple[SeenRow, ...]


def values_seen(plan: Plan, term: PlanTerm | None) -> ValuesSeen | None:
    """What the condition in force saw; None where the routine is on no condition."""
    if term is None or term.mode != Mode.CONDITION:
        return None
    limits = limits_of(term)
    if not term.computes:
        return ValuesSeen(
            good=limits.told,
            kind=None,
            goes_in=(),
            baseline="",
            baseline_from="",
            apart="",
            rows=_read(plan, term, limits),
        )
    inputs = list(TermInput.objects.filter(term=term).select_related("reads_at").order_by("id"))
    definition = definition_of(term, inputs)
    if definition is None:
        return None
    wanted = Wanted()
    definition.want(wanted)
    found = worked_values(definition, kept(wanted), plan.site.zone)
    labels = {ask.name: ask.label for ask in definition.kind.asks}
    return ValuesSeen(
        good=limits.told,
        kind=definition.kind,
        goes_in=tuple(
            _goes_in(labels[row.name], row.reads_at, row.reads) for row in inputs if row.reads_at is not None
        ),
        baseline=baseline_said(definition),
        baseline_from=term.baseline_from,
        apart=_apart(definition),
        rows=tuple(_row(one, limits) for one in reversed(found[-LAST:])),
    )


def _goes_in(label: str, at: Position, reads: str) -> GoesIn:
    return GoesIn(label, reads, at.tag, at.label_code, not at.measures)


def _apart(definition: Definition) -> str:
    walk = ", or on one walk" if definition.same_walk else ""
    return f"within {definition.minutes} minutes{walk}"


def _row(one: ValueWorked, limits: Limits) -> SeenRow:
    went_in = ", ".join(f"{label} {text}" for label, text in one.inputs)
    at = one.worked.together.at
    if one.value is None:
        return SeenRow(at=at, value="–", state=NO_VALUE, note=f"{went_in}. {one.why}")
    said = f"{went_in}. {one.why}" if one.why else went_in
    return SeenRow(at=at, value=_said(one.value, one.unit, limits), state=_state(one.value, limits), note=said)


def _said(value: Fraction, unit: str, limits: Limits) -> str:
    return f"{shown_beside(value, limits.outside)} {unit}"


def _state(value: Fraction, limits: Limits) -> Shown:
    return OUTSIDE if limits.outside(value) else INSIDE


def _read(plan: Plan, term: PlanTerm, limits: Limits) -> tuple[SeenRow, ...]:
    rows = Reading.objects.standing().filter(what__iexact=term.reads).order_by("-taken_at", "-id")
    place = term.reads_at_id or plan.position_id
    of = {"position": place} if place is not None else {"asset": plan.asset_id}
    found = []
    for row in rows.filter(**of)[:LAST]:
        read = read_of(row, term.reads_unit, plan.site.zone)
        if read is not None:
            note = read.told if row.unit != term.reads_unit else ""
            value = _said(read.value, term.reads_unit, limits)
            found.append(SeenRow(at=read.at, value=value, state=_state(read.value, limits), note=note))
    return tuple(found)
