"""Kinds of standards that do not come with the tool, as a supervisor writes them down for the site."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from assets import history
from assets.compute.numbers import NotANumber, read_number
from assets.errors import Reason, Refusal
from assets.models import Person, Site
from assets.permissions import SUPERVISORS, must_have_role
from calibration.compute.families import FAMILIES, written_unit
from calibration.compute.standards import IN_LOTS, KINDS
from calibration.compute.temperature_tables import table_from_rows
from calibration.models import StandardKind, StandardTable
from calibration.reads.standards import rows_of


@dataclass(frozen=True, slots=True, kw_only=True)
class KindTyped:
    """A kind as typed: `nominal` empty where each lot has its own value, `table` 'degC value' a line with `source`."""

    name: str
    family: str
    quantity: str
    unit: str
    nominal: str = ""
    table: str = ""
    source: str = ""


def add_kind(*, site: Site, kind: KindTyped, by: Person) -> StandardKind:
    """Write down a new kind of standard for a site, with its table at temperature where it has one."""
    must_have_role(by, site, SUPERVISORS, to="write down a kind of standard")
    reasons = _faults(kind, site)
    if reasons:
        raise Refusal(reasons)
    with history.act(site=site, by=by) as act:
        is_buffer = kind.family == "buffer"
        row = act.add(
            StandardKind(
                code=_code(site, kind),
                name=kind.name.strip(),
                nominal=kind.nominal.strip(),
                family="" if is_buffer else kind.family,
                quantity="" if is_buffer else kind.quantity.strip(),
                unit="" if is_buffer else written_unit(kind.unit, kind.family),
                site=site,
            )
        )
        if kind.table.strip():
            rows = "\n".join(" ".join(pair) for pair in rows_of(kind.table))
            source = kind.source.strip()
            act.add(StandardTable(kind=row, version=1, source=source, rows=rows, recorded_at=act.at))
        act.write("standard_kind.added", subject=row, facts={"name": row.name, "family": kind.family})
    return row


def _code(site: Site, kind: KindTyped) -> str:
    """Return a code that is the same for the same name at a site, so that a kind stands once."""
    named = hashlib.sha256(f"{kind.family} {kind.name.strip().casefold()}".encode()).hexdigest()
    return f"site-{site.pk}-{named[:16]}"


def _faults(kind: KindTyped, site: Site) -> list[Reason]:
    if kind.family not in IN_LOTS:
        return [Reason("Family: choose one that comes in lots.", "family")]
    reasons: list[Reason] = []
    if not kind.name.strip():
        reasons.append(Reason("Name: nothing is written. Write what stands on the label.", "name"))
    if not kind.unit.strip():
        reasons.append(Reason("Unit: nothing is written. Write the unit of its value, like NTU or mg/L.", "unit"))
    elif kind.family == "buffer" and kind.unit.strip() != "pH":
        reasons.append(Reason("Unit: a pH buffer is worth a pH; write pH.", "unit"))
    else:
        reasons.extend(unit_faults(kind.unit, kind.family))
    if StandardKind.objects.filter(code=_code(site, kind)).exists():
        reasons.append(Reason(f"Name: “{kind.name.strip()}” is written down at this site already.", "name"))
    reasons.extend(_nominal_faults(kind, site))
    reasons.extend(_table_faults(kind))
    return reasons


def unit_faults(typed: str, family: str) -> list[Reason]:
    """What is wrong with the unit written for a standard."""
    try:
        written_unit(typed, family)
    except ValueError as wrong:
        return [Reason(f"Unit: {wrong}", "unit")]
    return []


def _nominal_faults(kind: KindTyped, site: Site) -> list[Reason]:
    if not kind.nominal.strip():
        return []
    family = FAMILIES[kind.family]
    try:
        value = read_number(kind.nominal, decimal_mark=site.decimal_mark)
    except NotANumber as wrong:
        return [Reason(f"Nominal value: {wrong}", "nominal")]
    if not family.low <= value <= family.high:
        sentence = f"Nominal value: “{kind.nominal}” is no value of a {KINDS[kind.family]}; look at the unit."
        return [Reason(sentence, "nominal")]
    return []


def _table_faults(kind: KindTyped) -> list[Reason]:
    if not kind.table.strip():
        needs = kind.family == "buffer"
        sentence = "Table: a buffer is worth another pH at each temperature; write its table."
        return [Reason(sentence, "table")] if needs else []
    reasons = []
    try:
        table_from_rows(code="new", name=kind.name, rows=rows_of(kind.table), source="")
    except ValueError as wrong:
        reasons.append(Reason(f"Table: {wrong}", "table"))
    if not kind.source.strip():
        reasons.append(Reason("Source: nothing is written. Say where the values of the table stand.", "source"))
    return reasons
