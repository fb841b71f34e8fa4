"""The tables of solutions come in from the files that hold them with their sources."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from assets import history
from assets.errors import Refusal
from assets.history import Act
from assets.models import Person, Site
from calibration.compute.figures import plain
from calibration.compute.table_files import READERS, KindRead
from calibration.models import StandardKind, StandardTable

TABLES = Path(__file__).resolve().parents[2] / "fixtures" / "tables"


def own_files() -> dict[str, str]:
    """Return the texts of the files that come with the tool, by name."""
    return {name: (TABLES / name).read_text(encoding="utf-8") for name in READERS}


def load_standard_tables(*, files: Mapping[str, str], by: Person | None) -> int:
    """Take in the solutions of CSV texts by file name; return how many kinds and tables were new.

    Repeating it changes nothing. A kind whose figures changed gets a further version: checks signed with the old one
    keep it. Raises Refusal when a text cannot be read.
    """
    try:
        kinds = [kind for name, text in files.items() for kind in READERS[name](text)]
    except ValueError as wrong:
        raise Refusal(str(wrong)) from wrong
    with history.act(site=None, by=by) as act:
        made = [said for kind in kinds if (said := _take_in(act, kind))]
        if made:
            subject = StandardKind.objects.get(code=made[0].split()[0])
            act.write("standard_tables.loaded", subject=subject, facts={"tables": made})
    return len(made)


def know_the_solutions(started: Act, site: Site) -> None:
    """Take in the tables that come with the tool when a site is started, so that its lots can be registered."""
    load_standard_tables(files=own_files(), by=started.by)


def _take_in(act: Act, read: KindRead) -> str:
    """Add what is not here yet of one kind; return it in words, empty when nothing was new."""
    kind = StandardKind.objects.filter(code=read.code).first()
    new = kind is None
    if kind is None:
        kind = act.add(
            StandardKind(
                code=read.code,
                name=read.name,
                nominal=read.nominal,
                family=read.family,
                quantity=read.quantity if read.family else "",
                unit=read.unit,
            )
        )
    if read.table is None:
        return read.code if new else ""
    rows = "\n".join(f"{_ascii(plain(t))} {_ascii(plain(value))}" for t, value in read.table.rows)
    newest = kind.tables.order_by("-version").first()
    if newest is not None and newest.rows == rows and newest.source == read.table.source:
        return ""
    version = 1 if newest is None else newest.version + 1
    act.add(StandardTable(kind=kind, version=version, source=read.table.source, rows=rows, recorded_at=act.at))
    return f"{read.code} {version}"


def _ascii(text: str) -> str:
    return text.replace("\u2212", "-")
