"""The tables of the buffers come in from the file that holds them with their sources."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from assets import history
from assets.errors import Refusal
from assets.history import Act
from assets.models import Person, Site
from calibration.compute.figures import plain, shown
from calibration.compute.temperature_tables import TemperatureTable as Table
from calibration.compute.temperature_tables import read_buffer_tables
from calibration.models import StandardKind, StandardTable

LABELS = {"phthalate": "4.01", "phosphate": "6.86", "phosphate-7.00": "7.00", "carbonate": "10.01"}
"""What the trade prints on the bottle, where it is not the value at 25 degC to two places."""

ROOM = Fraction(25)
TABLES = Path(__file__).resolve().parents[2] / "fixtures" / "tables" / "ph_buffers.csv"


def load_buffer_tables(*, text: str, by: Person | None) -> int:
    """Take in the buffers of a CSV text; return how many tables were new. Repeating it changes nothing.

    A kind whose figures changed gets a further version: checks signed with the old one keep it.
    Raises Refusal when the text cannot be read.
    """
    try:
        tables = read_buffer_tables(text)
    except ValueError as wrong:
        raise Refusal(str(wrong)) from wrong
    with history.act(site=None, by=by) as act:
        made = [row for table in tables.values() if (row := _table(act, table)) is not None]
        if made:
            act.write(
                "buffer_tables.loaded",
                subject=made[0].kind,
                facts={"tables": [f"{row.kind.code} {row.version}" for row in made]},
            )
    return len(made)


def know_the_buffers(started: Act, site: Site) -> None:
    """Take in the tables that come with the tool when a site is started, so that its lots can be registered."""
    load_buffer_tables(text=TABLES.read_text(encoding="utf-8"), by=started.by)


def _table(act: Act, table: Table) -> StandardTable | None:
    kind = StandardKind.objects.filter(code=table.code).first()
    if kind is None:
        name = table.name[:1].upper() + table.name[1:]
        kind = act.add(StandardKind(code=table.code, name=name, nominal=_label(table)))
    rows = "\n".join(f"{_ascii(temperature)} {_ascii(value)}" for temperature, value in table.rows)
    newest = kind.tables.order_by("-version").first()
    if newest is not None and newest.rows == rows and newest.source == table.source:
        return None
    version = 1 if newest is None else newest.version + 1
    return act.add(StandardTable(kind=kind, version=version, source=table.source, rows=rows, recorded_at=act.at))


def _ascii(value: Fraction) -> str:
    return plain(value).replace("\u2212", "-")


def _label(table: Table) -> str:
    return LABELS.get(table.code) or shown(table.value(ROOM), 2)
