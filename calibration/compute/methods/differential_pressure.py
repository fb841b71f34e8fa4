"""Differential pressure: equalised zero and span beside a reference, and a strainer's fouling at one flow.

Two gauges subtracted prove little: two of class 1.6 and 100 psi are 2.3 psi apart by themselves. One instrument with a
three-way valve is asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.strainer import at_reference_flow
from assets.compute.units import convert
from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, remind, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressed:
    """One differential pressure."""

    reference: Typed | None = number("reference shows", "kPa", "bar", "psi", low="-500", high="5000", must=True)
    shown: Typed | None = number("display shows", "kPa", "bar", "psi", low="-500", high="5000", must=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Differential(SignalRecord):
    """One set at a differential pressure instrument."""

    standard: str = standard("reference gauge", "gauge")
    way: str = choice(
        "how it is read", ("one", "One instrument with a three-way valve"), ("two", "Two gauges subtracted"), must=True
    )
    zero: Typed | None = number("display with both sides equal", "kPa", "bar", "psi", low="-500", high="500", must=True)
    point: tuple[Pressed, ...] = rows(Pressed, 1, 5)
    flow: Typed | None = number("flow through the strainer", "m³/h", "L/s", "gal/min", low="0", rare=True)
    across: Typed | None = number("display with that flow", "kPa", "bar", "psi", low="-500", high="5000", rare=True)
    root_at: str = choice(
        "square root taken in", ("none", "Nowhere"), ("transmitter", "The transmitter"), ("plc", "The PLC"), rare=True
    )
    root_too: bool | None = yes_or_no("and a second time elsewhere", rare=True)


SETTINGS = (
    Ask(name="span", label="span", part="settings", units=("kPa",), must=True, low=Fraction(0), high=Fraction(10000)),
    Ask(
        name="reference_flow", label="flow at which a strainer is compared", part="settings", units=("m³/h",),
        low=Fraction(0), high=Fraction(100000),
    ),
    Ask(
        name="clean", label="differential pressure of the clean strainer at that flow", part="settings", units=("kPa",),
        low=Fraction(0), high=Fraction(1000),
    ),
)  # fmt: skip

LIMITS = (
    Limit(
        name="error",
        what="largest error",
        unit="%",
        of="span",
        low=Fraction(-1, 2),
        high=Fraction(1, 2),
        source="common practice, no source: 0.5 % of span",
        tag="common practice",
    ),
)
DIRTY = convert(Fraction(5), "psi", "kPa")
"""Over the clean strainer by this it is cleaned, the limit itself inside: 5 psi, from memory."""


def work(inputs: Differential, known: Known) -> Worked:
    """Work out the zero and the error of each point in % of span, and the strainer's pressure at its own flow."""
    steps = Steps()
    band, span = band_for(LIMITS, known, "error"), known.number("span")
    used = known.standards.get(inputs.standard)
    points: list[tuple[Fraction, Fraction]] = []
    zero = steps.step(
        "zero", f"Zero, both sides equal; {limit_said(band)}", "100 × {z} / {w}", lambda z, w: 100 * z / w,
        {"z": inputs.zero, "w": span}, places=2, unit="%", plus=True, beside=band, source=band.source,
    )  # fmt: skip
    steps.judge("zero", "zero, both sides equal", zero, band, of="span", at=Fraction(0), standard=Fraction(0))
    if inputs.zero is not None:
        points.append((Fraction(0), inputs.zero.value))
    for count, one in enumerate(inputs.point, 1):
        correction = used.correction_at(one.reference.value) if used is not None and one.reference else Fraction(0)
        true = one.reference.value + correction if one.reference is not None else None
        error = steps.step(
            f"error_{count}", f"Point {count}: error; {limit_said(band)}", "100 × ({s} − {t}) / {w}",
            lambda s, t, w: 100 * (s - t) / w, {"s": one.shown, "t": true, "w": span}, places=2, unit="%", plus=True,
            beside=band, source=band.source,
        )  # fmt: skip
        steps.judge(f"error_{count}", f"error of point {count}", error, band, of="span", at=true, standard=true)
        if true is not None and one.shown is not None:
            points.append((true, one.shown.value))
    strainer = _strainer(steps, inputs, known)
    return steps.worked(Model(kind="by points", points=tuple(points)), next_value={"strainer": strainer})


