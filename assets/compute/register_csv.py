"""The plant's register as a table of text: how a file is read, what is wrong with its form, how it is written.

Only what a file says by itself is judged here; what it means for the plant is judged beside the plant's own rows.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from assets.compute import csv_text
from assets.compute.numbers import NotANumber, read_number
from assets.compute.register_cells import COLUMNS, as_text
from assets.compute.units import UnknownUnit, same_quantity, unit_of

NEEDED = ("tag", "area", "service", "does", "matters for")
LONGEST = {
    **{"tag": 24, "area": 80, "service": 120, "quantity": 40, "low": 24, "high": 24},
    **{"kind": 60, "serial": 60, "model": 80},
}
MOST_ROWS = 5000
TAG = re.compile(r"[A-Z]{1,6}[-_/.]?[A-Z0-9]{0,8}(?:[-_/.][A-Z0-9]{1,8}){0,3}", re.ASCII)
LETTER_FOR_DIGIT = re.compile(r"\d[OIL]\b|\d[OIL]\d", re.ASCII)
# Name and unit end in a letter, so that a cell of nothing but spaces is refused at once.
LIMIT = re.compile(
    r"(?:(?P<name>[^;()]*?[^;()\s])\s+)?(?P<side>high|low)\s+(?P<value>[-+\u2212]?\d\S*)\s+"
    r"(?P<unit>[^()\s](?:[^()]*?[^()\s])?)\s*\((?P<source>.+)\)"
)
# What spreadsheets write into a cell, and into a CSV, in place of what they could not work out.
ERRORS = ("#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#CALC!", "#GETTING_DATA")
SLASHED = re.compile(r"(\d{1,2})[/.](\d{1,2})[/.](\d{4})", re.ASCII)
DOES = {"measures": "measures", "moves": "moves"}
MATTERS = ("safety", "compliance", "production", "other")
USES = ("paces", "permits", "trips", "reports", "computes")
YES = {"yes": True, "no": False, "": False}


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a file: the row as a spreadsheet numbers it (heading = 1), the column, what, what is right."""

    row: int
    column: str
    what: str
    right: str

    def __str__(self) -> str:
        where = f"Row {self.row}, {self.column}" if self.column else f"Row {self.row}"
        return f"{where}: {self.what} {self.right}"


@dataclass(frozen=True, slots=True)
class UseText:
    """A use as written: the verb, and the tag or words it acts on."""

    use: str
    on: str


@dataclass(frozen=True, slots=True)
class LimitText:
    """A limit as written."""

    name: str
    side: str
    value: str
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a register, understood."""

    number: int
    cells: Mapping[str, str]
    unit: str = ""
    compliance_point: bool = False
    fitted_from: dt.datetime | None = None
    fitted_as_day: bool = False
    uses: tuple[UseText, ...] = ()
    limits: tuple[LimitText, ...] = ()

    def __getitem__(self, column: str) -> str:
        """Return a cell's text."""
        return self.cells[column]

    @property
    def tag(self) -> str:
        """The tag in capitals."""
        return self.cells["tag"].upper()


@dataclass(slots=True)
class Sheet:
    """A file read: its rows as far as they can be understood, its raw rows, and every fault of its form."""

    rows: list[Row] = field(default_factory=list)
    raw: dict[int, list[str]] = field(default_factory=dict)
    heading: list[str] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def read_sheet(text: str, *, zone: ZoneInfo, decimal_mark: str, now: dt.datetime) -> Sheet:
    """Read a register: comma or semicolon between cells, found from the heading.

    text: the decoded file; zone: of the site; decimal_mark: '.' or ','; now: aware, no fitting may lie after it.
    Every fault is collected. A row with a fault stands in `rows` too, so that what else is wrong with it can be named.
    """
    try:
        lines = csv_text.rows_of(text)
    except csv_text.UnclosedCell as unclosed:
        wrong = "It has a cell that does not end."
        fault = Fault(unclosed.row, "", wrong, "Look for a quote that is opened and never closed.")
        return Sheet(faults=[fault])
    return read_rows(lines, zone=zone, decimal_mark=decimal_mark, now=now)


def read_rows(
    lines: Sequence[list[str]], *, zone: ZoneInfo, decimal_mark: str, now: dt.datetime, known: Iterable[Fault] = ()
) -> Sheet:
    """Read the rows of a register, the heading first, whatever file they came from; else as `read_sheet`.

    known: what was found wrong with cells before; nothing more is said of those.
    """
    sheet = Sheet()
    _read_rows(sheet, lines, _Reader(zone, decimal_mark, now, sheet))
    told = {(fault.row, fault.column) for fault in known}
    sheet.faults = [*known, *(fault for fault in sheet.faults if (fault.row, fault.column) not in told)]
    return sheet


