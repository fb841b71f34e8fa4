"""The rows of a reading set: what was typed, the lots as they were, what was answered, what it came to."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from calibration.compute.method import Entered
from calibration.compute.methods import ph
from calibration.compute.typed import Field, read_fields
from calibration.compute.verdict import Outcome as Result
from calibration.compute.verdict import answer_to
from calibration.models import Answer, Entry, Figure, Outcome, Point, ReadingSet
from calibration.reads.content import Rows
from calibration.reads.own_fields import own_fields
from calibration.reads.sheet import Sheet
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
    for number, point in enumerate(sheet.inputs.points, start=1):
        if not point.is_empty:
            yield f"point{number}_", _point(of, sheet, point, number, "point")
    third = sheet.inputs.third
    if third is not None and not third.is_empty:
        yield "third_", _point(of, sheet, third, THIRD, "third")


def _point(of: ReadingSet, sheet: Sheet, point: ph.Point, number: int, role: str) -> Point:
    lot = sheet.known.standards[point.lot]
    return Point(set=of, number=number, role=role, lot_id=int(lot.id), lot_copy=lot_text(lot))


def _entries(of: ReadingSet, sheet: Sheet, points: dict[str, Point]) -> Iterator[Entry]:
    method = ph.fields_for(sheet.stage, points=3) if not of.same_as_found else ()
    fields = (*method, *own_fields(sheet.stage))
    entered = read_fields(fields, sheet.typed, decimal_mark=sheet.known.settings.get("decimal_mark", "."))
    for one in fields:
        text = sheet.typed.get(one.name, "").strip()
        prefix = _prefix(one)
        if not text or one.ask.kind == "standard" or (prefix and prefix not in points):
            continue
        number = entered.numbers.get(one.name)
        yield Entry(
            set=of,
            point=points.get(prefix),
            quantity=one.ask.name,
            text=text[:300],
            unit=_unit(one, entered),
            value=float(number.value) if number is not None else None,
        )


def _prefix(one: Field) -> str:
    if one.point is not None:
        return f"point{one.point}_"
    return "third_" if one.ask.each == "third" else ""


def _unit(one: Field, entered: Entered) -> str:
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
    lots = frozenset(point.lot for point in (*sheet.inputs.points, sheet.inputs.third) if point is not None)
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
