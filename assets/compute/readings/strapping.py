"""Strapping tables: what a tank holds at each level, as somebody measured or calculated it; nothing is guessed beyond.

Between two rows the volume lies on the straight line, as is usual with strapping tables (common practice).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from assets.compute.numbers import NotANumber, read_number
from assets.compute.readings.balance import volume_at
from assets.compute.readings.facts import plain
from assets.compute.units import convert

LEAST_ROWS = 2
LEVEL, VOLUME = "m", "m³"
APART = re.compile(r"[;\t ]+")


class NotATable(ValueError):
    """Why a strapping table is not taken, in sentences, each naming its line."""

    def __init__(self, sentences: Sequence[str]) -> None:
        super().__init__(" ".join(sentences))
        self.sentences = tuple(sentences)


class OutOfTable(ValueError):
    """A level that the table does not reach to; the message says where it ends."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strapping:
    """A strapping table: rows of (level, volume) in `level_unit` and `volume_unit`, rising."""

    rows: tuple[tuple[Fraction, Fraction], ...]
    level_unit: str
    volume_unit: str

    @property
    def in_metres(self) -> tuple[tuple[Fraction, Fraction], ...]:
        """The rows as (m, m³), exact."""
        return tuple(
            (convert(level, self.level_unit, LEVEL), convert(volume, self.volume_unit, VOLUME))
            for level, volume in self.rows
        )

    def volume_of(self, level: Fraction, unit: str) -> Fraction:
        """Return the volume, in `volume_unit`, at a level in a unit of length; at a row, the row's own volume.

        Raises OutOfTable for a level below the first row or above the last one.
        """
        own = convert(level, unit, self.level_unit)
        first, last = self.rows[0][0], self.rows[-1][0]
        if not first <= own <= last:
            end, row = ("below the first", first) if own < first else ("above the last", last)
            raise OutOfTable(
                f"{plain(own)} {self.level_unit} is {end} row of the strapping table, {plain(row)} {self.level_unit}; "
                "nothing is guessed beyond it."
            )
        return volume_at(own, self.rows)


def read_table(text: str, *, decimal_mark: str = ",") -> tuple[tuple[str, str], ...]:
    """Return the rows typed, a level and a volume a line, apart by spaces, a tab or a semicolon; empty lines left out.

    Raises NotATable for a line that is not two numbers, fewer than two rows, or rows that do not rise: each level above
    the one before, each volume not below it.
    """
    lines = [(n, line.strip()) for n, line in enumerate(text.splitlines(), start=1) if line.strip()]
    wrong: list[str] = []
    rows: list[tuple[int, tuple[str, str]]] = []
    for n, line in lines:
        parts = tuple(part for part in APART.split(line) if part)
        sentence = _not_two_numbers(n, parts, decimal_mark)
        if sentence:
            wrong.append(sentence)
        else:
            rows.append((n, (parts[0], parts[1])))
    if not wrong and len(rows) < LEAST_ROWS:
        wrong.append("A strapping table has at least two rows, a level and a volume each.")
    if not wrong:
        wrong = _not_rising(rows, decimal_mark)
    if wrong:
        raise NotATable(wrong)
    return tuple(row for _, row in rows)


def _not_two_numbers(n: int, parts: Sequence[str], decimal_mark: str) -> str:
    if len(parts) != 2:
        return f"Line {n}: write a level and a volume, like \u201c0.50  12.3\u201d."
    for part in parts:
        try:
            read_number(part, decimal_mark=decimal_mark)
        except NotANumber as said:
            return f"Line {n}: {said}"
    return ""


def _not_rising(rows: Sequence[tuple[int, tuple[str, str]]], decimal_mark: str) -> list[str]:
    wrong = []
    for (_, one), (n, other) in pairwise(rows):
        before, now = (tuple(read_number(text, decimal_mark=decimal_mark) for text in row) for row in (one, other))
        if now[0] <= before[0]:
            wrong.append(f"Line {n}: level {other[0]} is not above {one[0]} before it; levels rise from row to row.")
        elif now[1] < before[1]:
            wrong.append(f"Line {n}: volume {other[1]} is less than {one[1]} before it; a tank holds more higher up.")
    return wrong


def as_lines(rows: Sequence[tuple[str, str]]) -> str:
    """Return rows in their one spelling, as they are kept: a row a line, its numbers as typed."""
    return "\n".join(f"{level}\t{volume}" for level, volume in rows)


def _kept(text: str) -> Fraction:
    return read_number(text, decimal_mark=",")


def strapping(text: str, level_unit: str, volume_unit: str) -> Strapping:
    """Return the table that `as_lines` wrote. Raises NotATable for a text that is none."""
    rows = read_table(text)
    return Strapping(
        rows=tuple((_kept(level), _kept(volume)) for level, volume in rows),
        level_unit=level_unit,
        volume_unit=volume_unit,
    )
