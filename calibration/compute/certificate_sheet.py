"""The results of a calibrator's certificates as a table of text: what a file holds, and what is wrong with it.

One row is one point of one certificate. A certificate's own facts (number, issuer, days) stand in each of its rows and
must agree. From as left (as found where nothing was adjusted) and the true value follow the corrections that the
certificate adds to a reading: true minus shown.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from assets.compute import csv_text
from assets.compute.numbers import NotANumber, read_number
from assets.compute.register_csv import Fault
from assets.compute.units import UnknownUnit, unit_of

NEEDED = ("serial", "certificate", "issuer", "calibrated on", "unit", "true", "as found")
OPTIONAL = ("valid until", "as left", "U", "k", "method", "accredited")
COLUMNS = (*NEEDED, *OPTIONAL)
SAME = ("issuer", "calibrated on", "valid until", "unit", "method", "accredited")
LONGEST = 120
MOST_ROWS = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One point: the true value, what was shown before and after, with the expanded uncertainty; texts as typed."""

    true: str
    as_found: str
    as_left: str
    uncertainty: str
    k: str
    correction: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateRows:
    """One certificate of one instrument, as its rows say; `first_row` is where it begins in the file."""

    serial: str
    number: str
    issuer: str
    calibrated_on: dt.date
    valid_until: dt.date | None
    unit: str
    method: str
    accredited: bool
    points: tuple[Point, ...]
    first_row: int

    @property
    def corrections(self) -> tuple[tuple[Fraction, Fraction], ...]:
        """(shown, correction to add) of each point, rising."""
        shown = [(read_number(one.as_left or one.as_found, decimal_mark=","), one.correction) for one in self.points]
        return tuple(sorted(shown))


@dataclass(slots=True)
class CertificateSheet:
    """A file read: its certificates as far as they can be understood, and every fault with its row and column."""

    certificates: list[CertificateRows] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def rows_of_csv(text: str) -> list[list[str]]:
    """Return every row of a CSV text, the empty ones too, their cells trimmed. Raises `csv_text.UnclosedCell`."""
    begun = text.lstrip("\r\n")
    above = text[: len(text) - len(begun)].count("\n")  # what stands between cells is found from the heading
    try:
        rows = csv_text.rows_of(begun)
    except csv_text.UnclosedCell as unclosed:
        raise csv_text.UnclosedCell(unclosed.row + above) from None
    return [[]] * above + [[cell.strip() for cell in row] for row in rows]


def read_certificates(rows: Sequence[Sequence[str]], *, today: dt.date, decimal_mark: str = ".") -> CertificateSheet:
    """Read the rows of a file, the first that holds anything being the heading; empty rows are passed over.

    A fault names its row as a spreadsheet numbers it. Every fault is collected, nothing is guessed.
    """
    sheet = CertificateSheet()
    held = [(number, row) for number, row in enumerate(rows, 1) if any(cell.strip() for cell in row)]
    if not held:
        sheet.faults.append(
            Fault(1, "", "The file is empty.", f"Its first row names the columns: {', '.join(NEEDED)}.")
        )
        return sheet
    (top, first), *others = held
    heading = [cell.strip() for cell in first]
    lacking = [name for name in NEEDED if name not in heading]
    for name in heading:
        if name and name not in COLUMNS:
            near = " or ".join(one for one in COLUMNS if one.casefold() == name.casefold()) or ", ".join(COLUMNS)
            sheet.faults.append(Fault(top, name, "This column is not known.", f"Known are {near}."))
    for name in lacking:
        sheet.faults.append(Fault(top, name, "This column is missing.", "Add it to the heading."))
    if len(others) > MOST_ROWS:
        sheet.faults.append(
            Fault(top, "", f"The file has {len(others)} rows.", f"At most {MOST_ROWS} are read at once.")
        )
    if sheet.faults:
        return sheet
    _read(sheet, heading, others, today, decimal_mark)
    return sheet


def _read(
    sheet: CertificateSheet, heading: list[str], rows: Iterable[tuple[int, Sequence[str]]], today: dt.date, mark: str
) -> None:
    grouped: dict[tuple[str, str], list[tuple[int, dict[str, str]]]] = {}
    for number, row in rows:
        cells = {name: (row[place].strip() if place < len(row) else "") for place, name in enumerate(heading)}
        faults = list(_row_faults(number, cells, today, mark))
        sheet.faults += faults
        if not faults:
            grouped.setdefault((cells["serial"].upper(), cells["certificate"].upper()), []).append((number, cells))
    for members in grouped.values():
        faults = list(_disagreements(members, mark))
        sheet.faults += faults
        if not faults:
            sheet.certificates.append(_certificate(members, mark))


