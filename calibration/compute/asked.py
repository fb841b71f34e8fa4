"""How a method declares what it asks: the fields of a frozen dataclass, each with its words, its unit and its range.

    @dataclass(frozen=True, slots=True, kw_only=True)
    class Redox(SignalRecord):
        temperature: Typed | None = number("temperature of the standard", "°C", low="-10", high="130", must=True)
        shown: Typed | None = number("display shows", "mV", signed=True, must=True)

From this one description come the form, the record, the export and the reading of what was typed.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, TypeVar

from calibration.compute.method import Answer, Ask, Entered, Found, Typed

READING = "reading set"
KEY = "ask"
ROWS = "rows"


def _exact(text: str | None) -> Fraction | None:
    return None if text is None else Fraction(text)


def number(
    label: str,
    *units: str,
    part: str = READING,
    must: bool = False,
    signed: bool = False,
    low: str | None = None,
    high: str | None = None,
    advice: str = "",
    rare: bool = False,
) -> Any:
    """Return a field for a number (`Typed | None`), kept in the first of the units it may be typed in."""
    said = {"kind": "number", "units": units, "signed": signed, "low": _exact(low), "high": _exact(high)}
    return _field(None, label, part, must=must, advice=advice, rare=rare, **said)


def choice(
    label: str, *choices: tuple[str, str], part: str = READING, must: bool = False, advice: str = "", rare: bool = False
) -> Any:
    """Return a field for one of several answers (`str`, the code; '' = none chosen)."""
    return _field("", label, part, must=must, advice=advice, rare=rare, kind="choice", choices=choices)


def yes_or_no(label: str, *, part: str = READING, must: bool = False, advice: str = "", rare: bool = False) -> Any:
    """Return a field for yes or no (`bool | None`)."""
    return _field(None, label, part, must=must, advice=advice, rare=rare, kind="yes or no")


def words(label: str, *, part: str = READING, must: bool = False, advice: str = "", rare: bool = False) -> Any:
    """Return a field for words (`str`)."""
    return _field("", label, part, must=must, advice=advice, rare=rare, kind="text")


def standard(
    label: str, *kinds: str, part: str = READING, must: bool = True, advice: str = "", rare: bool = False
) -> Any:
    """Return a field for the key of a standard of one of these kinds (`str`); the codes stand in `standards.KINDS`."""
    return _field("", label, part, must=must, advice=advice, rare=rare, kind="standard", of=kinds)


def _field(default: Any, label: str, part: str, **said: Any) -> Any:
    return field(default=default, metadata={KEY: {"label": label, "part": part, **said}})


def rows(row: type, least: int, most: int, *, part: str = READING) -> Any:
    """Return a field for several rows of one kind (`tuple[Row, ...]`); its name is that of one row, as 'point'.

    Where `most` is 1 the field holds one row or None (`Row | None`).
    """
    return field(default=() if most > 1 else None, metadata={ROWS: (row, (least, most), part)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What every set has: its kind, the answers given, what could not be read; `unchanged` = as left is as found."""

    kind: str = "as found"
    answers: Mapping[str, Answer] = field(default_factory=dict)
    unread: tuple[Found, ...] = ()
    unchanged: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SignalRecord(Record):
    """A set at an instrument whose signal moves something: asked first whether it is kept still."""

    hold: str = choice("the signal is on hold or forced", ("on", "On hold"), ("off", "Not on hold"), part="before")


R = TypeVar("R", bound=Record)


def asks_of(record: type[Record]) -> tuple[Ask, ...]:
    """Return the fields a record declares, in the order declared, rows after their own fields' order."""
    asks: list[Ask] = []
    for one in dataclasses.fields(record):
        if KEY in one.metadata:
            asks.append(Ask(name=one.name, **one.metadata[KEY]))
        elif ROWS in one.metadata:
            row, times, part = one.metadata[ROWS]
            asks += [
                Ask(name=inner.name, each=one.name, times=times, **{**inner.metadata[KEY], "part": part})
                for inner in dataclasses.fields(row)
                if KEY in inner.metadata
            ]
    return tuple(asks)


def reader_of(record: type[R]) -> Callable[[Entered, str, Mapping[str, Answer]], R]:
    """Return what builds a record from what was entered; a row nobody wrote in but for its standard is left out."""

    def read(entered: Entered, kind: str, answers: Mapping[str, Answer]) -> R:
        values: dict[str, Any] = {}
        for one in dataclasses.fields(record):
            if KEY in one.metadata:
                values[one.name] = _value(one.metadata[KEY]["kind"], entered, one.name)
            elif ROWS in one.metadata:
                values[one.name] = _read_rows(one.name, one.metadata[ROWS], entered)
        return record(kind=kind, answers=answers, unread=entered.unread, **values)

    return read


def _value(kind: str, entered: Entered, name: str) -> Typed | str | bool | None:
    if kind == "number":
        return entered.numbers.get(name)
    if kind == "yes or no":
        return entered.marks.get(name)
    return entered.texts.get(name, "")


def _read_rows(name: str, declared: tuple[type, tuple[int, int], str], entered: Entered) -> Any:
    row, times, _ = declared
    if times[1] == 1:
        found = _read_row(f"{name}_", row, entered)
        return None if _untouched(found) else found
    found_rows = [_read_row(f"{name}{number}_", row, entered) for number in range(1, times[1] + 1)]
    while found_rows and _untouched(found_rows[-1]) and len(found_rows) > times[0]:
        found_rows.pop()
    return tuple(found_rows)


def _read_row(prefix: str, row: type, entered: Entered) -> Any:
    asked = [one for one in dataclasses.fields(row) if KEY in one.metadata]
    return row(**{one.name: _value(one.metadata[KEY]["kind"], entered, prefix + one.name) for one in asked})


def _untouched(row: Any) -> bool:
    asked = [one for one in dataclasses.fields(row) if KEY in one.metadata and one.metadata[KEY]["kind"] != "standard"]
    return all(getattr(row, one.name) in (None, "") for one in asked)


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """One field of a record with what was written in it, for catches that look at every field."""

    name: str
    ask: Ask
    value: Typed | str | bool | None

    @property
    def is_empty(self) -> bool:
        """True where nothing was written or chosen."""
        return self.value is None or self.value == ""


def written(record: Record) -> tuple[Written, ...]:
    """Return every field of a record with its full name, row by row, as `typed.fields_of` names them."""
    found: list[Written] = []
    for one in dataclasses.fields(record):
        if KEY in one.metadata:
            found.append(
                Written(name=one.name, ask=Ask(name=one.name, **one.metadata[KEY]), value=getattr(record, one.name))
            )
        elif ROWS in one.metadata:
            found += _written_rows(one.name, getattr(record, one.name), *one.metadata[ROWS])
    return tuple(found)


def _written_rows(name: str, held: Any, row: type, times: tuple[int, int], part: str) -> list[Written]:
    if times[1] == 1:
        pairs = [] if held is None else [(f"{name}_", held)]
    else:
        pairs = [(f"{name}{number}_", one) for number, one in enumerate(held, 1)]
    return [
        Written(
            name=prefix + inner.name,
            ask=Ask(name=inner.name, each=name, times=times, **{**inner.metadata[KEY], "part": part}),
            value=getattr(one, inner.name),
        )
        for prefix, one in pairs
        for inner in dataclasses.fields(row)
        if KEY in inner.metadata
    ]


def as_left_unchanged(found: R) -> R:
    """Return the as left set where nothing was cleaned or adjusted: as found, said so and not retyped."""
    return dataclasses.replace(found, kind="as left", unchanged=True)
