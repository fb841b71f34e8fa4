"""How what was known and worked out is kept as text, and read back exactly."""

from __future__ import annotations

import datetime as dt
import importlib.metadata
import json
import platform
from collections.abc import Collection, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import cache
from typing import Any, TypeAlias

from assets.compute.canonical import canonical
from calibration.compute.asked import Record
from calibration.compute.method import Advice, Answer, Band, Judged, Known, Line, Verdict, Worked
from calibration.compute.methods import METHODS, ph
from calibration.compute.standards import Assigned
from calibration.compute.standards import Standard as StandardInUse
from calibration.compute.temperature_tables import TemperatureTable as Table
from calibration.compute.temperature_tables import table_from_rows
from calibration.compute.typed import UNIT, fields_for, read_fields
from calibration.compute.verdict import Outcome as Result
from calibration.compute.verdict import judge
from calibration.models import Outcome, Point, ReadingSet

AnyInputs: TypeAlias = Record | ph.ReadingSet
"""What any method reads of a set: a record of its own, or the points of a pH probe."""

NEAR = Fraction(1, 2)
"""Tables kept beside a lot's own: those a person could have mistaken for it, within so many pH of its label."""


def _text(value: Fraction | None) -> str | None:
    return None if value is None else str(value)


def _value(text: str | None) -> Fraction | None:
    return None if text is None else Fraction(text)


def _day(text: str | None) -> dt.date | None:
    return None if text is None else dt.date.fromisoformat(text)


def _table(table: Table | None) -> dict[str, Any] | None:
    if table is None:
        return None
    rows = [[str(temperature), str(value)] for temperature, value in table.rows]
    kept = {"code": table.code, "name": table.name, "rows": rows, "source": table.source}
    return kept if table.unit == "pH" else {**kept, "unit": table.unit}


def _read_table(kept: Mapping[str, Any] | None) -> Table | None:
    if kept is None:
        return None
    rows = [(temperature, value) for temperature, value in kept["rows"]]
    table = table_from_rows(code=kept["code"], name=kept["name"], rows=rows, source=kept["source"])
    return replace(table, unit=kept.get("unit", "pH"))


def lot_text(standard: StandardInUse) -> str:
    """Return a standard as it was at that minute."""
    return canonical(
        {
            "id": standard.id,
            "label": standard.label,
            "nominal": standard.nominal_text,
            "value": str(standard.nominal),
            "table": _table(standard.table),
            "expires": standard.expires,
            "opened": standard.opened,
            "opened_life": _text(None if standard.opened_life is None else Fraction(standard.opened_life)),
            "quarantined": standard.quarantined,
            "discarded": standard.discarded,
            "uncertainty": _text(standard.uncertainty),
            "k": _text(standard.k),
            **_beyond_a_buffer(standard),
        }
    )


def _beyond_a_buffer(standard: StandardInUse) -> dict[str, Any]:
    """What a bottle of buffer does not have: only what there is, so that the copy of one stays as it always was."""
    given = {
        "kind": standard.kind if standard.kind != "buffer" else "",
        "kind_name": standard.kind_name if standard.kind != "buffer" else "",
        "unit": standard.unit if standard.unit != "pH" else "",
        "instrument": "" if standard.is_lot else "yes",
        "unfit": standard.unfit,
        "certificate": standard.certificate,
        "assigned": [[one.unit_key, str(one.value), one.text, one.on] for one in standard.assigned],
        "corrections": [[str(shown), str(added)] for shown, added in standard.corrections],
    }
    return {name: value for name, value in given.items() if value}


def read_lot(text: str) -> StandardInUse:
    """Return the standard that `lot_text` kept."""
    kept = json.loads(text)
    life = _value(kept["opened_life"])
    return StandardInUse(
        id=kept["id"],
        label=kept["label"],
        nominal=Fraction(kept["value"]),
        nominal_text=kept["nominal"],
        table=_read_table(kept["table"]),
        kind=kept.get("kind") or "buffer",
        kind_name=kept.get("kind_name", ""),
        unit=kept.get("unit", "") if kept.get("kind") else "pH",
        expires=_day(kept["expires"]),
        opened=_day(kept["opened"]),
        opened_life=None if life is None else int(life),
        quarantined=kept["quarantined"],
        discarded=_day(kept["discarded"]),
        uncertainty=_value(kept["uncertainty"]),
        k=_value(kept["k"]),
        is_lot=not kept.get("instrument"),
        unfit=kept.get("unfit", ""),
        certificate=kept.get("certificate", ""),
        assigned=tuple(_assigned(*one) for one in kept.get("assigned", ())),
        corrections=tuple((Fraction(shown), Fraction(added)) for shown, added in kept.get("corrections", ())),
    )


