"""What was written in a signed set of any method, as its record shows it: single figures, and tables row by row."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from calibration.compute.figures import sentence_case
from calibration.compute.method import AnyMethod
from calibration.compute.methods import METHODS
from calibration.compute.typed import Field, fields_for
from calibration.models import Entry, Outcome, Point, ReadingSet
from calibration.reads.choices import standard_words
from calibration.reads.stored import read_lot

OF_A_ROW = re.compile(r"(.+)_([0-9]+)")


@dataclass(frozen=True, slots=True)
class Cell:
    """One thing as written or worked out; `url` leads to the standard, where it is one."""

    label: str
    text: str
    url: str = ""


@dataclass(frozen=True, slots=True)
class Grid:
    """The rows of one kind ('Point'): a heading a column, then for each row its name and its cells."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, tuple[Cell, ...]], ...]


@dataclass(frozen=True, slots=True)
class Written:
    """Everything that was written in one set, in the order it was asked."""

    single: tuple[Cell, ...]
    grids: tuple[Grid, ...]


def written_in(of: ReadingSet, outcome: Outcome | None) -> Written:
    """Return what was written in a set, with the figures that belong to its rows ('error_2'). Reads its rows."""
    method = METHODS[of.check_of.method]
    standards = {point.field: point for point in of.points.all()}
    entries = {entry.quantity: entry for entry in of.entries.all()}
    cells: dict[str, Cell] = {}
    fields = [one for one in fields_for(method, of.kind) if one.name != "hold"]
    for one in fields:
        cell = _cell(one, standards, entries)
        if cell is not None:
            cells[one.name] = cell
    single = tuple(cells[one.name] for one in fields if not one.row and one.name in cells)
    return Written(single, tuple(_grids(method, fields, cells, _figures(outcome))))


def _cell(one: Field, standards: Mapping[str, Point], entries: Mapping[str, Entry]) -> Cell | None:
    label = sentence_case(one.ask.label)
    if one.name in standards:
        point = standards[one.name]
        url = point.lot.get_absolute_url() if point.lot is not None else ""
        return Cell(label, standard_words(read_lot(point.lot_copy)), url)
    if one.name not in entries:
        return None
    entry = entries[one.name]
    if one.ask.kind == "choice":
        return Cell(label, dict(one.ask.choices).get(entry.text, entry.text))
    text = entry.text.replace("-", "\u2212") if one.ask.kind == "number" else entry.text
    return Cell(label, f"{text} {entry.unit}".strip())


def _figures(outcome: Outcome | None) -> dict[str, dict[str, str]]:
    """Return the figures of rows by their name and the number of the row: error -> {'2': '+0.05 kPa'}."""
    found: dict[str, dict[str, str]] = {}
    for figure in outcome.figures.all() if outcome is not None else ():
        named = OF_A_ROW.fullmatch(figure.name)
        if named is not None:
            found.setdefault(named[1], {})[named[2]] = f"{figure.shown} {figure.unit}".strip()
    return found


def _grids(
    method: AnyMethod, fields: list[Field], cells: Mapping[str, Cell], figures: Mapping[str, Mapping[str, str]]
) -> Iterator[Grid]:
    for each in dict.fromkeys(one.ask.each for one in fields if one.row):
        mine = [one for one in fields if one.ask.each == each]
        rows = [row for row in dict.fromkeys(one.row for one in mine) if _used(row, mine, cells)]
        asked = [
            one for one in dict.fromkeys(_name(one) for one in mine) if any(f"{row}{one}" in cells for row in rows)
        ]
        numbers = {row: next(str(one.point or "") for one in mine if one.row == row) for row in rows}
        added = [name for name, by_row in figures.items() if set(by_row) & set(numbers.values())]
        if not rows:
            continue
        labels = {_name(one): sentence_case(one.ask.label) for one in mine}
        added_words = [name.replace("_", " ").capitalize() for name in added]
        legend = method.legends.get(each, each)
        yield Grid(
            legend,
            (*(labels[name] for name in asked), *added_words),
            tuple(
                (
                    numbers[row] or legend,
                    (
                        *(cells.get(f"{row}{name}", Cell(labels[name], "")) for name in asked),
                        *(
                            Cell(words, figures[name].get(numbers[row], ""))
                            for name, words in zip(added, added_words, strict=True)
                        ),
                    ),
                )
                for row in rows
            ),
        )


def _name(one: Field) -> str:
    return one.name.removeprefix(one.row)


def _used(row: str, fields: list[Field], cells: Mapping[str, Cell]) -> bool:
    return any(one.row == row and one.ask.kind != "standard" and one.name in cells for one in fields)
