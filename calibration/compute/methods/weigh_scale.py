"""Weigh scale: zero, and known masses up and down, in % of capacity and of the load both."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.usual_budget import against_standard

POUND = Fraction("0.45359237")


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
    band, capacity = band_for(LIMITS, known, "error"), known.number("capacity")
    zero = steps.step(
        "zero", f"Zero; {limit_said(band)}", "100 × {z} / {c}", lambda z, c: 100 * z / c,
        {"z": inputs.zero, "c": capacity}, places=2, unit="%", plus=True, beside=band, source=band.source,
    )  # fmt: skip
    steps.judge("zero", "zero", zero, band, of="capacity", standard=Fraction(0))
    points = [(Fraction(0), inputs.zero.value)] if inputs.zero is not None else []
    for count, one in enumerate(inputs.load, 1):
        off = steps.step(
            f"off_{count}", f"Load {count}: error", "{s} − {m}", lambda s, m: s - m, {"s": one.shown, "m": one.mass},
            places=3, unit="kg", plus=True,
        )  # fmt: skip
        error = steps.step(
            f"error_{count}", f"In % of capacity; {limit_said(band)}", "100 × {e} / {c}", lambda e, c: 100 * e / c,
            {"e": off, "c": capacity}, places=2, unit="%", plus=True, beside=band, source=band.source,
        )  # fmt: skip
        steps.step(
            f"of_load_{count}", "In % of the load", "100 × {e} / {m}", lambda e, m: 100 * e / m,
            {"e": off, "m": one.mass}, places=2, unit="%", plus=True,
        )  # fmt: skip
        mass = one.mass.value if one.mass is not None else None
        steps.judge(f"error_{count}", f"error of load {count}", error, band, of="capacity", at=mass, standard=mass)
        if one.mass is not None and one.shown is not None:
            points.append((one.mass.value, one.shown.value))
    return steps.worked(Model(kind="by points", points=tuple(points)), next_value={"zero": value_of(zero)})


def held(inputs: Weighed, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a pipe or ice that carries part of the load."""
    if inputs.free is not False:
        return ()
    return (not_valid("free", "held", "Something holds the scale or lies on it. Free it and weigh again."),)


def no_capacity(inputs: Weighed, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: % of capacity without a capacity."""
    if known.number("capacity"):
        return ()
    return (refuse("zero", "no-capacity", "The capacity is not written for this tag. A supervisor writes it."),)


def pounds(inputs: Weighed, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: off by the factor between kilogram and pound."""
    for count, one in enumerate(inputs.load, 1):
        if one.mass is None or one.shown is None or one.mass.value == 0:
            continue
        ratio = one.shown.value / one.mass.value
        if any(abs(ratio / factor - 1) <= Fraction(1, 20) for factor in (POUND, 1 / POUND)):
            sentence = f"“{one.shown.text}” beside “{one.mass.text}”: pounds and kilograms?"
            return (
                ask(
                    f"load{count}_shown",
                    "pounds",
                    sentence,
                    stands("units", "The units are right"),
                    spoils("no", "They are not"),
                ),
            )
    return ()


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
    return {
        name: drawn
        for count, one in enumerate(inputs.load, 1)
        for name, drawn in against_standard(
            used, one.shown, name=f"error_{count}", what=f"error of load {count}", unit="%",
            per_read=100 / capacity, per_standard=-100 / capacity,
        ).items()
    }  # fmt: skip


METHOD: Method[Weighed] = Method(
    code="weigh-scale",
    name="Weigh scale, with known masses",
    version="1.0",
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
        *AT_A_SIGNAL, held, no_capacity, pounds, tare_slip,
        reminder("tare", "corners", "Put the mass on each corner once: a scale that rocks reads differently there."),
    ),
    read=reader_of(Weighed),
    legends={"load": "Load"},
    headline="zero",
)  # fmt: skip
