"""Strapping tables: written for a tank from a day on, with their source and the reason, and ended."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assets.compute.numbers import NotANumber, read_number
from assets.compute.readings.strapping import LEVEL, VOLUME, NotATable, as_lines, read_table
from assets.compute.units import UnknownUnit, same_quantity, unit_of
from assets.errors import Reason, Refusal
from assets.history import act
from assets.models import Person, Position, Site
from assets.permissions import SUPERVISORS, must_have_role
from maintenance.models import StrappingTable

KEEP = "keep strapping tables"


@dataclass(frozen=True, slots=True, kw_only=True)
class TableTyped:
    """A table as typed: a row a line, a level and a volume; share: standard uncertainty of a difference, %."""

    position: Position
    what: str
    level_unit: str
    volume_unit: str
    rows: str
    source: str
    why: str
    from_day: dt.date
    share: str = ""


def write_strapping(*, site: Site, typed: TableTyped, by: Person) -> StrappingTable:
    """Write a strapping table from a day on; the newest of a tag and level counts, the older ones stay on record."""
    must_have_role(by, site, SUPERVISORS, to=KEEP)
    faults = _faults(site, typed)
    rows: tuple[tuple[str, str], ...] = ()
    try:
        rows = read_table(typed.rows, decimal_mark=site.decimal_mark)
    except NotATable as wrong:
        faults += [Reason(sentence, "rows") for sentence in wrong.sentences]
    if faults:
        raise Refusal(faults)
    with act(site=site, by=by) as opened:
        table = opened.add(
            StrappingTable(
                position=typed.position,
                what=typed.what.strip(),
                level_unit=unit_of(typed.level_unit).code,
                volume_unit=unit_of(typed.volume_unit).code,
                rows=as_lines(rows),
                share=typed.share.strip(),
                source=typed.source.strip(),
                why=typed.why.strip(),
                from_day=typed.from_day,
                recorded_at=opened.at,
                recorded_by=by,
            )
        )
        facts = {
            "what": table.what,
            "rows": len(rows),
            "source": table.source,
            "why": table.why,
            "from": table.from_day,
        }
        opened.write("strapping.written", subject=typed.position, facts=facts)
    return table


def end_strapping(*, table: StrappingTable, from_day: dt.date, why: str, by: Person) -> StrappingTable:
    """Say that a tag's level has no strapping table from a day on; return the row that says so."""
    site = table.position.site
    must_have_role(by, site, SUPERVISORS, to=KEEP)
    if not why.strip():
        raise Refusal("Because: write why the table counts no more.", field="why")
    if from_day <= table.from_day:
        raise Refusal("It ends on a later day than the one from which it counts.", field="from_day")
    with act(site=site, by=by) as opened:
        row = opened.add(
            StrappingTable(
                position=table.position,
                what=table.what,
                why=why.strip(),
                from_day=from_day,
                recorded_at=opened.at,
                recorded_by=by,
            )
        )
        facts = {"what": row.what, "from": row.from_day, "why": row.why}
        opened.write("strapping.ended", subject=table.position, facts=facts)
    return row


def _faults(site: Site, typed: TableTyped) -> list[Reason]:
    faults: list[Reason] = []
    if typed.position.site_id != site.pk or typed.position.retired_at is not None:
        faults.append(Reason("Choose a tag of this site that is not retired.", "position"))
    for name, sort, words in (("level_unit", LEVEL, "a length"), ("volume_unit", VOLUME, "a volume")):
        try:
            code = unit_of(getattr(typed, name)).code
        except UnknownUnit as wrong:
            faults.append(Reason(str(wrong), name))
            continue
        if not same_quantity(code, sort):
            faults.append(Reason(f"{code} is no unit of {words}; choose one like {sort}.", name))
    said = (
        ("what", typed.what, "Say which level it is for, as the walk calls it."),
        ("source", typed.source, "Say where the table comes from: its maker, a survey, its number."),
        ("why", typed.why, "Because: write why it is written."),
    )
    faults += [Reason(sentence, name) for name, text, sentence in said if not text.strip()]
    try:
        if typed.share.strip() and read_number(typed.share, decimal_mark=site.decimal_mark) <= 0:
            faults.append(Reason("Write a number above zero.", "share"))
    except NotANumber as wrong:
        faults.append(Reason(str(wrong), "share"))
    return faults
