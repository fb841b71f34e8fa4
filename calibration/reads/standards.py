"""The standards of a site as a method reads them: lots of every kind, and instruments that carry a value."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from django.db.models import Q

from assets.compute.numbers import kept_number
from assets.models import Site
from calibration.compute.standards import IN_LOTS, INSTRUMENTS, Assigned, Standard
from calibration.compute.temperature_tables import TemperatureTable as Table
from calibration.compute.temperature_tables import table_from_rows
from calibration.models import Assignment, Lot, LotFact, StandardKind
from calibration.reads.instruments import asset_id_of, instruments_at, key_of_asset
from calibration.reads.origins import Origins, origins_of, quarantined_because


def standards_at(
    site: Site, day: dt.date, *, kinds: Collection[str] = (), keys: Collection[str] = (), unit_key: str = ""
) -> dict[str, Standard]:
    """Return standards by key ("12" a lot, "asset-7" an instrument), with what became of each up to now.

    Of the `kinds` (codes of `compute.standards.KINDS`) those that may still be chosen on `day`; of the `keys` every
    one, whatever became of it. `unit_key` is the instrument that is checked: only what was assigned to it is read,
    and it is never a standard for itself. The number of queries does not grow with the standards.
    """
    lots = {int(key) for key in keys if key.isdecimal()}
    assets = {pk for key in keys if (pk := asset_id_of(key)) is not None}
    found = _lots(site, kinds, lots, unit_key) if lots or any(kind in IN_LOTS for kind in kinds) else {}
    if assets or any(kind in INSTRUMENTS for kind in kinds):
        found |= instruments_at(site, day, families=kinds, assets=assets)
    if unit_key not in keys:
        found.pop(unit_key, None)
    return found


def _lots(site: Site, kinds: Collection[str], keys: Collection[int], unit_key: str) -> dict[str, Standard]:
    of_kinds = Lot.objects.at(site).of_families(kinds).exclude(facts__kind="discarded")
    rows = Lot.objects.at(site).filter(Q(pk__in=of_kinds.values("pk")) | Q(pk__in=keys))
    lots = list(rows.select_related("kind", "dilution").prefetch_related("facts", "kind__tables"))
    origins = origins_of(site)
    given = assigned_values(lots, origins, unit_key)
    found = (lot_in_use(lot, unfit=origins.unfit.get(lot.pk, ""), assigned=given.get(lot.pk, ())) for lot in lots)
    return {standard.id: standard for standard in found if standard is not None}


def assigned_values(lots: Iterable[Lot], origins: Origins, unit_key: str = "") -> dict[int, tuple[Assigned, ...]]:
    """Return the values given to blocks, by lot; with `unit_key` only those on that instrument. One query."""
    withdrawn = origins.withdrawn
    rows = Assignment.objects.filter(lot__in=[lot.pk for lot in lots])
    # A value that followed from what was withdrawn since is none: the block waits for the next primary calibration.
    rows = rows.exclude(primary__withdrawals__isnull=False)
    unit = asset_id_of(unit_key)
    if unit is not None:
        rows = rows.filter(asset=unit)
    given: dict[int, tuple[Assigned, ...]] = {}
    for row in rows.order_by("on", "pk"):
        if row.primary_lot_id is not None and withdrawn.get(row.primary_lot_id, dt.date.max) <= row.on:
            continue
        value = kept_number(row.value) or Fraction(0)
        one = Assigned(unit_key=key_of_asset(row.asset_id), value=value, text=row.value, on=row.on)
        given[row.lot_id] = (one, *given.get(row.lot_id, ()))  # of one day the last written comes first
    return given


def table_of_kind(kind: StandardKind) -> Table | None:
    """Return the newest table of a kind; None when it has none yet. Reads `kind.tables`, which lists prefetch."""
    newest = max(kind.tables.all(), key=lambda table: table.version, default=None)
    if newest is None:
        return None
    return _parsed(kind.code, kind.name, newest.rows, newest.source, kind.in_unit)


@lru_cache(maxsize=256)
def _parsed(code: str, name: str, text: str, source: str, unit: str) -> Table:
    """Parse a table once: its text is never changed, and a check asks for every table several times."""
    return replace(table_from_rows(code=code, name=name, rows=rows_of(text), source=source), unit=unit)


def rows_of(text: str) -> list[tuple[str, str]]:
    """Return the rows of a table kept as text, one 'temperature value' a line, comma or point."""
    rows: list[tuple[str, str]] = []
    for line in text.replace(",", ".").splitlines():
        words = line.replace(";", " ").split()
        if words:
            rows.append((words[0], " ".join(words[1:])))
    return rows


def _table_of(lot: Lot) -> Table | None:
    """A lot's own table goes before that of its kind; what was made here is worth what was computed."""
    if lot.own_table.strip():
        name, source = f"lot {lot.number}", f"table of lot {lot.number}"
        return _parsed(lot.kind.code, name, lot.own_table, source, lot.kind.in_unit)
    return None if hasattr(lot, "dilution") else table_of_kind(lot.kind)


def lot_in_use(lot: Lot, *, unfit: str = "", assigned: tuple[Assigned, ...] = ()) -> Standard | None:
    """Return a lot with what became of it; None for a buffer when neither it nor its kind has a table."""
    table = _table_of(lot)
    if table is None and lot.kind.of_family == "buffer":
        return None
    facts = sorted(lot.facts.all(), key=lambda fact: (fact.recorded_at, fact.pk))
    made = getattr(lot, "dilution", None)
    value, u, k = kept_number(lot.label_value) or Fraction(0), kept_number(lot.uncertainty), kept_number(lot.coverage)
    if made is not None:
        value = Fraction(made.exact)
        u, k = (2 * Fraction(made.u), Fraction(2)) if made.u else (None, None)
    return Standard(
        id=str(lot.pk),
        label=lot.number,
        nominal=value,
        nominal_text=lot.label_value,
        table=table,
        kind=lot.kind.of_family,
        kind_name=lot.kind.name,
        unit=lot.kind.in_unit,
        expires=lot.expires_on,
        opened=_day(facts, "opened"),
        opened_life=lot.opened_life_days,
        quarantined=quarantined_because(facts),
        discarded=_day(facts, "discarded"),
        uncertainty=u,
        k=k,
        unfit=unfit,
        certificate=", ".join(part for part in (lot.certificate, lot.issuer) if part),
        assigned=assigned,
    )


def _day(facts: Iterable[LotFact], kind: str) -> dt.date | None:
    return next((fact.day for fact in facts if fact.kind == kind), None)


def lots_at(site: Site, found: Q | None = None) -> list[Lot]:
    """Return the lots of a site, such as a condition finds, with all that `lot_in_use` reads."""
    rows = Lot.objects.at(site).filter(found or Q()).select_related("kind", "dilution")
    return list(rows.prefetch_related("facts", "kind__tables"))
