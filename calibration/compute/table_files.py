"""The kinds of solutions that come with the tool, read from the files that hold their values with their sources."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from calibration.compute.figures import sentence_case, shown
from calibration.compute.temperature_tables import TemperatureTable, read_buffer_tables, table_from_rows

LABELS = {"phthalate": "4.01", "phosphate": "6.86", "phosphate-7.00": "7.00", "carbonate": "10.01"}
"""What the trade prints on the bottle, where it is not the value at 25 degC to two places."""

CONDUCTIVITY = {
    ("KCl 0.001 mol/L", "as published, five-temperature set"): ("kcl-0.001-mol-l", "147"),
    ("KCl 0.01 mol/L", "as published, five-temperature set"): ("kcl-0.01-mol-l", "1413"),
    ("KCl 0.1 mol/L", "as published, five-temperature set"): ("kcl-0.1-mol-l", "12880"),
    ("KCl 1 mol/L", "as published, five-temperature set"): ("kcl-1-mol-l", "111300"),
    ("KCl 0.01 mol/kg", "molality"): ("kcl-0.01-mol-kg", "1408"),
    ("KCl 0.1 mol/kg", "molality"): ("kcl-0.1-mol-kg", "12825"),
    ("KCl 1.0 mol/kg", "molality"): ("kcl-1-mol-kg", "108620"),
}
"""Sets of the file that make a kind: code, and what is printed on the bottle (25 degC, trade)."""

ROOM = Fraction(25)

REDOX = {
    "ZoBell vs SHE": ("zobell", "ZoBell’s solution, against the standard hydrogen electrode", "428"),
    "Light vs SHE": ("light", "Light’s solution, against the standard hydrogen electrode", "675"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class KindRead:
    """A kind of solution as its file tells: `nominal` in `unit` at 25 degC; `table` None where only that is known."""

    code: str
    name: str
    nominal: str
    family: str
    quantity: str
    unit: str
    table: TemperatureTable | None


def read_buffers(text: str) -> list[KindRead]:
    """Return the pH buffers of a CSV text; raises ValueError when it cannot be read."""
    return [
        KindRead(
            code=code,
            name=sentence_case(table.name),
            nominal=LABELS.get(code) or shown(table.value(ROOM), 2),
            family="",
            quantity="pH",
            unit="",
            table=table,
        )
        for code, table in read_buffer_tables(text).items()
    ]


def read_conductivity(text: str) -> list[KindRead]:
    """Return the potassium chloride solutions of a CSV text, values in uS/cm; raises ValueError."""
    columns = ("solution", "basis", "temperature_c", "conductivity_us_cm", "source", "how_obtained")
    sets: dict[tuple[str, str], list[dict[str, str]]] = {}
    for row in _rows(text, columns):
        key = (row["solution"], row["basis"])
        # What was written from memory is not built in; nor are the sets that are there to be compared with.
        if key in CONDUCTIVITY and row["how_obtained"] == "read" and not row["source"].startswith("OIML"):
            sets.setdefault(key, []).append(row)
    return [
        KindRead(
            code=code,
            name=f"Potassium chloride, {name.removeprefix('KCl ')}",
            nominal=nominal,
            family="conductivity solution",
            quantity="conductivity",
            unit="µS/cm",
            table=_table(code, name, sets[name, basis], "conductivity_us_cm", "µS/cm"),
        )
        for (name, basis), (code, nominal) in CONDUCTIVITY.items()
        if (name, basis) in sets
    ]


def read_redox(text: str) -> list[KindRead]:
    """Return the redox solutions of a CSV text, values in mV; a single value makes no table. Raises ValueError."""
    items: dict[str, list[dict[str, str]]] = {}
    for row in _rows(text, ("item", "temperature_c", "potential_mv", "source", "how_obtained")):
        if row["item"] in REDOX and row["how_obtained"] == "read":
            items.setdefault(row["item"], []).append(row)
    return [
        KindRead(
            code=code,
            name=name,
            nominal=nominal,
            family="redox solution",
            quantity="redox potential",
            unit="mV",
            table=_table(code, name, items[item], "potential_mv", "mV") if len(items[item]) > 1 else None,
        )
        for item, (code, name, nominal) in REDOX.items()
        if item in items
    ]


def _rows(text: str, columns: Iterable[str]) -> list[dict[str, str]]:
    reader = csv.DictReader(io.StringIO(text))
    missing = set(columns) - set(reader.fieldnames or ())
    if missing:
        raise ValueError(f"The table of solutions lacks the column {', '.join(sorted(missing))}.")
    return list(reader)


def _table(code: str, name: str, rows: list[dict[str, str]], column: str, unit: str) -> TemperatureTable:
    table = table_from_rows(
        code=code, name=name, rows=[(row["temperature_c"], row[column]) for row in rows], source=rows[0]["source"]
    )
    return replace(table, unit=unit)


READERS: Mapping[str, Callable[[str], list[KindRead]]] = {
    "ph_buffers.csv": read_buffers,
    "kcl_conductivity.csv": read_conductivity,
    "orp.csv": read_redox,
}
"""The files of solutions by name, each with what reads it."""
