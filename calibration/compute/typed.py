"""From the fields of a form as typed to the values of a method's inputs: nothing guessed, nothing lost."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from assets.compute.numbers import NotANumber, normal_text, read_number
from calibration.compute.figures import plain
from calibration.compute.method import AnyMethod, Ask, Found, Typed

THIRD = "third"
YES_OR_NO = {"yes": True, "no": False}


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of one form: the ask it comes from, its full name and label, and the point it belongs to."""

    name: str
    label: str
    ask: Ask
    point: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """What could be read of a form: numbers, choices and yes/no by field name, and a sentence for the rest."""

    numbers: Mapping[str, Typed] = field(default_factory=dict)
    texts: Mapping[str, str] = field(default_factory=dict)
    marks: Mapping[str, bool] = field(default_factory=dict)
    unread: tuple[Found, ...] = ()


def fields_of(method: AnyMethod, *parts: str, points: int | None = None) -> tuple[Field, ...]:
    """Return the fields of the given parts in the order asked, point by point.

    `points` is how many points the form shows; None shows as many as the method allows.
    """
    asks = [ask for ask in method.asks if ask.part in parts]
    pointed = [ask for ask in asks if ask.each == "point"]
    count = points if points is not None else max((ask.times[1] for ask in pointed), default=0)
    single = [Field(name=ask.name, label=_sentence_case(ask.label), ask=ask) for ask in asks if not ask.each]
    each = [
        Field(name=f"point{number}_{ask.name}", label=f"Point {number}, {ask.label}", ask=ask, point=number)
        for number in range(1, count + 1)
        for ask in pointed
    ]
    third = [
        Field(name=f"{THIRD}_{ask.name}", label=f"Third buffer, {ask.label}", ask=ask)
        for ask in asks
        if ask.each == THIRD
    ]
    return tuple(single + each + third)


def _sentence_case(text: str) -> str:
    return text[:1].upper() + text[1:]


def _refuse(one: Field, sentence: str) -> Found:
    return Found(weight="refuse", field=one.name, key=f"unread-{one.name}", sentence=f"{one.label}: {sentence}")


def _range_text(ask: Ask) -> str:
    unit = f" {ask.units[0]}" if ask.units else ""
    return f"from {plain(ask.low or Fraction(0))} to {plain(ask.high or Fraction(0))}{unit}"


def _number(one: Field, text: str, decimal_mark: str) -> Typed | Found:
    try:
        value = read_number(text, decimal_mark=decimal_mark)
    except NotANumber as wrong:
        return _refuse(one, str(wrong))
    ask = one.ask
    if (ask.low is not None and value < ask.low) or (ask.high is not None and value > ask.high):
        return _refuse(one, f"“{text}” is outside what such an instrument shows; write a number {_range_text(ask)}.")
    return Typed(text=normal_text(text).removeprefix("+"), value=value)


def _chosen(one: Field, text: str) -> str | Found:
    codes = {code for code, _ in one.ask.choices}
    if one.ask.kind == "choice" and text not in codes:
        return _refuse(one, f"“{text}” is not one of the choices; choose {' or '.join(w for _, w in one.ask.choices)}.")
    return text


def _mark(one: Field, text: str) -> bool | Found:
    if text not in YES_OR_NO:
        return _refuse(one, f"“{text}” is neither yes nor no; choose one of the two.")
    return YES_OR_NO[text]


def _value(one: Field, text: str, decimal_mark: str) -> Typed | str | bool | Found:
    if one.ask.kind == "number":
        return _number(one, text, decimal_mark)
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

    `typed` maps field names to the text as typed; yes/no fields hold 'yes' or 'no'. What cannot be read, or no such
    instrument could show, comes back in `unread` with a sentence at its field; nothing else is dropped.
    """
    numbers: dict[str, Typed] = {}
    texts: dict[str, str] = {}
    marks: dict[str, bool] = {}
    unread: list[Found] = []
    for one, text in _filled(fields, typed):
        match _value(one, text, decimal_mark):
            case Found() as wrong:
                unread.append(wrong)
            case Typed() as number:
                numbers[one.name] = number
            case bool() as mark:
                marks[one.name] = mark
            case str() as words:
                texts[one.name] = words
    return Entered(numbers=numbers, texts=texts, marks=marks, unread=tuple(unread))
