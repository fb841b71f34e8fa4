"""What a buffer is worth at a temperature: tables of exact values, linear between their rows."""

from __future__ import annotations

import csv
import io
from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from operator import itemgetter

from calibration.compute.figures import plain


class OutsideTable(ValueError):
    """The temperature lies outside the table; the message says how far the table goes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """The value at one temperature and the two rows it lies between (twice the same row when it is a row)."""

    value: Fraction
    below: tuple[Fraction, Fraction]
    above: tuple[Fraction, Fraction]

    @property
    def is_row(self) -> bool:
        """True when the temperature is one of the table's own."""
        return self.below == self.above


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureTable:
    """The values of one standard against temperature: rows of (degC, value), rising in temperature.

    Raises ValueError when there is no row, or when temperatures repeat or fall.
    """

    code: str
    name: str
    rows: tuple[tuple[Fraction, Fraction], ...]
    source: str
    unit: str = "pH"

    def __post_init__(self) -> None:
        """Refuse a table that could give two values for one temperature."""
        temperatures = [temperature for temperature, _ in self.rows]
        if not temperatures:
            raise ValueError(f"Table {self.code}: no rows; write at least one temperature with its value.")
        if any(later <= earlier for earlier, later in zip(temperatures, temperatures[1:], strict=False)):
            raise ValueError(f"Table {self.code}: temperatures must rise from row to row, each written once.")

    @property
    def low(self) -> Fraction:
        """The lowest temperature of the table, degC."""
        return self.rows[0][0]

    @property
    def high(self) -> Fraction:
        """The highest temperature of the table, degC."""
        return self.rows[-1][0]

    def at(self, temperature: Fraction) -> Worth:
        """Return the value at a temperature in degC, linear between the two rows around it.

        Linear interpolation of the 5 degC tables errs by less than 0.003 pH. Raises OutsideTable beyond the rows:
        nothing is extended.
        """
        if not self.low <= temperature <= self.high:
            raise OutsideTable(
                f"{plain(temperature)} °C is outside the table of {self.name}, "
                f"which goes from {plain(self.low)} to {plain(self.high)} °C."
            )
        place = bisect_left(self.rows, temperature, key=itemgetter(0))
        above = self.rows[place]
        if above[0] == temperature:
            return Worth(value=above[1], below=above, above=above)
        below = self.rows[place - 1]
        share = (temperature - below[0]) / (above[0] - below[0])
        return Worth(value=below[1] + (above[1] - below[1]) * share, below=below, above=above)

    def value(self, temperature: Fraction) -> Fraction:
        """Return the value at a temperature in degC; raises OutsideTable."""
        return self.at(temperature).value


def table_from_rows(*, code: str, name: str, rows: Iterable[tuple[str, str]], source: str) -> TemperatureTable:
    """Build a table from typed rows (degC, value), exact; raises ValueError with the row that cannot be read."""
    exact: list[tuple[Fraction, Fraction]] = []
    for temperature, value in rows:
        try:
            exact.append((Fraction(temperature), Fraction(value)))
        except (ValueError, ZeroDivisionError):
            raise ValueError(
                f"Table {code}: row “{temperature}, {value}” is not a temperature and a value; write it like 25, 7.000."
            ) from None
    return TemperatureTable(code=code, name=name, rows=tuple(sorted(exact)), source=source)


def read_buffer_tables(text: str) -> dict[str, TemperatureTable]:
    """Read the tables of a CSV text with the columns buffer, composition, temperature_c, ph, source, status.

    Returns the tables by code. Raises ValueError when a column is missing or a row cannot be read.
    """
    grouped: dict[str, list[dict[str, str]]] = {}
    reader = csv.DictReader(io.StringIO(text))
    missing = {"buffer", "composition", "temperature_c", "ph", "source"} - set(reader.fieldnames or ())
    if missing:
        raise ValueError(f"The table of buffers lacks the column {', '.join(sorted(missing))}.")
    for row in reader:
        grouped.setdefault(row["buffer"], []).append(row)
    return {
        code: table_from_rows(
            code=code,
            name=rows[0]["composition"],
            rows=[(row["temperature_c"], row["ph"]) for row in rows],
            source=rows[0]["source"],
        )
        for code, rows in grouped.items()
    }