def _row_faults(number: int, cells: Mapping[str, str], today: dt.date, mark: str) -> Iterable[Fault]:
    for name in NEEDED:
        if not cells.get(name):
            yield Fault(number, name, "Nothing is written.", "Write what stands on the certificate.")
    for name, text in cells.items():
        if len(text) > LONGEST:
            yield Fault(number, name, f"{len(text)} characters are too long.", f"At most {LONGEST} are kept.")
    yield from _number_faults(number, cells, mark)
    yield from _day_faults(number, cells, today)
    yield from _unit_faults(number, cells)
    if bool(cells.get("U")) != bool(cells.get("k")):
        yield Fault(number, "k", "An expanded uncertainty and its k belong together.", "Write both or neither.")
    if cells.get("accredited", "") not in {"", "yes", "no"}:
        yield Fault(number, "accredited", f"“{cells['accredited']}” is neither yes nor no.", "Write yes or no.")


def _unit_faults(number: int, cells: Mapping[str, str]) -> Iterable[Fault]:
    try:
        unit_of(cells.get("unit") or "%")
    except UnknownUnit as unknown:
        yield Fault(number, "unit", str(unknown), "")


def _number_faults(number: int, cells: Mapping[str, str], mark: str) -> Iterable[Fault]:
    for name in ("true", "as found", "as left", "U", "k"):
        text = cells.get(name, "")
        if not text:
            continue
        try:
            value = read_number(text, decimal_mark=mark)
        except NotANumber as wrong:
            yield Fault(number, name, str(wrong), "")
            continue
        if name in {"U", "k"} and value <= 0:
            yield Fault(number, name, f"“{text}” is not above zero.", "Write it as on the certificate, without a sign.")


def _day_faults(number: int, cells: Mapping[str, str], today: dt.date) -> Iterable[Fault]:
    days: dict[str, dt.date] = {}
    for name in ("calibrated on", "valid until"):
        text = cells.get(name, "")
        if not text:
            continue
        try:
            days[name] = dt.date.fromisoformat(text)
        except ValueError:
            yield Fault(number, name, f"“{text}” is no day.", "Write it like 2026-11-25.")
    made = days.get("calibrated on")
    if made is not None and made > today:
        yield Fault(number, "calibrated on", f"{made} has not come yet.", "Write the day on the certificate.")
    if made is not None and "valid until" in days and days["valid until"] < made:
        yield Fault(number, "valid until", "This day is before the calibration.", "Look at the certificate again.")


def _disagreements(members: Sequence[tuple[int, Mapping[str, str]]], mark: str) -> Iterable[Fault]:
    """Two rows of one certificate that say different things of it, or the same point twice."""
    _, first = members[0]
    seen: set[Fraction] = set()
    for number, cells in members:
        for name in SAME:
            if cells.get(name, "") != first.get(name, ""):
                said = f"“{cells.get(name, '')}” differs from “{first.get(name, '')}” in its first row."
                yield Fault(number, name, said, "All its rows say the same.")
        true = read_number(cells["true"], decimal_mark=mark)
        if true in seen:
            yield Fault(number, "true", f"The point {cells['true']} stands here twice.", "Write each point once.")
        seen.add(true)


def _certificate(members: Sequence[tuple[int, Mapping[str, str]]], mark: str) -> CertificateRows:
    number, first = members[0]
    until = first.get("valid until", "")
    return CertificateRows(
        serial=first["serial"],
        number=first["certificate"],
        issuer=first["issuer"],
        calibrated_on=dt.date.fromisoformat(first["calibrated on"]),
        valid_until=dt.date.fromisoformat(until) if until else None,
        unit=unit_of(first["unit"]).code,
        method=first.get("method", ""),
        accredited=first.get("accredited", "") == "yes",
        points=tuple(_point(cells, mark) for _, cells in members),
        first_row=number,
    )


def _point(cells: Mapping[str, str], mark: str) -> Point:
    shown = cells.get("as left", "") or cells["as found"]
    correction = read_number(cells["true"], decimal_mark=mark) - read_number(shown, decimal_mark=mark)
    return Point(
        true=cells["true"],
        as_found=cells["as found"],
        as_left=cells.get("as left", ""),
        uncertainty=cells.get("U", ""),
        k=cells.get("k", ""),
        correction=correction,
    )
