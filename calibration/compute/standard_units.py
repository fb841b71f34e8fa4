"""A standard and a reading in the unit a method works in: what is stated in bar counts as such beside kPa.

The uncertainty and the corrections of a certificate are differences: they take the scale of a unit and not its zero.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from assets.compute.units import BY_CODE, scale_and_offset
from calibration.compute.asked import Record, written
from calibration.compute.budget import Budget, budget_of, from_certificate, from_resolution
from calibration.compute.doubts import Catch, refuse
from calibration.compute.figures import sentence_case
from calibration.compute.method import Found, Known, Typed, Worked
from calibration.compute.standards import Standard, in_unit
from calibration.compute.uncertainty import Component


def other_quantity(field: str, *units: str) -> Catch:
    """Return a catch that refuses a standard given in a unit of another quantity than those of `units`."""

    def catch(inputs: Record, known: Known, worked: Worked) -> tuple[Found, ...]:
        chosen = next((str(one.value) for one in written(inputs) if one.name == field and not one.is_empty), "")
        used = known.standards.get(chosen)
        if used is None or any(in_unit(used, unit) is not None for unit in units):
            return ()
        sentence = (
            f"{sentence_case(used.called)} is given in {used.unit}, which is no unit of {BY_CODE[units[0]].quantity}. "
            f"Choose one given in {' or '.join(units)}, or have its unit mended where it is registered."
        )
        return (refuse(field, f"other-unit-{field}", sentence),)

    return catch


def step_of(read: Typed, unit: str) -> Fraction:
    """Return one step of the last digit typed, in `unit`: 0.01 for '7.02', 1 kPa for '5.02' bar kept in kPa."""
    step = Fraction(1, 10**read.decimals)
    return step * scale_and_offset(read.unit, unit)[0] if read.converted else step


def last_digit(
    read: Typed, unit: str, *, sensitivity: Fraction = Fraction(1), name: str = "last digit read"
) -> Component:
    """Return the component of the last digit typed, whatever unit it was typed in; `unit` is the one it is kept in."""
    return from_resolution(step_of(read, unit), name, sensitivity=sensitivity)


def from_standard(
    used: Standard | None, *, sensitivity: Fraction = Fraction(1), name: str = "", unit: str
) -> Component | None:
    """Return the component of a standard's certificate; None where it states no uncertainty, or is in no such unit."""
    there = in_unit(used, unit)
    if there is None or not there.uncertainty or not there.k:
        return None
    source = there.certificate or f"label of {there.called}"
    return from_certificate(there.uncertainty, there.k, name or there.called, source, sensitivity=sensitivity)


def correction(used: Standard | None, read: Fraction, unit: str) -> Fraction:
    """Return what the certificate adds to a reading, both in `unit`; 0 without a standard or without corrections."""
    there = in_unit(used, unit)
    return Fraction(0) if there is None else there.correction_at(read)


def drawn(parts: Sequence[Component | None], *, name: str, what: str, unit: str) -> Mapping[str, Budget]:
    """Return the budget of one judged value by its name; nothing where one of its parts is not stated."""
    budget = budget_of(parts, unit=unit, name=what)
    return {} if budget is None else {name: budget}
