"""Temperature: a sensor with its display beside a reference thermometer, in an ice point or a bath.

The uncertainty is that of the thermometer's certificate and of the last digits of thermometer and face; that of the
bath, how alike it is at both places, is not in it, for nothing in a check states it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.resistance_thermometer import class_limit, resistance
from calibration.compute.asked import SignalRecord, asks_of, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, remind, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import correction, drawn, from_standard, last_digit, other_quantity
from calibration.compute.standards import in_unit
from calibration.compute.steps import Steps, limit_said, value_of

COLDEST = Fraction(-2)
"""degC under which no ice point and no water is; own judgement."""

APART = Fraction(5)
"""degC that points should lie apart to say something of the span; own judgement."""


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
        true = steps.step(
            f"true_{count}", f"Point {count}: the reference with its correction", "{r} + {c}", lambda r, c: r + c,
            {"r": one.reference, "c": correction(used, one.reference.value, "°C")}, places=2, unit="°C",
            source=used.certificate if used else "",
        )  # fmt: skip
        for name, face, read in _faces(count, one):
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


def _faces(count: int, one: Bath) -> Iterator[tuple[str, str, Typed | None]]:
    yield f"error_{count}", "display", one.shown
    yield f"error_{count}_hmi", "HMI", one.hmi


def not_steady(inputs: Temperature, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: read before both had the temperature of the bath, or with a stem in the air."""
    found: list[Found] = []
    if inputs.steady is False:
        found.append(not_valid("steady", "not-steady", "They did not stand still. Wait, stir, and read both again."))
    if inputs.immersed is False:
        sentence = "One was not as deep as its mark asks: its stem then reads towards the air. Set it deeper."
        found.append(not_valid("immersed", "not-deep", sentence))
    return tuple(found)


def below_ice(inputs: Temperature, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: colder than any water is a degree Celsius written as Fahrenheit, which makes an error look small."""
    return tuple(
        ask(
            f"point{count}_reference", f"below-ice-{count}",
            f"“{one.reference.text}” {one.reference.unit} is {shown(one.reference.value, 1)} °C, below any ice water. "
            "Is it the right unit?",
            stands("cold", "It is a cold bath, not water"), spoils("unit", "It is another unit"),
        )
        for count, one in enumerate(inputs.point, 1)
        if one.reference is not None and one.reference.value < COLDEST
    )  # fmt: skip


def alike(inputs: Temperature, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: points at one temperature prove no more than one of them does."""
    values = [one.reference.value for one in inputs.point if one.reference is not None]
    if len(values) < 2 or max(values) - min(values) >= APART:
        return ()
    sentence = f"The points lie less than {plain(APART)} °C apart: they prove one temperature, not the span."
    return (remind("point2_reference", "alike", sentence),)


def beyond_certificate(inputs: Temperature, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: a reading beyond the corrected points takes the correction of the nearest."""
    used = in_unit(known.standards.get(inputs.standard), "°C")
    if used is None or not used.corrections:
        return ()
    low, high = min(used.corrections)[0], max(used.corrections)[0]
    return tuple(
        remind(
            f"point{count}_reference", f"beyond-{count}",
            f"{used.called} is corrected from {plain(low, most=2)} to {plain(high, most=2)} °C; the nearest correction "
            f"is taken for {shown(one.reference.value, 1)} °C.",
        )
        for count, one in enumerate(inputs.point, 1)
        if one.reference is not None and not low <= one.reference.value <= high
    )  # fmt: skip


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
        why = "Two leads add their own resistance and read high." if high else "Is it the element written for this tag?"
        sentence = f"“{one.ohm.text}” Ω; at this temperature {shown(expected, 1)} Ω are right. {why}"
        found.append(
            ask(
                f"point{count}_ohm", f"element-{count}", sentence, stands("looked", "Looked at the wires: it is so"),
                spoils("other", "It is another element"),
            )
        )  # fmt: skip
    return tuple(found)


def large_correction(inputs: Temperature, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: the sign of a correction is to be added to what the reference shows."""
    used = in_unit(known.standards.get(inputs.standard), "°C")
    if used is None or not any(abs(add) >= Fraction("0.2") for _, add in used.corrections):
        return ()
    sentence = f"The certificate of {used.called} corrects by 0.2 °C and more; it is added here, not by you."
    return (remind("standard", "correction", sentence),)


def budget(inputs: Temperature, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of each error: the thermometer's, its last digit and that of the face."""
    used = known.standards.get(inputs.standard)
    found: dict[str, Budget] = {}
    for count, one in enumerate(inputs.point, 1):
        for name, face, read in _faces(count, one):
            if read is None or one.reference is None:
                continue
            parts = (
                from_standard(used, unit="°C", sensitivity=Fraction(-1)),
                last_digit(one.reference, "°C", sensitivity=Fraction(-1), name="last digit of the reference"),
                last_digit(read, "°C"),
            )
            found |= drawn(parts, name=name, what=f"error at the {face}, point {count}", unit="°C")
    return found


METHOD: Method[Temperature] = Method(
    code="temperature",
    name="Temperature, beside a reference thermometer",
    version="1.1",
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
        *AT_A_SIGNAL, not_steady, below_ice, alike, beyond_certificate, wrong_element, large_correction,
        other_quantity("standard", "°C"),
        reminder("immersed", "depth", "Both as deep as their marks ask: a stem in the air reads towards the room."),
    ),
    read=reader_of(Temperature),
    legends={"point": "Point"},
    headline="error_1",
)  # fmt: skip
