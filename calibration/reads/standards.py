"""The standards of a site as a method reads them: lots of every kind, and instruments that carry a value."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable
from fractions import Fraction
from functools import lru_cache

from assets.compute.numbers import read_number
from assets.models import Site
from calibration.compute.standards import Standard
from calibration.compute.temperature_tables import TemperatureTable as Table
from calibration.compute.temperature_tables import table_from_rows
from calibration.models import Lot, LotFact, StandardKind


def standards_at(
    site: Site, day: dt.date, *, kinds: Collection[str] = (), keys: Collection[str] = (), unit_key: str = ""
) -> dict[str, Standard]:
    """Return standards by key ("12" a lot, "asset-7" an instrument), with what became of each up to now.

    Of the `kinds` (codes of `compute.standards.KINDS`) those that may still be chosen on `day`; of the `keys` every
    one, whatever became of it. `unit_key` is the instrument that is checked: only what was assigned to it is read.
    The number of queries does not grow with the standards.
    """
    lots = {int(key) for key in keys if key.isdecimal()}
    found: dict[str, Standard] = {}
    for lot in Lot.objects.at(site).select_related("kind").prefetch_related("facts", "kind__tables"):
        standard = lot_in_use(lot)
        if standard is None:
            continue
        if lot.pk in lots or (standard.kind in kinds and standard.discarded is None):
            found[standard.id] = standard
    return found


def exact(text: str) -> Fraction | None:
    """Return the value of a number kept as typed; None when none was typed."""
    return read_number(text, decimal_mark=",") if text.strip() else None


def table_of_kind(kind: StandardKind) -> Table | None:
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
    """Return the rows of a table kept as text, one 'temperature value' a line, comma or point."""
    rows: list[tuple[str, str]] = []
    for line in text.replace(",", ".").splitlines():
        words = line.replace(";", " ").split()
        if words:
            rows.append((words[0], " ".join(words[1:])))
    return rows


def _own_table(lot: Lot) -> Table:
    return _parsed(lot.kind.code, f"lot {lot.number}", lot.own_table, f"table of lot {lot.number}")


def lot_in_use(lot: Lot) -> Standard | None:
    """Return a lot with what became of it; None when neither it nor its kind has a table."""
    table = _own_table(lot) if lot.own_table.strip() else table_of_kind(lot.kind)
    if table is None:
        return None
    facts = sorted(lot.facts.all(), key=lambda fact: (fact.recorded_at, fact.pk))
    return Standard(
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
