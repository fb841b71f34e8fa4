"""Figures from outside the project: read with their source, compared, and counted for the end of the run."""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

FIXTURES = Path(__file__).parents[1] / "fixtures"
WORKED, TABLES = FIXTURES / "worked", FIXTURES / "tables"


@dataclass(frozen=True, slots=True)
class Published:
    """One figure: the file and row it stands in, its value and tolerance, where it comes from and how it was had."""

    file: str
    row: str
    value: float
    tolerance: float
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Example:
    """A worked example of several figures: its inputs, and each figure by name."""

    file: str
    inputs: Mapping[str, Any]
    figures: Mapping[str, Published]
    source: str
    words: Mapping[str, str] = field(default_factory=dict)


@cache
def example(name: str) -> Example:
    """Return the example in `worked/metrology/<name>.json`, its figures by name; those that are words apart."""
    file = f"worked/metrology/{name}.json"
    kept = json.loads((FIXTURES / file).read_text())
    numbers = {one["name"]: one for one in kept["expected"] if isinstance(one["value"], int | float)}
    words = {one["name"]: str(one["value"]) for one in kept["expected"] if one["name"] not in numbers}
    return Example(
        file=file,
        inputs=kept["inputs"],
        figures={
            key: Published(file, key, one["value"], one.get("tol_abs") or 0, kept["source"], one["basis"])
            for key, one in numbers.items()
        },
        source=kept["source"],
        words=words,
    )


@cache
def rows(file: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a table under `fixtures/`, every cell as text."""
    with (FIXTURES / file).open(newline="") as open_file:
        return tuple(csv.DictReader(open_file))


def of_row(file: str, row: Mapping[str, str], *, key: str, value: str, tolerance: float | str) -> Published:
    """Return the figure in column `value` of a row; `key` is the column that names the row."""
    return Published(
        file,
        row[key],
        float(row[value]),
        float(tolerance),
        row["source"],
        row.get("how_obtained", row.get("status", "")),
    )


class Reproduced:
    """Compares with published figures and keeps count; ask for it as the fixture `reproduced`."""

    def __init__(self) -> None:
        self.counted: list[tuple[str, str]] = []

    def __call__(self, got: float | Fraction, figure: Published) -> None:
        """Fail unless `got` lies within the figure's own tolerance; a half of the last place, so never widened."""
        slack = 1e-12 * max(1.0, abs(figure.value))  # the text of a decimal as a double
        assert abs(float(got) - figure.value) <= figure.tolerance + slack, (
            f"{figure.file}, {figure.row}: {float(got)!r}, not {figure.value} ± {figure.tolerance}; {figure.source}"
        )
        self.counted.append((figure.file, figure.row))

    def word(self, got: str, expected: str, *, file: str, row: str) -> None:
        """Compare a published decision, such as pass or fail, and count it."""
        assert got == expected, f"{file}, {row}: {got!r} instead of {expected!r}"
        self.counted.append((file, row))