def _read_rows(sheet: Sheet, lines: Sequence[list[str]], reader: _Reader) -> None:
    if not lines or not any(cell.strip() for cell in lines[0]):
        what = "The first row is empty." if any(map(any, lines)) else "The file is empty."
        sheet.faults.append(Fault(1, "", what, "Its first row names the columns, the first of them tag."))
        return
    sheet.heading = [" ".join(cell.split()).casefold() for cell in lines[0]]
    if not _heading_is_right(sheet) or not _is_short(lines, sheet):
        return
    for number, cells in enumerate(lines[1:], 2):
        if any(cell.strip() for cell in cells):
            sheet.raw[number] = cells
            reader.read(number, cells)
    if not sheet.raw:
        sheet.faults.append(Fault(2, "", "The file has a heading and no rows.", "Write one row for each tag."))
    _twice(sheet)


def _heading_is_right(sheet: Sheet) -> bool:
    for name in sheet.heading:
        if name not in COLUMNS:
            sheet.faults.append(
                Fault(
                    1,
                    name,
                    f"\u201c{name}\u201d is no column of a register.",
                    f"The columns are: {', '.join(COLUMNS)}.",
                )
            )
        elif sheet.heading.count(name) > 1 and name not in {fault.column for fault in sheet.faults}:
            sheet.faults.append(Fault(1, name, f"The column {name} stands here twice.", "Leave one of them out."))
    for name in NEEDED:
        if name not in sheet.heading:
            sheet.faults.append(Fault(1, name, f"The column {name} is missing.", "Every register has it."))
    return not sheet.faults


def _is_short(lines: Sequence[list[str]], sheet: Sheet) -> bool:
    if len(lines) - 1 > MOST_ROWS:
        sheet.faults.append(
            Fault(MOST_ROWS + 2, "", f"The file has {len(lines) - 1} rows.", f"Take in {MOST_ROWS} at a time at most.")
        )
    return not sheet.faults


def _twice(sheet: Sheet) -> None:
    """Name tags and serials that stand in two rows."""
    for what, key in (("tag", lambda r: r.tag), ("serial", lambda r: (r["kind"].casefold(), r["serial"].casefold()))):
        first: dict[object, int] = {}
        for row in sheet.rows:
            if not row[what]:
                continue
            before = first.setdefault(key(row), row.number)
            if before != row.number:
                sheet.faults.append(
                    Fault(row.number, what, f"{row[what]} stands in row {before} too.", "Take one of them out.")
                )


