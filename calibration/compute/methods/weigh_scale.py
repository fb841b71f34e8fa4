"""Weigh scale: zero, and known masses up and down, in % of capacity and of the load both.

The zero has no uncertainty of its own: an empty scale is its own standard.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import plain
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import correction, drawn, from_standard, last_digit, other_quantity
from calibration.compute.standards import Standard
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry

POUND = Fraction("0.45359237")

ENOUGH = Fraction(1, 3)
"""Least share of capacity that the largest load is; own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One known mass on the scale."""

    mass: Typed | None = number("mass put on", "kg", "lb", low="0", high="50000", must=True)
    shown: Typed | None = number("scale shows", "kg", "lb", low="-1000", high="50000", must=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed(SignalRecord):
    """One set at a scale."""

    standard: str = standard("test masses", "mass", must=False)
    zero: Typed | None = number("scale shows, empty", "kg", "lb", low="-1000", high="50000", must=True)
    load: tuple[Load, ...] = rows(Load, 1, 6)
    free: bool | None = yes_or_no("no pipe, hose or ice holds it", must=True)
    tare: str = choice("the loads are", ("net", "Net, tare taken off"), ("gross", "Gross"), rare=True)
    container: str = choice(
        "empty weight of the container", ("own", "Of this container"), ("other", "Of another one"), rare=True
    )


SETTINGS = (
    Ask(
        name="capacity",
        label="capacity",
        part="settings",
        units=("kg",),
        must=True,
        low=Fraction(0),
        high=Fraction(100000),
    ),
)

LIMITS = (
    Limit(
        name="error",
        what="error",
        unit="%",
        of="capacity",
        low=Fraction(-1, 2),
        high=Fraction(1, 2),
        source="common practice, no source: 0.5 % of capacity",
        tag="common practice",
    ),
)


def work(inputs: Weighed, known: Known) -> Worked:
    """Judge zero and each load in % of capacity; in % of the load beside it."""
    steps = Steps()
    used = known.standards.get(inputs.standard)
    band, capacity = band_for(LIMITS, known, "error"), known.number("capacity")
    zero = steps.step(
        "zero", f"Zero; {limit_said(band)}", "100 × {z} / {c}", lambda z, c: 100 * z / c,
        {"z": inputs.zero, "c": capacity}, places=2, unit="%", plus=True, beside=band, source=band.source,
    )  # fmt: skip
    steps.judge("zero", "zero", zero, band, of="capacity", standard=Fraction(0))
    points = [(Fraction(0), inputs.zero.value)] if inputs.zero is not None else []
    for count, one in enumerate(inputs.load, 1):
        mass = _mass(steps, used, one, count)
        off = steps.step(
            f"off_{count}", f"Load {count}: error", "{s} − {m}", lambda s, m: s - m, {"s": one.shown, "m": mass},
            places=3, unit="kg", plus=True,
        )  # fmt: skip
        error = steps.step(
            f"error_{count}", f"In % of capacity; {limit_said(band)}", "100 × {e} / {c}", lambda e, c: 100 * e / c,
            {"e": off, "c": capacity}, places=2, unit="%", plus=True, beside=band, source=band.source,
        )  # fmt: skip
        steps.step(
            f"of_load_{count}", "In % of the load", "100 × {e} / {m}", lambda e, m: 100 * e / m,
            {"e": off, "m": mass}, places=2, unit="%", plus=True,
        )  # fmt: skip
        true = mass.value if mass is not None else None
        steps.judge(f"error_{count}", f"error of load {count}", error, band, of="capacity", at=true, standard=true)
        if true is not None and one.shown is not None:
            points.append((true, one.shown.value))
    return steps.worked(Model(kind="by points", points=tuple(points)), next_value={"zero": value_of(zero)})


def _mass(steps: Steps, used: Standard | None, one: Load, count: int) -> Typed | Entry | None:
    """Return the mass put on, with what the certificate of the masses adds to it."""
    added = correction(used, one.mass.value, "kg") if one.mass is not None else Fraction(0)
    if not added:
        return one.mass
    return steps.step(
        f"mass_{count}", f"Load {count}: the mass with its correction", "{m} + {c}", lambda m, c: m + c,
        {"m": one.mass, "c": added}, places=4, unit="kg",
    )  # fmt: skip


def held(inputs: Weighed, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a pipe or ice that carries part of the load."""
    if inputs.free is not False:
        return ()
    return (not_valid("free", "held", "Something holds the scale or lies on it. Free it and weigh again."),)


