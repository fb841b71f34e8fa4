"""Temperature: a sensor with its display beside a reference thermometer, in an ice point or a bath."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.resistance_thermometer import class_limit, resistance
from calibration.compute.asked import SignalRecord, asks_of, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, remind, reminder, spoils, stands
from calibration.compute.figures import shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.usual_budget import against_standard


@dataclass(frozen=True, slots=True, kw_only=True)
class Bath:
    """One temperature: what the reference shows, what is shown at the display and at the HMI."""

    reference: Typed | None = number("reference shows", "°C", "°F", low="-40", high="150", must=True)
    shown: Typed | None = number("display shows", "°C", "°F", low="-60", high="200", must=True)
    hmi: Typed | None = number("HMI shows", "°C", "°F", low="-60", high="200", rare=True)
    ohm: Typed | None = number("resistance of the sensor", "Ω", low="0", high="5000", rare=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Temperature(SignalRecord):
    """One set at a temperature sensor."""

    standard: str = standard("reference thermometer", "thermometer")
    point: tuple[Bath, ...] = rows(Bath, 1, 3)
    steady: bool | None = yes_or_no("both stood still", must=True)
    immersed: bool | None = yes_or_no("both as deep as their marks ask", rare=True)


SETTINGS = (
    Ask(
        name="element",
        label="element of the sensor",
        part="settings",
        kind="choice",
        choices=(("pt100", "Pt100"), ("pt1000", "Pt1000"), ("other", "another")),
    ),
)

LIMITS = (
    Limit(
        name="error",
        what="error of the display",
        unit="°C",
        of="",
        low=Fraction("-0.5"),
        high=Fraction("0.5"),
        source="30 TAC 290.110: 0.5 °C",
        tag="standard",
    ),
)


def work(inputs: Temperature, known: Known) -> Worked:
    """Work out the error at each temperature; the largest is the headline, each is judged."""
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    used = known.standards.get(inputs.standard)
    points: list[tuple[Fraction, Fraction]] = []
    for count, one in enumerate(inputs.point, 1):
        if one.reference is None:
            continue
        correction = used.correction_at(one.reference.value) if used is not None else Fraction(0)
        true = steps.step(
            f"true_{count}", f"Point {count}: the reference with its correction", "{r} + {c}", lambda r, c: r + c,
            {"r": one.reference, "c": correction}, places=2, unit="°C", source=used.certificate if used else "",
        )  # fmt: skip
        for face, read in (("display", one.shown), ("HMI", one.hmi)):
            name = f"error_{count}" if face == "display" else f"error_{count}_hmi"
            error = steps.step(
                name, f"Point {count}: error at the {face}; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
                {"s": read, "t": true}, places=2, unit="°C", plus=True, beside=band, source=band.source,
            )  # fmt: skip
            steps.judge(
                name, f"error at the {face}, point {count}", error, band, face=face, standard=value_of(true),
                at=value_of(true),
            )  # fmt: skip
        if true is not None and one.shown is not None:
            points.append((true.value, one.shown.value))
    return steps.worked(Model(kind="by points" if len(points) > 1 else "offset", points=tuple(points)))


def not_steady(inputs: Temperature, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: read before both had the temperature of the bath."""
    if inputs.steady is not False:
        return ()
    return (not_valid("steady", "not-steady", "They did not stand still. Wait, stir, and read both again."),)


def wrong_element(inputs: Temperature, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a resistance that belongs to another element, or one with its leads in it."""
    found: list[Found] = []
    at_zero = {"pt100": Fraction(100), "pt1000": Fraction(1000)}.get(known.settings.get("element", ""))
    for count, one in enumerate(inputs.point, 1):
        if one.ohm is None or one.reference is None or at_zero is None:
            continue
        expected = resistance(one.reference.value, at_zero)
        step = at_zero * Fraction("0.0039083") * (1 + class_limit("B", one.reference.value))
        if abs(one.ohm.value - expected) <= step:
            continue
        high = one.ohm.value > expected
        why = "two leads add their own resistance and read high" if high else "is it the element written for this tag?"
        sentence = f"“{one.ohm.text}” Ω; at this temperature {shown(expected, 1)} Ω are right: {why}."
        found.append(
            ask(
                f"point{count}_ohm", f"element-{count}", sentence, stands("looked", "Looked at the wires: it is so"),
                spoils("other", "It is another element"),
            )
        )  # fmt: skip
    return tuple(found)


def large_correction(inputs: Temperature, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: the sign of a correction is to be added to what the reference shows."""
    used = known.standards.get(inputs.standard)
    if used is None or not any(abs(add) >= Fraction("0.2") for _, add in used.corrections):
        return ()
    sentence = f"The certificate of {used.called} corrects by 0.2 °C and more; it is added here, not by you."
    return (remind("standard", "correction", sentence),)


def budget(inputs: Temperature, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of each error: the reference thermometer's and the last digit of the display."""
    used = known.standards.get(inputs.standard)
    return {
        name: drawn
        for count, one in enumerate(inputs.point, 1)
        for name, drawn in against_standard(
            used, one.shown, name=f"error_{count}", what=f"error of point {count}", unit="°C"
        ).items()
    }


METHOD: Method[Temperature] = Method(
    code="temperature",
    name="Temperature, beside a reference thermometer",
    version="1.0",
    quantity="temperature",
    standards=("thermometer",),
    asks=asks_of(Temperature),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "A pocket in a pipe under pressure stays in the pipe: take out the element, never the pocket.",
        "Temperature moves pH, chlorine and oxygen readings: put what depends on it on hold.",
    ),
    work=work,
    budget=budget,
    catches=(
        *AT_A_SIGNAL, not_steady, wrong_element, large_correction,
        reminder("immersed", "depth", "Both as deep as their marks ask: a stem in the air reads towards the room."),
    ),
    read=reader_of(Temperature),
    legends={"point": "Point"},
    headline="error_1",
)  # fmt: skip
