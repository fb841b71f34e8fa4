"""What can be wrong with a test against a measured tank, and how it is caught."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from calibration.compute.doubts import ask, not_valid, refuse, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Found, Known, Worked
from calibration.compute.methods.flow_volume.asks import Volume
from calibration.compute.methods.flow_volume.working import written_area
from calibration.compute.standard_units import step_of

SHORT = Fraction(20)
"""Least drop in steps of the level reading: below it the reading itself is 5 % of the result; own judgement."""

DAMPED = Fraction(10)
"""A test lasts so many times the damping of the meter; own judgement."""

AREAS_APART = Fraction(1, 20)
"""The area by the tank's table and the written one agree within this share; own judgement."""

SLIPS = (
    ("3.6", "L/s and m³/h"),
    ("10", "a multiplier or a pulse value of ten"),
    ("3.785", "gallons and litres"),
    ("3.281", "feet and metres"),
    ("4", "the squares of a diameter and a radius"),
    ("12", "feet and inches"),
    ("1000", "litres and cubic metres"),
)
"""Factors by which a unit, a multiplier or a dimension is off, each known to a twentieth."""


def not_a_test(inputs: Volume, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: other water in or out, a level that went the wrong way, an empty pipe, a forced value."""
    found: list[Found] = []
    if inputs.shut is False:
        sentence = "Water went in or out another way. Shut it and test again; the volume is not the meter's alone."
        found.append(not_valid("shut", "shut", sentence))
    change, true = worked.figure("change"), worked.figure("true")
    if change is not None and change <= 0:
        sentence = "The level did not move the way the tank is said to be used. Look at both levels, or the choice."
        found.append(not_valid("last", "way", sentence))
    elif true is not None and true <= 0 and (worked.figure("area") or 0) > 0:
        sentence = (
            "More would have leaked than the level moved. Look at the leak and its unit: it is the fall in an hour."
        )
        found.append(not_valid("leak", "leak", sentence))
    if inputs.full is False:
        found.append(not_valid("full", "full", "The pipe was not full: the meter reads air. Fill it and test again."))
    if inputs.direction is False:
        found.append(not_valid("direction", "direction", "The meter stands against the flow. Turn it and test again."))
    if inputs.steady_constant:
        sentence = "A value that stands still for an hour is forced, held or frozen. Free it, then test again."
        found.append(not_valid("steady_constant", "constant", sentence))
    if known.forced and inputs.hmi is not None:
        sentence = "A value is forced at this place, so the HMI shows no reading of the meter. It is left out."
        found.append(not_valid("hmi", "forced", sentence, about="hmi"))
    return tuple(found)


def no_area(inputs: Volume, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a tank without an area above nought, or one volume of its table without the other."""
    typed = [one for one in (inputs.volume_first, inputs.volume_last) if one is not None]
    if len(typed) == 1:
        empty = "volume_first" if inputs.volume_first is None else "volume_last"
        sentence = "Volume by the tank’s table: one of the two is not written. Write what it gives for both levels."
        return (refuse(empty, "one-volume", sentence),)
    if typed or (written_area(inputs, known) or 0) > 0:
        return ()
    sentence = "Measured tank: its area is written neither with the tank nor for this tag. Measure the inside diameter."
    return (refuse("tank", "no-area", sentence),)


def table_otherwise(inputs: Volume, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: volumes that do not move as the levels do. Ask: a table and an area that tell of two tanks."""
    volume, area, change = (worked.figure(name) for name in ("volume", "area", "change"))
    if volume is None:
        return ()
    if volume <= 0 and change is not None and change > 0:
        sentence = "The volumes do not move as the levels do. Are the two exchanged, or is one of another row?"
        return (not_valid("volume_last", "volume", sentence),)
    other = written_area(inputs, known)
    if not other or not area or abs(Fraction(area) / other - 1) <= AREAS_APART:
        return ()
    sentence = (
        f"By its table the tank has {shown(area, 2)} m² between these levels, {plain(other, most=2)} m² are written. "
        "Is it the row of this level, and the inside diameter?"
    )
    return (ask("volume_last", "table", sentence, stands("shape", "It is so: the tank is not straight there")),)


def short_drop(inputs: Volume, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a change of less than 20 steps of the level reading, written or as typed; own judgement."""
    change = worked.figure("change")
    typed = [step_of(one, "m") for one in (inputs.first, inputs.last) if one is not None]
    step = max([known.number("level_step") or Fraction(0), *typed])
    if change is None or change <= 0 or Fraction(change) >= SHORT * step:
        return ()
    sentence = (
        f"The level moved {shown(Fraction(change), 3)} m, less than twenty steps of {plain(step)} m. The reading alone "
        "is then more than 5 % of the result. Test longer."
    )
    return (ask("last", "short", sentence, stands("known", "It is all there is"), spoils("longer", "Test again")),)


def damped(inputs: Volume, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a damping that is long beside the test; own judgement."""
    if inputs.damping is None or inputs.seconds is None or inputs.seconds.value >= DAMPED * inputs.damping.value:
        return ()
    sentence = (
        f"A damping of “{inputs.damping.text}” s is long beside a test of “{inputs.seconds.text}” "
        f"{inputs.seconds.unit}. Test longer?"
    )
    return (
        ask(
            "damping", "damped", sentence, stands("mean", "The mean was taken after it settled"),
            spoils("longer", "Test again, longer"),
        ),
    )  # fmt: skip


def unit_slip(inputs: Volume, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: off by 3.6, 10 or 3.785: a unit, a multiplier or a pulse value, not a worn meter."""
    read = inputs.indicated.value if inputs.indicated is not None else None
    pairs = (
        ("indicated", "unit", "meter", read, worked.figure("true")),
        ("total_last", "unit-total", "totalizer", worked.figure("total_counted"), worked.figure("through")),
    )
    return tuple(
        ask(
            field, key, f"The {what} is off by {factor}, as {words} are. Was a unit, a multiplier or a size mistaken?",
            stands("looked", f"Looked: units are right, the {what} is off"), spoils("unit", "The unit was wrong"),
        )
        for field, key, what, read, true in pairs
        for factor, words in _slips(read, true)
    )  # fmt: skip


def _slips(read: Fraction | float | None, true: Fraction | float | None) -> Iterator[tuple[str, str]]:
    if read is None or true is None or read <= 0 or true <= 0:
        return
    ratio = max(Fraction(read) / Fraction(true), Fraction(true) / Fraction(read))
    factor, words = min(SLIPS, key=lambda one: abs(ratio / Fraction(one[0]) - 1))
    if abs(ratio / Fraction(factor) - 1) <= Fraction(1, 20):
        yield factor, words


def half_a_total(inputs: Volume, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a totalizer read at one end. Not valid for it: one that went down."""
    typed = [one for one in (inputs.total_first, inputs.total_last) if one is not None]
    if len(typed) == 1:
        empty = "total_first" if inputs.total_first is None else "total_last"
        return (refuse(empty, "one-total", "The totalizer is read at both ends or not at all. Write the other one."),)
    counted = worked.figure("total_counted")
    if counted is None or counted >= 0:
        return ()
    sentence = (
        "The totalizer went down: are its two readings exchanged, or did it begin anew at nought? It is left out."
    )
    return (not_valid("total_last", "total-down", sentence, about="total"),)
