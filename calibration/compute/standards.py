"""A standard on the day it is used: what it is worth, and whether it may be relied on at all.

A standard is a lot (of a solution, a gas, a block) or an instrument that carries the value (a gauge, a thermometer, a
bench meter, a measured tank). Both are compared with what is checked, so one class serves both.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

from assets.compute.units import UnknownUnit, same_quantity, scale_and_offset, unit_of
from assets.compute.words import day_named
from calibration.compute.figures import sentence_case
from calibration.compute.temperature_tables import TemperatureTable

OPENED_LIFE_DAYS = 90
"""How long an opened bottle is used: common practice, no source; a lot may state its own."""

HIGH_BUFFER = Fraction(9)
HIGH_BUFFER_LIFE_DAYS = 30
"""A high buffer takes up carbon dioxide once opened and falls: common practice, no source."""

KINDS: Mapping[str, str] = {
    "buffer": "pH buffer",
    "redox solution": "redox solution",
    "conductivity solution": "conductivity solution",
    "zero solution": "zero oxygen solution",
    "chlorine standard": "chlorine standard",
    "turbidity standard": "turbidity standard",
    "turbidity block": "secondary turbidity standard",
    "absorbance standard": "UV absorbance standard",
    "gas": "test gas",
    "mass": "test mass",
    "gauge": "reference gauge",
    "thermometer": "reference thermometer",
    "barometer": "barometer",
    "source": "current source",
    "bench meter": "bench meter",
    "flow meter": "portable or twin flow meter",
    "UV sensor": "reference UV sensor",
    "tank": "measured tank",
    "column": "calibration column",
    "length": "tape or plumb line",
    "clock": "clock or stopwatch",
}
"""Every kind of standard by its code, with the words a page uses."""


def family_heading(code: str) -> str:
    """Return the words of a family as they begin a line: 'Reference gauge', 'pH buffer'."""
    return sentence_case(KINDS[code])


BUFFER = "buffer"

SOLID = ("turbidity block", "absorbance standard", "mass")
"""Families in lots that do not spoil, so that a lot of them may have no last day."""

IN_LOTS = (
    *("buffer", "redox solution", "conductivity solution", "zero solution", "chlorine standard"),
    *("turbidity standard", "turbidity block", "absorbance standard", "gas", "mass"),
)
"""Families that come in lots; the others are instruments. A mass may be either."""

INSTRUMENTS = ("mass", *(code for code in KINDS if code not in IN_LOTS))
"""Families that are served by a serial-numbered instrument."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assigned:
    """The value a secondary standard was given on one instrument: good for that instrument alone.

    `unit_key` is the key of the instrument (its serial-numbered asset); `primary_on` the day of the primary
    calibration it follows from.
    """

    unit_key: str
    value: Fraction
    text: str
    on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Standard:
    """One standard. `nominal` is the value on the label or certificate in `unit`; `label` its number or name.

    `opened_life` in days, None = the usual one. `uncertainty` is the expanded uncertainty of its value (same unit as
    the value, coverage factor `k`). `table` gives the value at temperature where it has one. `corrections` are
    (shown, correction to add) of an instrument's certificate. `kind_name` is what a lot is in words, as on the list of
    kinds. `unfit` is the reason why an instrument must not be relied on (out of date, away, failed its own check),
    empty when it may. `certificate` names what it rests on.
    """

    id: str
    label: str
    nominal: Fraction
    nominal_text: str
    table: TemperatureTable | None = None
    kind: str = "buffer"
    kind_name: str = ""
    unit: str = "pH"
    expires: date | None = None
    opened: date | None = None
    opened_life: int | None = None
    quarantined: str = ""
    discarded: date | None = None
    uncertainty: Fraction | None = None
    k: Fraction | None = None
    is_lot: bool = True
    unfit: str = ""
    certificate: str = ""
    assigned: tuple[Assigned, ...] = ()
    corrections: tuple[tuple[Fraction, Fraction], ...] = ()

    @property
    def called(self) -> str:
        """How a sentence names it: 'lot 2608-A', or an instrument by its own name."""
        return f"lot {self.label}" if self.is_lot else self.label

    @property
    def life(self) -> int:
        """Days the opened bottle may be used."""
        if self.opened_life is not None:
            return self.opened_life
        return HIGH_BUFFER_LIFE_DAYS if self.kind == "buffer" and self.nominal >= HIGH_BUFFER else OPENED_LIFE_DAYS

    @property
    def opened_until(self) -> date | None:
        """The last day the opened bottle may be used; None when no opening day is written."""
        return None if self.opened is None else self.opened + timedelta(days=self.life)

    @property
    def tabled(self) -> TemperatureTable:
        """The table at temperature of a standard that has one. Raises LookupError for one that has none."""
        if self.table is None:
            raise LookupError(f"{self.called} has no table at temperature.")
        return self.table

    def at(self, temperature: Fraction) -> Fraction:
        """Return the value at a temperature in degC: of its table, else the nominal one. Raises OutsideTable."""
        return self.nominal if self.table is None else self.table.value(temperature)

    def known_at(self, temperature: Fraction) -> Fraction | None:
        """Return the value at a temperature in degC; None outside its table."""
        if self.table is not None and not self.table.low <= temperature <= self.table.high:
            return None
        return self.at(temperature)

    def assigned_to(self, unit_key: str) -> Assigned | None:
        """Return the newest value given to it on one instrument, None when it has none there."""
        return max((one for one in self.assigned if one.unit_key == unit_key), key=lambda one: one.on, default=None)

    def correction_at(self, read: Fraction) -> Fraction:
        """Return what its certificate adds to a reading, linear between its points, 0 without any.

        Beyond the first and last point the nearest point's correction counts; the caller asks about it.
        """
        points = sorted(self.corrections)
        if not points:
            return Fraction(0)
        below = [point for point in points if point[0] <= read]
        above = [point for point in points if point[0] >= read]
        if not below or not above or below[-1][0] == above[0][0]:
            return (below[-1] if below else above[0])[1]
        (low, first), (high, second) = below[-1], above[0]
        return first + (second - first) * (read - low) / (high - low)


