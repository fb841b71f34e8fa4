"""What is written down at a pH probe: the points of one reading set, and how a form as typed becomes them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Literal, TypeAlias

from calibration.compute.method import Answer, Entered, Found, Known, Typed
from calibration.compute.standards import Standard
from calibration.compute.temperature_tables import OutsideTable, Worth

SetKind: TypeAlias = Literal["as found", "confirming", "as left"]
SET_KINDS: tuple[SetKind, ...] = ("as found", "confirming", "as left")


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """The probe in one buffer. `lot` is the key of the lot in what is known; degC, pH, mV, seconds as typed.

    Everything may still be missing: a set is worked out while it is being written.
    """

    lot: str = ""
    temperature: Typed | None = None
    shown: Typed | None = None
    mv: Typed | None = None
    seconds: Typed | None = None
    steady: bool | None = None

    @property
    def is_empty(self) -> bool:
        """True when nothing but perhaps the lot has been written."""
        numbers = (self.temperature, self.shown, self.mv, self.seconds)
        return all(number is None for number in numbers) and self.steady is None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingSet:
    """One reading set: as found before anything is touched, confirming in another lot, or as left re-read.

    `third` is a buffer read to prove the line and not to draw it. `own_slope` and `own_zero` are what the transmitter
    says of itself, each with its unit ('%' or 'mV/pH'; 'mV' at pH 7 or 'pH' of the zero point). `hold` is 'on', 'off'
    or ''. `unchanged` says that nothing was cleaned or adjusted, so that as left is as found.
    """

    kind: SetKind
    points: tuple[Point, ...] = ()
    third: Point | None = None
    process_shown: Typed | None = None
    process_temperature: Typed | None = None
    own_slope: Typed | None = None
    own_slope_unit: str = ""
    own_zero: Typed | None = None
    own_zero_unit: str = ""
    hold: str = ""
    unchanged: bool = False
    answers: Mapping[str, Answer] = field(default_factory=dict)
    unread: tuple[Found, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One point with its lot and what the buffer is worth at its own temperature, as far as both are known.

    `prefix` is the start of its field names ('point1_'), `name` its words ('Point 1').
    """

    prefix: str
    name: str
    point: Point
    lot: Standard | None
    worth: Worth | None

    @property
    def true(self) -> Fraction | None:
        """The pH of the buffer at its temperature."""
        return None if self.worth is None else self.worth.value


def _worth(point: Point, lot: Standard | None) -> Worth | None:
    if lot is None or point.temperature is None:
        return None
    try:
        return lot.tabled.at(point.temperature.value)
    except OutsideTable:
        return None


def standing(point: Point, known: Known, *, prefix: str, name: str) -> Standing:
    """Set a point beside its lot and the buffer's value at the point's temperature."""
    lot = known.standards.get(point.lot)
    return Standing(prefix=prefix, name=name, point=point, lot=lot, worth=_worth(point, lot))


def standings(inputs: ReadingSet, known: Known) -> tuple[Standing, ...]:
    """Return the points that something was written for, each with its lot and worth, in the order written."""
    return tuple(
        standing(point, known, prefix=f"point{number}_", name=f"Point {number}")
        for number, point in enumerate(inputs.points, start=1)
        if not point.is_empty or number <= 1
    )


def third_standing(inputs: ReadingSet, known: Known) -> Standing | None:
    """Return the third buffer with its lot and worth, None when none was read."""
    if inputs.third is None or inputs.third.is_empty:
        return None
    return standing(inputs.third, known, prefix="third_", name="Third buffer")


def _point(entered: Entered, prefix: str) -> Point:
    return Point(
        lot=entered.texts.get(f"{prefix}lot", ""),
        temperature=entered.numbers.get(f"{prefix}temperature"),
        shown=entered.numbers.get(f"{prefix}shown"),
        mv=entered.numbers.get(f"{prefix}mv"),
        seconds=entered.numbers.get(f"{prefix}seconds"),
        steady=entered.marks.get(f"{prefix}steady"),
    )


def reading_set(entered: Entered, *, kind: SetKind, answers: Mapping[str, Answer] | None = None) -> ReadingSet:
    """Build the inputs of one set from the fields that were read; what could not be read goes along as `unread`."""
    third = _point(entered, "third_")
    return ReadingSet(
        kind=kind,
        points=tuple(_point(entered, f"point{number}_") for number in (1, 2, 3)),
        third=None if third.is_empty else third,
        process_shown=entered.numbers.get("process_shown"),
        process_temperature=entered.numbers.get("process_temperature"),
        own_slope=entered.numbers.get("own_slope"),
        own_slope_unit=entered.texts.get("own_slope_unit", ""),
        own_zero=entered.numbers.get("own_zero"),
        own_zero_unit=entered.texts.get("own_zero_unit", ""),
        hold=entered.texts.get("hold", ""),
        answers=answers or {},
        unread=entered.unread,
    )


def as_left_unchanged(found: ReadingSet) -> ReadingSet:
    """Return the as left set of a probe that was neither cleaned nor adjusted: as found, said so and not retyped.

    Questions that only an as left set asks come without an answer.
    """
    return replace(found, kind="as left", unchanged=True)
