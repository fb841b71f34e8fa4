"""What the record knows about a place and its standards on a day, made ready for a method."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping
from fractions import Fraction
from functools import lru_cache

from assets.compute.numbers import read_number
from assets.models import Position, Site
from calibration.compute.method import Band, Known
from calibration.compute.standards import Standard as StandardInUse
from calibration.compute.temperature_tables import TemperatureTable as Table
from calibration.compute.temperature_tables import table_from_rows
from calibration.models import BufferKind, Lot, LotFact, Requirement, RequirementTerm

HOLDS_UP = ("paces", "permits", "trips")
"""Uses of a signal that move something while its probe is in a buffer."""


def exact(text: str) -> Fraction | None:
    """Return the value of a number kept as typed; None when none was typed."""
    return read_number(text, decimal_mark=",") if text.strip() else None


def table_of_kind(kind: BufferKind) -> Table | None:
    """Return the newest table of a kind; None when it has none yet. Reads `kind.tables`, which lists prefetch."""
    newest = max(kind.tables.all(), key=lambda table: table.version, default=None)
    if newest is None:
        return None
    return _parsed(kind.code, kind.name, newest.rows, newest.source)


@lru_cache(maxsize=256)
def _parsed(code: str, name: str, text: str, source: str) -> Table:
    """Parse a table once: its text is never changed, and a check asks for every table several times."""
    return table_from_rows(code=code, name=name, rows=rows_of(text), source=source)


def rows_of(text: str) -> list[tuple[str, str]]:
    """Return the rows of a table kept as text, one 'temperature pH' a line, comma or point."""
    rows: list[tuple[str, str]] = []
    for line in text.replace(",", ".").splitlines():
        words = line.replace(";", " ").split()
        if words:
            rows.append((words[0], " ".join(words[1:])))
    return rows


def _own_table(lot: Lot) -> Table:
    return _parsed(lot.kind.code, f"lot {lot.number}", lot.own_table, f"table of lot {lot.number}")


def lot_in_use(lot: Lot) -> StandardInUse | None:
    """Return a lot with what became of it; None when neither it nor its kind has a table."""
    table = _own_table(lot) if lot.own_table.strip() else table_of_kind(lot.kind)
    if table is None:
        return None
    facts = sorted(lot.facts.all(), key=lambda fact: (fact.recorded_at, fact.pk))
    return StandardInUse(
        id=str(lot.pk),
        label=lot.number,
        nominal=exact(lot.label_value) or Fraction(0),
        nominal_text=lot.label_value,
        table=table,
        expires=lot.expires_on,
        opened=_day(facts, "opened"),
        opened_life=lot.opened_life_days,
        quarantined=_quarantined(facts),
        discarded=_day(facts, "discarded"),
        uncertainty=exact(lot.uncertainty),
        k=exact(lot.coverage),
    )


def _day(facts: Iterable[LotFact], kind: str) -> dt.date | None:
    return next((fact.day for fact in facts if fact.kind == kind), None)


def _quarantined(facts: Iterable[LotFact]) -> str:
    """Return why a lot is quarantined now; empty when it never was or has been released since."""
    why = ""
    for fact in facts:
        if fact.kind == "quarantined":
            why = fact.why
        elif fact.kind == "released":
            why = ""
    return why


def lots_at(site: Site) -> list[Lot]:
    """Return every lot of a site with all that `lot_in_use` reads."""
    return list(Lot.objects.at(site).select_related("kind").prefetch_related("facts", "kind__tables"))


def term_in_force(requirement: Requirement, day: dt.date) -> RequirementTerm | None:
    """Return the limits that count on a day: the newest recorded of those that begin on or before it."""
    terms = [term for term in requirement.terms.all() if term.from_day <= day]
    return max(terms, key=lambda term: (term.from_day, term.pk), default=None)


def bands_of(term: RequirementTerm) -> dict[str, Band]:
    """Return the limits of a term by name; the uncertainty counts only under the guarded rule, for limits in pH."""
    guard = exact(term.uncertainty) if term.rule == "guarded" else None
    return {
        name: Band(
            low=exact(limit["low"]),
            high=exact(limit["high"]),
            unit=limit["unit"],
            source=limit["source"],
            tag=limit["tag"],
            uncertainty=guard if limit["unit"] == "pH" else None,
            uncertainty_source=term.uncertainty_source if guard is not None and limit["unit"] == "pH" else "",
        )
        for name, limit in json.loads(term.limits).items()
    }


def settings_of(term: RequirementTerm, site: Site) -> dict[str, str]:
    """Return the settings of a place as the method reads them, and the mark that typed numbers were read with."""
    working = exact(term.working_value)
    return {
        "decimal_mark": site.decimal_mark,
        "slope_sign": "positive" if term.slope_sign == "rising" else "negative",
        "working_ph": "" if working is None else str(working),
        "points": "2",
    }


def uses_of(position: Position) -> tuple[str, ...]:
    """Return what a signal moves: 'paces P-41'."""
    uses = position.uses.now().select_related("target")
    return tuple(f"{use.use} {use.on}" for use in uses if use.use in HOLDS_UP)


def known_for(
    requirement: Requirement, term: RequirementTerm, *, site: Site, day: dt.date, last: Mapping[str, Fraction]
) -> Known:
    """Return what is known about a requirement's place, at its site, on a day; `last` are figures of earlier sets."""
    kinds = {kind.pk: kind for kind in BufferKind.objects.prefetch_related("tables")}
    lots = list(Lot.objects.at(site).prefetch_related("facts"))
    for lot in lots:
        lot.kind = kinds[lot.kind_id]  # one copy of each kind, with its tables
    in_use = [lot_in_use(lot) for lot in lots]
    tables = [table_of_kind(kind) for kind in kinds.values()]
    return Known(
        day=day,
        standards={lot.id: lot for lot in in_use if lot is not None},
        tables={table.code: table for table in tables if table is not None},
        limits=bands_of(term),
        settings=settings_of(term, site),
        last=dict(last),
        uses=uses_of(requirement.position),
    )
