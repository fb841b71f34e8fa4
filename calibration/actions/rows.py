"""The rows of a reading set: what was typed, the lots as they were, what was answered, what it came to."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from calibration.compute.method import Entered
from calibration.compute.methods import ph
from calibration.compute.typed import Field, fields_for, read_fields
from calibration.compute.verdict import Outcome as Result
from calibration.compute.verdict import answer_to
from calibration.models import Answer, Entry, Figure, Outcome, Point, ReadingSet
from calibration.reads.content import Rows
from calibration.reads.instruments import asset_id_of
from calibration.reads.own_fields import own_fields
from calibration.reads.sheet import Sheet, keys_in
from calibration.reads.stored import advice_text, judged_text, known_text, libraries, lot_text, working_text

THIRD = 4
"""The number under which a third buffer is kept, after up to three points of the line."""


def rows_for(of: ReadingSet, sheet: Sheet, result: Result) -> Rows:
    """Return the rows of a set, not yet stored. An as left that was not read again has no points of its own."""
    points = {} if of.same_as_found or sheet.lost else dict(_points(of, sheet))
    if sheet.lost:
        entries = tuple(_entries(of, sheet, points))
        return Rows(set=of, entries=entries)
    outcome = _outcome(of, sheet, result)
    return Rows(
        set=of,
        points=tuple(points.values()),
        entries=tuple(_entries(of, sheet, points)),
        answers=tuple(_answers(of, sheet, result)),
        outcome=outcome,
        figures=tuple(_figures(outcome, result)),
    )


def _points(of: ReadingSet, sheet: Sheet) -> Iterator[tuple[str, Point]]:
    if not isinstance(sheet.inputs, ph.ReadingSet):
        yield from _standards(of, sheet)
        return
    for number, point in enumerate(sheet.inputs.points, start=1):
        if not point.is_empty:
            yield f"point{number}_", _point(of, sheet, point, number, "point")
    third = sheet.inputs.third
    if third is not None and not third.is_empty:
        yield "third_", _point(of, sheet, third, THIRD, "third")


def _standards(of: ReadingSet, sheet: Sheet) -> Iterator[tuple[str, Point]]:
    """Each standard that was chosen, under the name of the field it was chosen in."""
    number = 0
    for one in fields_for(sheet.method, sheet.stage):
        key = sheet.typed.get(one.name, "").strip()
        if one.ask.kind != "standard" or not key or key not in sheet.known.standards:
            continue
        number += 1
        used = sheet.known.standards[key]
        which = {"lot_id": int(key)} if used.is_lot else {"reference_id": asset_id_of(key)}
        yield one.name, Point(set=of, number=number, role="standard", field=one.name, lot_copy=lot_text(used), **which)


def _point(of: ReadingSet, sheet: Sheet, point: ph.Point, number: int, role: str) -> Point:
    lot = sheet.known.standards[point.lot]
    return Point(set=of, number=number, role=role, lot_id=int(lot.id), lot_copy=lot_text(lot))


def _entries(of: ReadingSet, sheet: Sheet, points: dict[str, Point]) -> Iterator[Entry]:
    method = fields_for(sheet.method, sheet.stage) if not of.same_as_found else ()
    fields = (*method, *own_fields(sheet.method, sheet.stage))
    entered = read_fields(fields, sheet.typed, decimal_mark=sheet.known.settings.get("decimal_mark", "."))
    by_point = sheet.method.by_point
    for one in fields:
        text = sheet.typed.get(one.name, "").strip()
        row = one.row if by_point else ""
        if not text or one.ask.kind == "standard" or (row and row not in points):
            continue
        number = entered.numbers.get(one.name)
        yield Entry(
            set=of,
            point=points.get(row),
            quantity=one.ask.name if by_point else one.name,
            text=text[:300],
            unit=_unit(one, entered),
            value=float(number.value) if number is not None else None,
        )


def _unit(one: Field, entered: Entered) -> str:
    number = entered.numbers.get(one.name)
    if one.has_units and number is not None:
        return number.unit
    return one.ask.units[0] if one.ask.units else entered.texts.get(f"{one.name}_unit", "")


def _answers(of: ReadingSet, sheet: Sheet, result: Result) -> Iterator[Answer]:
    for found in result.found:
        if found.weight == "ask" and (answer := answer_to(found, sheet.inputs)) is not None:
            label = next(one.label for one in found.choices if one.code == answer.choice)
            yield Answer(
                set=of,
                asked=found.key,
                sentence=found.sentence,
                choice=answer.choice,
                answer=label,
                reason=answer.reason.strip()[:300],
            )


def _outcome(of: ReadingSet, sheet: Sheet, result: Result) -> Outcome:
    lots = keys_in(sheet.method, sheet.typed)
    return Outcome(
        set=of,
        valid=result.validity == "valid",
        because=" ".join(result.because),
        verdict=result.verdict or "no verdict",
        term=sheet.term,
        known=known_text(sheet.known, lots=lots),
        judged=judged_text(result),
        working=working_text(result.worked),
        advice=advice_text(result.worked),
        method_version=result.version,
        libraries=libraries(),
    )


def _figures(outcome: Outcome, result: Result) -> Iterator[Figure]:
    for one in result.worked.figures:
        yield Figure(
            outcome=outcome,
            name=one.name,
            exact=one.exact if isinstance(one.value, Fraction) else repr(one.value),
            shown=one.shown,
            unit=one.unit,
            value=float(one.value),
        )