def _assigned(unit_key: str, value: str, text: str, on: str) -> Assigned:
    return Assigned(unit_key=unit_key, value=Fraction(value), text=text, on=dt.date.fromisoformat(on))


def _band(band: Band) -> dict[str, Any]:
    return {
        "low": _text(band.low),
        "high": _text(band.high),
        "unit": band.unit,
        "source": band.source,
        "tag": band.tag,
        "uncertainty": _text(band.uncertainty),
        "uncertainty_source": band.uncertainty_source,
    }


def known_text(known: Known, *, lots: Collection[str]) -> str:
    """Return what was known, with the tables that a buffer used could be mistaken for; standards have own copies."""
    used = [known.standards[key].nominal for key in lots if key in known.standards]
    tables = {
        code: _table(table)
        for code, table in known.tables.items()
        if any(abs(table.value(max(table.low, min(table.high, Fraction(25)))) - nominal) <= NEAR for nominal in used)
    }
    return canonical(
        {
            "day": known.day,
            "limits": {name: _band(band) for name, band in known.limits.items()},
            "settings": known.settings,
            "last": {name: str(value) for name, value in known.last.items()},
            "uses": known.uses,
            "tables": tables,
            **_place(known),
        }
    )


def _place(known: Known) -> dict[str, Any]:
    """Return what is known beyond what was kept from the beginning, left out where it is empty."""
    kept = {
        "forced": known.forced,
        "unit_key": known.unit_key,
        "unit_label": known.unit_label,
        "guarded": known.guarded,
    }
    return {name: value for name, value in kept.items() if value}


def read_known(text: str, *, standards: Mapping[str, StandardInUse]) -> Known:
    """Return what `known_text` kept, with the standards of the set's own points."""
    kept = json.loads(text)
    limits = {
        name: Band(
            low=_value(band["low"]),
            high=_value(band["high"]),
            unit=band["unit"],
            source=band["source"],
            tag=band["tag"],
            uncertainty=_value(band["uncertainty"]),
            uncertainty_source=band["uncertainty_source"],
        )
        for name, band in kept["limits"].items()
    }
    return Known(
        day=dt.date.fromisoformat(kept["day"]),
        standards=standards,
        tables={code: table for code, one in kept["tables"].items() if (table := _read_table(one)) is not None},
        limits=limits,
        settings=kept["settings"],
        last={name: Fraction(value) for name, value in kept["last"].items()},
        uses=tuple(kept["uses"]),
        forced=tuple(kept.get("forced", ())),
        unit_key=kept.get("unit_key", ""),
        unit_label=kept.get("unit_label", ""),
        guarded=kept.get("guarded", False),
    )


def judged_text(result: Result) -> str:
    """Return the judged values with their limits and verdicts, and the model of the error."""
    values = [
        {
            "name": one.name,
            "what": one.what,
            "value": one.value if isinstance(one.value, bool) else str(one.value),
            "unit": one.unit,
            "of": one.of,
            "low": _text(one.low),
            "high": _text(one.high),
            "at": _text(one.at),
            "face": one.face,
            "shown": _text(one.shown),
            "standard": _text(one.standard),
            "uncertainty": _text(one.uncertainty),
            "source": one.source,
            "tag": one.tag,
            "verdict": verdict,
        }
        for one, verdict in result.judged
    ]
    model = result.worked.model
    points = [[str(true), str(shown)] for true, shown in model.points]
    return canonical({"values": values, "model": {"kind": model.kind, "points": points}})


def working_text(worked: Worked) -> str:
    """Return the lines of the working."""
    return canonical(
        [
            {"text": one.text, "figures": one.figures, "value": one.value, "unit": one.unit, "source": one.source}
            for one in worked.lines
        ]
    )


def advice_text(worked: Worked) -> str:
    """Return the advice, gravest first."""
    return canonical(
        [
            {
                "what": one.what,
                "word": one.word,
                "sentence": one.sentence,
                "gravity": one.gravity,
                "source": one.source,
                "tag": one.tag,
            }
            for one in worked.advice
        ]
    )


@cache
def libraries() -> str:
    """Return the versions a result was computed with: those this process runs on."""
    return f"Python {platform.python_version()}, Django {importlib.metadata.version('django')}"


def key_of(point: Point) -> str:
    """Return the key under which a form names the standard of a point."""
    return str(point.lot_id) if point.lot_id is not None else f"asset-{point.reference_id}"