def _because(text: str) -> str:
    return text.rstrip(".")


def why_unfit(standard: Standard, day: date) -> tuple[str, ...]:
    """Return a sentence for each reason why the standard must not be used on that day; empty when it may be."""
    until = standard.opened_until
    name = sentence_case(standard.called)
    other = "another lot" if standard.is_lot else "another one"
    reasons: list[str] = []
    if standard.expires is not None and standard.expires < day:
        fresh = "a lot that is in date" if standard.is_lot else "one that is in date"
        reasons.append(f"{name} expired on {day_named(standard.expires)}. Read again in {fresh}.")
    if standard.unfit:
        reasons.append(f"{name} must not be relied on: {_because(standard.unfit)}. Read again with {other}.")
    if standard.quarantined:
        reasons.append(f"{name} is quarantined: {_because(standard.quarantined)}. Read again in {other}.")
    if standard.discarded is not None and standard.discarded <= day:
        reasons.append(f"{name} was discarded on {day_named(standard.discarded)}. Choose the lot in your hand.")
    if standard.opened is not None and standard.opened > day:
        reasons.append(
            f"{name} was opened on {day_named(standard.opened)}, after this reading. Choose the lot you used."
        )
    if until is not None and until < day:
        high = standard.kind == "buffer" and standard.nominal >= HIGH_BUFFER
        why = " A high buffer falls as it takes up carbon dioxide." if high else ""
        reasons.append(
            f"{name} was opened on {day_named(standard.opened or day)} and may be used for {standard.life} days, "
            f"to {day_named(until)}.{why} Read again in a fresh bottle."
        )
    return tuple(reasons)


FIT_AT_LEAST = Fraction(4)
"""Limit over expanded uncertainty of the standard below which a method flags its check, unless it says another: own."""


def fit_ratio(limit: Fraction | None, uncertainty: Fraction | None) -> Fraction | None:
    """Return the limit over the expanded uncertainty of the standard, same unit; None where either is not known.

    It is no test uncertainty ratio: the instrument's own share and the readings' scatter are not in it.
    """
    if limit is None or not uncertainty:
        return None
    return abs(limit) / uncertainty


def in_unit(used: Standard | None, unit: str) -> Standard | None:
    """Return a standard with its value, uncertainty and corrections in `unit`; None where it measures something else.

    One whose unit is not written, or is `unit` already, comes back as it is. Uncertainty and corrections are
    differences: they take the scale of a unit and not its zero.
    """
    if used is None or used.unit in {"", unit}:
        return used
    code, wanted = _code(used.unit), _code(unit)
    if code is None or wanted is None or not same_quantity(code, wanted):
        return None
    scale, zero = scale_and_offset(code, unit)
    return replace(
        used,
        unit=unit,
        nominal=used.nominal * scale + zero,
        uncertainty=None if used.uncertainty is None else used.uncertainty * scale,
        corrections=tuple((shown * scale + zero, added * scale) for shown, added in used.corrections),
    )


def _code(spelled: str) -> str | None:
    try:
        return unit_of(spelled).code
    except UnknownUnit:
        return None