def _strainer(steps: Steps, inputs: Differential, known: Known) -> Fraction | None:
    reference, clean = known.number("reference_flow"), known.number("clean")
    if inputs.across is None or inputs.flow is None or not reference or inputs.flow.value <= 0:
        return None
    if at_reference_flow(inputs.across.value, inputs.flow.value, reference) is None:
        steps.say("The flow is under 0.7 of the reference flow: no value for the strainer")
        return None
    normal = steps.step(
        "strainer", f"The strainer at {plain(reference)} m³/h", "{p} × ({r} / {q})²", lambda p, r, q: p * (r / q) ** 2,
        {"p": inputs.across, "r": reference, "q": inputs.flow}, places=2, unit="kPa",
    )  # fmt: skip
    steps.step(
        "over_clean", "Over the clean strainer", "{n} − {c}", lambda n, c: n - c, {"n": normal, "c": clean}, places=2,
        unit="kPa", plus=True,
    )  # fmt: skip
    return value_of(normal)


def no_span(inputs: Differential, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: % of span without a span."""
    if known.number("span"):
        return ()
    return (refuse("zero", "no-span", "The span is not written for this tag. A supervisor writes it."),)


def two_gauges(inputs: Differential, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: two gauges subtracted carry both their errors."""
    if inputs.way != "two":
        return ()
    sentence = (
        "Two gauges subtracted carry both their errors: of class 1.6 and 100 psi they are 2.3 psi apart by themselves. "
        "Use one instrument with a three-way valve."
    )
    return (
        ask(
            "way",
            "two-gauges",
            sentence,
            stands("known", "Known: only a large change counts"),
            spoils("not", "Then not"),
        ),
    )


def no_flow_no_news(inputs: Differential, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid for the strainer: equal pressures without flow say nothing; nought with flow is a blocked tapping."""
    if inputs.across is None or inputs.flow is None:
        return ()
    if inputs.flow.value == 0:
        sentence = "Without flow both sides are equal whatever the strainer holds. Read it with water running."
        return (not_valid("flow", "no-flow", sentence, about="strainer"),)
    if inputs.across.value != 0:
        return ()
    sentence = "Nought across with flow is no clean strainer: a tapping is blocked, or the screen is missing. Look."
    return (ask("across", "nought", sentence, stands("looked", "Looked: both tappings are open, the screen is in")),)


def root_twice(inputs: Differential, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: the root taken twice, in the transmitter and again in the PLC."""
    if not inputs.root_too or inputs.root_at in {"", "none"}:
        return ()
    sentence = "The square root is taken twice: half flow then shows as 71 %. Take it in one place only."
    return (not_valid("root_too", "root-twice", sentence),)


def dirty(inputs: Differential, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: a strainer 5 psi over its clean value wants cleaning; from memory."""
    over = worked.figure("over_clean")
    if over is None or Fraction(over) < DIRTY:
        return ()
    sentence = f"The strainer is {shown(Fraction(over), 1)} kPa over its clean value, at one flow. Clean it."
    return (remind("across", "dirty", sentence),)


METHOD: Method[Differential] = Method(
    code="differential-pressure",
    name="Differential pressure, zero and span",
    version="1.0",
    quantity="pressure",
    standards=("gauge",),
    asks=asks_of(Differential),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Open the equalising valve before either side, and vent before a line is loosened: pressure is stored energy.",
        "A strainer is opened drained, isolated and locked.",
    ),
    work=work,
    catches=(
        *AT_A_SIGNAL, no_span, two_gauges, no_flow_no_news, root_twice, dirty,
        reminder("root_at", "root", "For a flow by differential pressure write where the square root is taken."),
    ),
    read=reader_of(Differential),
    legends={"point": "Point"},
    headline="zero",
)  # fmt: skip