def typed_of(of: ReadingSet) -> dict[str, str]:
    """Return the fields of a signed set as they were typed, by the names of the form. Reads points and entries."""
    prefixes: dict[int, str] = {}
    typed: dict[str, str] = {}
    for point in of.points.all():
        prefix = "" if point.field else "third_" if point.role == "third" else f"point{point.number}_"
        prefixes[point.pk] = prefix
        typed[point.field or f"{prefix}lot"] = key_of(point)
    chosen = {one.name for one in fields_for(METHODS[of.check_of.method], of.kind) if one.has_units}
    for entry in of.entries.all():
        name = f"{prefixes[entry.point_id] if entry.point_id is not None else ''}{entry.quantity}"
        typed[name] = entry.text
        if name in chosen and entry.unit:
            typed[name + UNIT] = entry.unit
    return typed


def answers_of(of: ReadingSet) -> dict[str, Answer]:
    """Return the answers of a signed set by their question."""
    return {one.asked: Answer(choice=one.choice, reason=one.reason, asked=one.sentence) for one in of.answers.all()}


def base_of(of: ReadingSet) -> ReadingSet:
    """Return the set whose points count: of an as left that was not read again, the last set before it."""
    if not of.same_as_found:
        return of
    sets = {one.kind: one for one in of.check_of.sets.all()}
    return sets["confirming"] if "confirming" in sets else sets["as found"]


def as_left_unchanged(found: AnyInputs) -> AnyInputs:
    """Return the as left set where nothing was cleaned or adjusted: as found, said so and not retyped."""
    return replace(found, kind="as left", unchanged=True)


def inputs_of(of: ReadingSet, *, decimal_mark: str) -> Any:
    """Return a signed set's inputs as its method read them."""
    if of.same_as_found:
        base = inputs_of(base_of(of), decimal_mark=decimal_mark)
        return as_left_unchanged(replace(base, answers={**base.answers, **answers_of(of)}))
    method = METHODS[of.check_of.method]
    entered = read_fields(fields_for(method, of.kind), typed_of(of), decimal_mark=decimal_mark)
    return method.read(entered, of.kind, answers_of(of))


def worked_again(of: ReadingSet, outcome: Outcome) -> Result:
    """Judge a signed set again from what is stored of it, with today's code.

    A set signed under a version that drew no budget is worked out without: its standards then state no uncertainty.
    """
    method = METHODS[of.check_of.method]
    standards = {key_of(point): read_lot(point.lot_copy) for point in base_of(of).points.all()}
    if _numbered(outcome.method_version) < _numbered(method.budget_since):
        standards = {key: replace(one, uncertainty=None, k=None) for key, one in standards.items()}
    known = read_known(outcome.known, standards=standards)
    inputs = inputs_of(of, decimal_mark=known.settings.get("decimal_mark", "."))
    return judge(method, inputs, known)


def _numbered(version: str) -> tuple[int, ...]:
    """Return a version as numbers, so that 1.10 comes after 1.9."""
    return tuple(int(part) for part in version.split("."))


def agrees(outcome: Outcome, again: Result) -> bool:
    """Tell whether today's code gives the stored verdict, judged values and lines of working."""
    return (
        outcome.verdict == (again.verdict or "no verdict")
        and outcome.valid == (again.validity == "valid")
        and outcome.judged == judged_text(again)
        and outcome.working == working_text(again.worked)
    )


def judged_in(outcome: Outcome) -> tuple[tuple[Judged, Verdict], ...]:
    """Return the judged values of a stored outcome with their verdicts."""
    return tuple(_judged(one) for one in json.loads(outcome.judged)["values"])


def _judged(kept: Mapping[str, Any]) -> tuple[Judged, Verdict]:
    value = kept["value"]
    return (
        Judged(
            name=kept["name"],
            what=kept["what"],
            value=value if isinstance(value, bool) else Fraction(value),
            unit=kept["unit"],
            of=kept["of"],
            low=_value(kept["low"]),
            high=_value(kept["high"]),
            at=_value(kept["at"]),
            face=kept["face"],
            shown=_value(kept["shown"]),
            standard=_value(kept["standard"]),
            uncertainty=_value(kept["uncertainty"]),
            source=kept["source"],
            tag=kept["tag"],
        ),
        kept["verdict"],
    )


def lines_in(outcome: Outcome) -> tuple[Line, ...]:
    """Return the stored lines of the working."""
    return tuple(Line(**kept) for kept in json.loads(outcome.working))


def advice_in(outcome: Outcome) -> tuple[Advice, ...]:
    """Return the stored advice."""
    return tuple(Advice(**{**kept, "gravity": int(kept["gravity"])}) for kept in json.loads(outcome.advice))