def no_capacity(inputs: Weighed, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: % of capacity without a capacity."""
    if (known.number("capacity") or 0) > 0:
        return ()
    return (refuse("zero", "no-capacity", "The capacity is not written for this tag. A supervisor writes it."),)


def pounds(inputs: Weighed, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a load, any of them, off by the factor between kilogram and pound."""
    slipped = [
        (count, one.mass, one.shown)
        for count, one in enumerate(inputs.load, 1)
        if one.mass is not None and one.shown is not None and _as_pounds(one.mass.value, one.shown.value)
    ]
    if not slipped:
        return ()
    said = ", ".join(f"“{shown.text}” beside “{mass.text}”" for _, mass, shown in slipped)
    return (
        ask(
            f"load{slipped[0][0]}_shown", "pounds", f"{said}: pounds and kilograms?",
            stands("units", "The units are right"), spoils("no", "They are not"),
        ),
    )  # fmt: skip


def _as_pounds(mass: Fraction, shown: Fraction) -> bool:
    return mass > 0 and any(abs(shown / mass / factor - 1) <= Fraction(1, 20) for factor in (POUND, 1 / POUND))


def light(inputs: Weighed, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: no load above a third of the capacity, which proves little more than the zero; own judgement."""
    capacity, masses = known.number("capacity"), [one.mass.value for one in inputs.load if one.mass is not None]
    if not capacity or not masses or max(masses) >= ENOUGH * capacity:
        return ()
    sentence = (
        f"The largest load is {plain(max(masses))} kg of a capacity of {plain(capacity)} kg. What is weighed there "
        "weighs more."
    )
    return (
        ask(
            "load1_mass", "light", sentence, stands("none", "There is no larger mass here"),
            spoils("more", "Then a larger one is put on"),
        ),
    )  # fmt: skip


def no_masses(inputs: Weighed, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a mass without a standard behind it is known by word alone."""
    if inputs.standard or not any(one.mass is not None for one in inputs.load):
        return ()
    sentence = "No test masses are named, so nothing says what the loads weigh. Where is their mass from?"
    return (
        ask(
            "standard", "no-masses", sentence, stands("addition", "A known addition: say how it is known"),
            spoils("unknown", "Nobody knows it well enough"),
        ),
    )  # fmt: skip


def tare_slip(inputs: Weighed, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: gross taken for net, or the empty weight of another container."""
    found: list[Found] = []
    if inputs.tare == "gross":
        sentence = "Gross beside a known net mass: take the tare off, or write the mass with the container."
        found.append(ask("tare", "gross", sentence, stands("both", "Both are gross"), spoils("mixed", "Mixed")))
    if inputs.container == "other":
        sentence = "The empty weight of another container is not that of this one. Use the one stamped on it."
        found.append(not_valid("container", "container", sentence))
    return tuple(found)


def budget(inputs: Weighed, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of each error in % of capacity: the masses' and the last digit."""
    used, capacity = known.standards.get(inputs.standard), known.number("capacity")
    if not capacity:
        return {}
    found: dict[str, Budget] = {}
    for count, one in enumerate(inputs.load, 1):
        if one.shown is not None:
            parts = (
                from_standard(used, unit="kg", sensitivity=-100 / capacity),
                last_digit(one.shown, "kg", sensitivity=100 / capacity),
            )
            found |= drawn(parts, name=f"error_{count}", what=f"error of load {count}", unit="%")
    return found


METHOD: Method[Weighed] = Method(
    code="weigh-scale",
    name="Weigh scale, with known masses",
    version="1.1",
    quantity="mass",
    standards=("mass",),
    asks=asks_of(Weighed),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Lift masses with help or a hoist; keep fingers and feet from under them.",
        "Chlorine containers: chocked and chained, detector on, by the site's procedure only.",
    ),
    work=work,
    budget=budget,
    catches=(
        *AT_A_SIGNAL, held, no_capacity, no_masses, light, pounds, tare_slip,
        other_quantity("standard", "kg"),
        reminder("tare", "corners", "Put the mass on each corner once: a scale that rocks reads differently there."),
    ),
    read=reader_of(Weighed),
    legends={"load": "Load"},
    headline="zero",
)  # fmt: skip
