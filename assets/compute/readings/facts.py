"""One number read, as typed and as an exact value, and the stretches of time between two of them.

Moments carry a zone, and it is the site's: days and words such as "yesterday" follow it, while hours are counted on
one clock, so that a day on which clocks are changed has 23 or 25 of them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar
from zoneinfo import ZoneInfo

from assets.compute import rounding
from assets.compute.numbers import read_number
from assets.compute.transcendental import as_decimal
from assets.compute.units import convert, scale_and_offset, unit_of
from assets.compute.words import day_said

MICROSECONDS_AN_HOUR = 3_600_000_000
MOST_DECIMALS = 6
"""Decimals up to which an exact number is written out; one that needs more is written with four digits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One number read.

    value: exact, in the unit that is compared in; at: when it was read, with the site's zone; text and unit: as typed;
    step: what its last digit tells, in the unit of `value`; recorded_at: when it was written down, if that is later.
    Raises ValueError for a moment without a zone.
    """

    value: Fraction
    at: dt.datetime
    text: str = ""
    unit: str = ""
    step: Fraction = Fraction(0)
    recorded_at: dt.datetime | None = None

    def __post_init__(self) -> None:
        if self.at.tzinfo is None or (self.recorded_at is not None and self.recorded_at.tzinfo is None):
            raise ValueError("A moment needs its zone; give it in the zone of the site.")

    @property
    def told(self) -> str:
        """The number with its unit, as typed; else its value."""
        return f"{rounding.as_typed(self.text) if self.text.strip() else plain(self.value)} {self.unit}".strip()

    @property
    def known_at(self) -> dt.datetime:
        """When the number could first be known."""
        return self.recorded_at or self.at


def taken(
    text: str,
    unit: str,
    at: dt.datetime,
    *,
    into: str = "",
    decimal_mark: str = ",",
    recorded_at: dt.datetime | None = None,
) -> Taken:
    """Return a reading from its text and unit as typed; its value in `into`, by default the unit typed.

    decimal_mark: ',' for a text that is on record, whose mark was settled then; the site's mark for one just typed.
    Raises NotANumber, UnknownUnit or OtherQuantity, each with a sentence for the person who typed.
    """
    code = unit_of(unit).code
    wanted = into or code
    number = read_number(text, decimal_mark=decimal_mark)
    return Taken(
        value=convert(number, code, wanted),
        at=at,
        text=text.strip(),
        unit=code,
        step=abs(scale_and_offset(code, wanted)[0]) * rounding.resolution(text),
        recorded_at=recorded_at,
    )


T = TypeVar("T", bound=Taken)


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch of time, its end not in it. Raises ValueError where it ends before it begins."""

    start: dt.datetime
    end: dt.datetime

    def __post_init__(self) -> None:
        if hours_between(self.start, self.end) < 0:
            raise ValueError("A stretch of time does not end before it begins.")

    @property
    def hours(self) -> Fraction:
        """How long it is, h."""
        return hours_between(self.start, self.end)

    def shared_with(self, other: Span) -> Fraction:
        """Return the hours that both have in common."""
        begin, end = max(utc(self.start), utc(other.start)), min(utc(self.end), utc(other.end))
        return max(hours_between(begin, end), Fraction(0))


def utc(moment: dt.datetime) -> dt.datetime:
    """Return the moment on the one clock that never jumps; what is sorted or subtracted goes through it."""
    return moment.astimezone(dt.UTC)


def hours_between(start: dt.datetime, end: dt.datetime) -> Fraction:
    """Return the hours from one moment to another, exact; below zero where the second is earlier."""
    return Fraction((utc(end) - utc(start)) // dt.timedelta(microseconds=1), MICROSECONDS_AN_HOUR)


def days_between(start: dt.datetime, end: dt.datetime) -> int:
    """Return how many days later the second moment is by the calendar of its zone."""
    return (end.date() - start.astimezone(end.tzinfo).date()).days


def site_day(day: dt.date, zone: ZoneInfo) -> Span:
    """Return a day of the site from midnight to midnight: 23 or 25 h where clocks are changed."""
    begin, end = (
        dt.datetime.combine(one, dt.time(), tzinfo=zone).astimezone(dt.UTC) for one in (day, day + dt.timedelta(days=1))
    )
    return Span(start=begin.astimezone(zone), end=end.astimezone(zone))


def in_order(readings: Iterable[T]) -> list[T]:
    """Return readings by the moment they were taken, whatever order they were written in."""
    return sorted(readings, key=lambda one: (utc(one.at), one.value))


def before(now: Taken, readings: Iterable[T]) -> list[T]:
    """Return the readings taken before this one, oldest first."""
    return [one for one in in_order(readings) if utc(one.at) < utc(now.at)]


def last_before(now: Taken, readings: Sequence[T]) -> T | None:
    """Return the newest reading taken before this one."""
    earlier = before(now, readings)
    return earlier[-1] if earlier else None


def plain(value: Fraction) -> str:
    """Write a number with as many decimals as it needs; with four digits where it would need more than six."""
    for places in range(MOST_DECIMALS + 1):
        if (value * 10**places).denominator == 1:
            return rounding.shown(value, places)
    return about(value, 4)


def about(value: Fraction, digits: int = 3) -> str:
    """Write a number with so many digits that count, fewer where it is exact, and all that stand before the point."""
    if value == 0:
        return "0"
    places = max(0, digits - 1 - as_decimal(abs(value)).adjusted())
    exact = next((fewer for fewer in range(places) if (value * 10**fewer).denominator == 1), places)
    return rounding.shown(value, exact)


def moved_point(text: str, places: int) -> str:
    """Return a typed number with its point moved to the right by so many places, to the left below zero: 8.2, -1: 0.82.

    The mark and the digits stay as typed.
    """
    number = Decimal(text.strip().replace("−", "-").replace(",", ".")).scaleb(places)
    moved = format(number, "f")
    return moved.replace(".", ",") if "," in text else moved


def when(moment: dt.datetime, now: dt.datetime) -> str:
    """Say when a reading was taken, seen from another one: today 06:48, yesterday 06:48, 21 November 06:48."""
    here = moment.astimezone(now.tzinfo)
    ago = days_between(moment, now)
    day = {0: "today", 1: "yesterday"}.get(ago) or day_said(here.date(), now.date())
    return f"{day} {here:%H:%M}"