@dataclass(slots=True)
class _Reader:
    """Reads one row after another, collecting faults."""

    zone: ZoneInfo
    decimal_mark: str
    now: dt.datetime
    sheet: Sheet
    number: int = 0

    def unreadable(self, column: str, wrong: ValueError, *, right: str) -> None:
        """Name what a reader refused; its advice after the semicolon, if it gives some, is what would be right."""
        what, _, advice = str(wrong).partition("; ")
        self.fault(column, f"{what.removesuffix('.')}.", f"{advice[:1].upper()}{advice[1:]}" if advice else right)

    def fault(self, column: str, what: str, right: str) -> None:
        self.sheet.faults.append(Fault(self.number, column, what, right))

    def read(self, number: int, cells: list[str]) -> None:
        self.number = number
        if len(cells) > len(self.sheet.heading):
            extra = len(cells) - len(self.sheet.heading)
            self.fault(
                "",
                f"It has {extra} cell{'s' if extra > 1 else ''} more than the heading.",
                "Put quotes around a cell that holds the mark.",
            )
            return
        named = dict(zip(self.sheet.heading, (as_text(cell) for cell in cells), strict=False))
        text = {column: named.get(column, "") for column in COLUMNS}
        for column in COLUMNS:
            if text[column].upper() in ERRORS:
                what = f"\u201c{text[column]}\u201d is what a spreadsheet writes where it could not work something out."
                self.fault(column, what, "Write what belongs here, or leave it empty.")
        self._words(text)
        unit = self._unit(text)
        self._range(text)
        fitted, as_day = self._fitted(text)
        uses, limits = self._uses(text), self._limits(text, unit)
        reported = YES.get(text["compliance point"].casefold(), False)
        self.sheet.rows.append(Row(number, text, unit, reported, fitted, as_day, uses, limits))

    def _words(self, text: dict[str, str]) -> None:
        for column in NEEDED:
            if not text[column]:
                self.fault(column, f"{column.capitalize()} is empty.", "Every row has one.")
        for column, most in LONGEST.items():
            if len(text[column]) > most:
                self.fault(column, f"It has {len(text[column])} letters.", f"{most} are the most.")
        self._tag(text["tag"])
        self._one_of(text, "does", DOES)
        self._one_of(text, "matters for", MATTERS)
        if text["compliance point"].casefold() not in YES:
            self.fault("compliance point", f"\u201c{text['compliance point']}\u201d is no answer.", "Write yes or no.")

    def _tag(self, typed: str) -> None:
        tag = typed.upper()
        if tag and not TAG.fullmatch(tag):
            self.fault("tag", f"\u201c{typed}\u201d is no tag.", "Write it like AIT-310, P-2 or V-721.")
        elif LETTER_FOR_DIGIT.search(tag):
            self.fault(
                "tag", f"\u201c{typed}\u201d has a letter where a digit belongs.", "Write 0 for O and 1 for I or L."
            )

    def _one_of(self, text: dict[str, str], column: str, words: Iterable[str]) -> None:
        typed = text[column]
        text[column] = typed.casefold()
        if typed and text[column] not in words:
            self.fault(column, f"\u201c{typed}\u201d is none of the words here.", f"Write {' or '.join(words)}.")

    def _unit(self, text: dict[str, str]) -> str:
        if not text["unit"]:
            if text["does"] == "measures":
                self.fault(
                    "unit", "A position that measures has no unit.", "Write the one it reads in, like mg/L or NTU."
                )
            return ""
        try:
            return unit_of(text["unit"]).code
        except UnknownUnit as wrong:
            self.unreadable("unit", wrong, right="Write a unit of the list; the size of letters counts.")
            return ""

    def _range(self, text: dict[str, str]) -> None:
        ends = []
        for column in ("low", "high"):
            try:
                ends.append(read_number(text[column], decimal_mark=self.decimal_mark) if text[column] else None)
            except NotANumber as wrong:
                self.unreadable(column, wrong, right="Write the end of what the position can show.")
                ends.append(None)
        if ends[0] is not None and ends[1] is not None and ends[0] >= ends[1]:
            self.fault("high", f"{text['high']} is not above {text['low']}.", "The high end is above the low end.")

    def _fitted(self, text: dict[str, str]) -> tuple[dt.datetime | None, bool]:
        for column, other in (("kind", "serial"), ("serial", "kind")):
            if text[column] and not text[other]:
                self.fault(other, f"It is empty, but {column} is written.", "An asset has a kind and a serial.")
        typed = text["fitted from"]
        if not typed:
            return None, False
        if not text["serial"]:
            self.fault("fitted from", "A day without an asset.", "Write kind and serial, or leave the day out.")
        return self._moment(typed)

    def _moment(self, typed: str) -> tuple[dt.datetime | None, bool]:
        as_day = len(typed) <= len("2026-11-25")
        try:
            naive = dt.datetime.strptime(typed.replace("T", " "), "%Y-%m-%d" if as_day else "%Y-%m-%d %H:%M")  # noqa: DTZ007
        except ValueError:
            self.fault("fitted from", f"\u201c{typed}\u201d is no day.", _day_advice(typed))
            return None, as_day
        moment = naive.replace(tzinfo=self.zone)
        if not as_day and moment.utcoffset() != moment.replace(fold=1).utcoffset():
            self.fault("fitted from", f"On {typed} the clock was being changed.", "Write a time outside that hour.")
        elif moment > self.now:
            self.fault("fitted from", f"{typed} has not come yet.", "Write the day it was fitted.")
        return moment, as_day

    def _uses(self, text: dict[str, str]) -> tuple[UseText, ...]:
        found = []
        for part in _parts(text["uses"]):
            use, _, on = part.partition(" ")
            if use.casefold() not in USES or not on.strip():
                self.fault(
                    "uses", f"\u201c{part}\u201d is no use.", f"Write {', '.join(USES)} and a tag or words: paces P-41."
                )
            elif len(on.strip()) > 120:
                self.fault("uses", "It has more than 120 letters.", "Say it shorter.")
            else:
                found.append(UseText(use.casefold(), on.strip()))
        return tuple(found)

    def _limits(self, text: dict[str, str], unit: str) -> tuple[LimitText, ...]:
        found = []
        for part in _parts(text["limits"]):
            match = LIMIT.fullmatch(part)
            if match is None:
                self.fault("limits", f"\u201c{part}\u201d is no limit.", "Write it like high 8.50 pH (site permit).")
                continue
            limit = self._limit(match, unit)
            if limit is not None:
                found.append(limit)
        return tuple(found)

    def _limit(self, match: re.Match[str], unit: str) -> LimitText | None:
        try:
            read_number(match["value"], decimal_mark=self.decimal_mark)
            code = unit_of(match["unit"]).code
        except (NotANumber, UnknownUnit) as wrong:
            self.unreadable("limits", wrong, right="Write it like high 8.50 pH (site permit).")
            return None
        if unit and not same_quantity(code, unit):
            self.fault("limits", f"{code} and {unit} measure different things.", f"Write the limit in {unit}.")
            return None
        return LimitText(
            (match["name"] or "Limit").strip(), match["side"], match["value"], code, match["source"].strip()
        )


def _parts(text: str) -> list[str]:
    """Part a cell at its semicolons, those inside parentheses left alone."""
    parts, depth = [""], 0
    for sign in text:
        depth += (sign == "(") - (sign == ")")
        if sign == ";" and depth <= 0:
            parts.append("")
        else:
            parts[-1] += sign
    return [part.strip() for part in parts if part.strip()]


def _day_advice(typed: str) -> str:
    slashed = SLASHED.fullmatch(typed)
    if slashed is None:
        return "Write it like 2026-11-25, or 2026-11-25 14:05."
    one, other, year = slashed.groups()
    return f"Is it {year}-{other:0>2}-{one:0>2} or {year}-{one:0>2}-{other:0>2}? Write it like that."
