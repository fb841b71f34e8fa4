"""From the fields of a form as typed to the values of a method's inputs: nothing guessed, nothing lost."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.numbers import NotANumber, normal_text, read_number
from assets.compute.units import convert
from calibration.compute.figures import plain, sentence_case
from calibration.compute.method import AnyMethod, Ask, Entered, Found, Typed

YES_OR_NO = {"yes": True, "no": False}
UNIT = "_unit"
"""What is added to the name of a number to name the choice of its unit, where it may be typed in several."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of one form: the ask it comes from, its full name and label, and the row it belongs to.

    `row` is the start of the names of its row ('point1_', 'third_'), empty for a field of the set itself; `point` its
    number where rows are counted.
    """

    name: str
    label: str
    ask: Ask
    point: int | None = None
    row: str = ""

    @property
    def has_units(self) -> bool:
        """True where a person chooses the unit: the field name + '_unit' then holds it."""
        return self.ask.kind == "number" and len(self.ask.units) > 1


def fields_for(method: AnyMethod, stage: str, *, rows: int | None = None) -> tuple[Field, ...]:
    """Return the fields of one set of a kind (stage), in the order asked; `rows` as in `fields_of`."""
    return fields_of(method, *method.parts[stage], points=rows)


def fields_of(method: AnyMethod, *parts: str, points: int | None = None) -> tuple[Field, ...]:
    """Return the fields of the given parts in the order asked: those of the set, then row by row.

    `points` is how many rows of each counted kind the form shows; None shows as many as the method allows.
    """
    asks = [ask for ask in method.asks if ask.part in parts]
    fields = [Field(name=ask.name, label=sentence_case(ask.label), ask=ask) for ask in asks if not ask.each]
    for each in dict.fromkeys(ask.each for ask in asks if ask.each):
        fields += _rows(each, [ask for ask in asks if ask.each == each], method.legends.get(each, each), points)
    return tuple(fields)


def _rows(each: str, asks: list[Ask], legend: str, points: int | None) -> Iterator[Field]:
    most = max(ask.times[1] for ask in asks)
    if most == 1:
        for ask in asks:
            yield Field(name=f"{each}_{ask.name}", label=f"{legend}, {ask.label}", ask=ask, row=f"{each}_")
        return
    for number in range(1, (most if points is None else min(points, most)) + 1):
        row = f"{each}{number}_"
        for ask in asks:
            yield Field(name=row + ask.name, label=f"{legend} {number}, {ask.label}", ask=ask, point=number, row=row)


def _refuse(one: Field, sentence: str) -> Found:
    return Found(weight="refuse", field=one.name, key=f"unread-{one.name}", sentence=f"{one.label}: {sentence}")


def _range_text(ask: Ask) -> str:
    unit = f" {ask.units[0]}" if ask.units else ""
    if ask.low is None:
        return f"of at most {plain(ask.high or Fraction(0))}{unit}"
    if ask.high is None:
        return f"of at least {plain(ask.low)}{unit}"
    return f"from {plain(ask.low)} to {plain(ask.high)}{unit}"


def _number(one: Field, text: str, unit: str, decimal_mark: str) -> Typed | Found:
    try:
        read = read_number(text, decimal_mark=decimal_mark)
    except NotANumber as wrong:
        return _refuse(one, str(wrong))
    ask = one.ask
    kept_in = ask.units[0] if ask.units else ""
    unit = unit or kept_in
    if unit not in (ask.units or ("",)):
        return _refuse(one, f"“{unit}” is no unit of this field; choose {' or '.join(ask.units)}.")
    value = read if unit == kept_in else convert(read, unit, kept_in)
    if (ask.low is not None and value < ask.low) or (ask.high is not None and value > ask.high):
        said = f"{text} {unit}" if unit != kept_in else text
        return _refuse(one, f"“{said}” is outside what such an instrument shows; write a number {_range_text(ask)}.")
    return Typed(text=normal_text(text).removeprefix("+"), value=value, unit=unit, converted=unit != kept_in)


def _chosen(one: Field, text: str) -> str | Found:
    codes = {code for code, _ in one.ask.choices}
    if one.ask.kind == "choice" and text not in codes:
        return _refuse(one, f"“{text}” is not one of the choices; choose {' or '.join(w for _, w in one.ask.choices)}.")
    return text


def _mark(one: Field, text: str) -> bool | Found:
    if text not in YES_OR_NO:
        return _refuse(one, f"“{text}” is neither yes nor no; choose one of the two.")
    return YES_OR_NO[text]


def _value(one: Field, text: str, unit: str, decimal_mark: str) -> Typed | str | bool | Found:
    if one.ask.kind == "number":
        return _number(one, text, unit, decimal_mark)
    if one.ask.kind == "yes or no":
        return _mark(one, text)
    return _chosen(one, text)


def _filled(fields: tuple[Field, ...], typed: Mapping[str, str]) -> Iterator[tuple[Field, str]]:
    for one in fields:
        text = typed.get(one.name, "").strip()
        if text:
            yield one, text


def read_fields(fields: tuple[Field, ...], typed: Mapping[str, str], *, decimal_mark: str = ".") -> Entered:
    """Read what was typed, field by field; an empty field is simply not there.

    `typed` maps field names to the text as typed; yes/no fields hold 'yes' or 'no'; name + '_unit' holds a chosen unit.
    What cannot be read, or no such
    instrument could show, comes back in `unread` with a sentence at its field; nothing else is dropped.
    """
    numbers: dict[str, Typed] = {}
    texts: dict[str, str] = {}
    marks: dict[str, bool] = {}
    unread: list[Found] = []
    for one, text in _filled(fields, typed):
        unit = typed.get(one.name + UNIT, "").strip() if one.has_units else ""
        match _value(one, text, unit, decimal_mark):
            case Found() as wrong:
                unread.append(wrong)
            case Typed() as number:
                numbers[one.name] = number
            case bool() as mark:
                marks[one.name] = mark
            case str() as words:
                texts[one.name] = words
    return Entered(numbers=numbers, texts=texts, marks=marks, unread=tuple(unread))
