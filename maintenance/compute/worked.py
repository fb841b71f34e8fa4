"""Values that a condition may look at although nobody reads them: worked out from readings taken together.

Each kind says what it asks: readings with the unit it reckons in, and numbers that a person gives once, a baseline,
with where they come from. The formulas stand in `assets.compute.readings.derived`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.readings.derived import Derived
from assets.compute.readings.facts import about, days_between, plain
from assets.compute.readings.together import Together
from assets.compute.rounding import rounded, shown
from assets.compute.transcendental import as_decimal
from assets.compute.words import moment_named

Numbers = Mapping[str, Fraction]
Fault = tuple[str, str]
MOST_PLACES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One reading that goes in: its name in sentences, the unit it is reckoned in; `counter`: its running total.

    `needed` False: the value can be worked out without it.
    """

    name: str
    label: str
    unit: str
    counter: bool = False
    needed: bool = True
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """One number that a person gives once; the unit it is reckoned in; what may be meant, both bounds included.

    short: its name in a sentence, before its value. signed: it may lie below zero, so that its sign is asked for.
    """

    name: str
    label: str
    short: str
    unit: str
    needed: bool = True
    hint: str = ""
    low: Fraction | None = None
    high: Fraction | None = None
    signed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """One value as worked out from readings taken together; `since` where it counts from earlier ones."""

    together: Together
    value: Derived
    since: Together | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What is worked out: its words, which name the value, its unit, what goes in, what a person should know about it.

    `faults` gives for readings chosen and numbers given that do not go together the name of each and a sentence.
    """

    code: str
    title: str
    words: str
    unit: str
    about: str
    asks: tuple[Asked, ...]
    givens: tuple[Given, ...]
    work: Callable[[Numbers, Numbers], Derived]
    faults: Callable[[Collection[str], Numbers], list[Fault]]
    over_days: str = ""

    @property
    def lead(self) -> str:
        """The reading for which the others are sought."""
        return self.asks[0].name


def values_of(kind: Kind, sets: Sequence[Together], given: Numbers) -> Iterator[Worked]:
    """Yield the value of each set of readings, in their order; `given`: the numbers in the units of the kind."""
    if kind.over_days:
        yield from _over(kind, sets, given)
        return
    for one in sets:
        yield Worked(together=one, value=_named(kind, one, kind.work(_numbers(one), given)))


def _numbers(one: Together) -> dict[str, Fraction]:
    return {name: reading.value for name, reading in one.found.items()}


def _named(kind: Kind, one: Together, value: Derived) -> Derived:
    """The value, or no value for want of a reading that is needed, with the sentence of what has no partner."""
    gone = [f"{ask.label}: {one.missing[ask.name]}" for ask in kind.asks if ask.name in one.missing]
    return without(value, "; ".join(gone)) if gone else value


def without(value: Derived, why: str) -> Derived:
    """The same without a value, and why there is none."""
    return Derived(
        what=value.what, value=None, unit=value.unit, inputs=value.inputs, formula=value.formula, source=value.source,
        why=f"{why[:1].upper()}{why[1:]}.",
    )  # fmt: skip


def _over(kind: Kind, sets: Sequence[Together], given: Numbers) -> Iterator[Worked]:
    """What was counted since the newest earlier set that is at least so many days of the calendar older."""
    days = given[kind.over_days]
    whole = [one for one in sets if not one.missing]
    first = 0
    for one in sets:
        while first + 1 < len(whole) and days_between(whole[first + 1].at, one.at) >= days:
            first += 1
        since = whole[first] if whole and days_between(whole[first].at, one.at) >= days else None
        found = {} if since is None or one.missing else _counted(since, one)
        value = _named(kind, one, kind.work(found, given))
        if since is None and not one.missing:
            value = without(value, f"the two were not read together {plain(days)} days before")
        yield Worked(together=one, value=value, since=since)


def _counted(since: Together, one: Together) -> dict[str, Fraction]:
    return {name: reading.value - since.found[name].value for name, reading in one.found.items()}


def shown_beside(value: Fraction, outside: Callable[[Fraction], bool], digits: int = 3) -> str:
    """Write a value with three digits that count, with more where fewer would lie on the other side of its limit."""
    size = as_decimal(abs(value)).adjusted() if value else 0
    for places in range(max(0, digits - 1 - size), MOST_PLACES):
        if outside(rounded(value, places)) is outside(value):
            return about(value, places + 1 + size) if places else shown(value, 0)
    return plain(value)


def times_said(moments: Sequence[dt.datetime]) -> str:
    """Write when readings were taken: one moment, or the first and the last of them."""
    first, last = min(moments), max(moments)
    if first == last:
        return moment_named(first)
    return (
        f"{moment_named(first)} to {last:%H:%M}"
        if first.date() == last.date()
        else (f"{moment_named(first)} to {moment_named(last)}")
    )
