"""Differential pressure: equalised zero and span beside a reference, and a strainer's fouling at one flow.

Two gauges subtracted prove little: two of class 1.6 and 100 psi are 2.3 psi apart by themselves. One instrument with a
three-way valve is asked for. The zero has no uncertainty: both sides equal are their own standard. Nor has a point read
with two gauges, for the second one is not named.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.strainer import at_reference_flow
from assets.compute.transcendental import square_root
from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, remind, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import correction, drawn, from_standard, last_digit, other_quantity
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry

HALF = Fraction(1, 2)
"""Least share of span that the highest point reaches; own judgement."""

WATER_KPA_PER_M = Fraction("9.80")
"""Water at 15 degC, kPa for each metre."""

ROOT_NEAR = Fraction(1, 50)
"""How near to the square root, as a share of span, a display stands that takes it; own judgement."""


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
    Ask(
        name="taps", label="outlet tapping higher than the inlet by", part="settings", units=("m",), low=Fraction(-50),
        high=Fraction(50), advice="For gauges at the tappings; filled impulse lines to one instrument have none.",
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
PSI = Fraction("0.45359237") * Fraction("9.80665") / Fraction("0.0254") ** 2 / 1000
"""One pound-force to the square inch in kPa, from the exact pound, standard gravity and inch (NIST SP 811, B.8)."""
DIRTY = 5 * PSI
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
        true = one.reference.value + correction(used, one.reference.value, "kPa") if one.reference is not None else None
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


def _across(steps: Steps, inputs: Differential, known: Known) -> Entry | Typed | None:
    """Return what the strainer itself takes: what is shown less the head between the tappings."""
    taps = known.number("taps")
    if not taps:
        return inputs.across
    return steps.step(
        "across", "Across, the head between the tappings taken off at 9.80 kPa a metre", "{p} − 9.80 × {h}",
        lambda p, h: p - WATER_KPA_PER_M * h, {"p": inputs.across, "h": taps}, places=2, unit="kPa", plus=True,
    )  # fmt: skip


def _strainer(steps: Steps, inputs: Differential, known: Known) -> Fraction | None:
    reference, clean = known.number("reference_flow"), known.number("clean")
    across = _across(steps, inputs, known)
    if across is None or inputs.flow is None or not reference or inputs.flow.value <= 0:
        return None
    if at_reference_flow(across.value, inputs.flow.value, reference) is None:
        steps.say("The flow is under 0.7 of the reference flow: no value for the strainer")
        return None
    normal = steps.step(
        "strainer", f"The strainer at {plain(reference)} m³/h", "{p} × ({r} / {q})²", lambda p, r, q: p * (r / q) ** 2,
        {"p": across, "r": reference, "q": inputs.flow}, places=2, unit="kPa",
    )  # fmt: skip
    steps.step(
        "over_clean", "Over the clean strainer", "{n} − {c}", lambda n, c: n - c, {"n": normal, "c": clean}, places=2,
        unit="kPa", plus=True,
    )  # fmt: skip
    return value_of(normal)


def no_span(inputs: Differential, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: % of span without a span."""
    if (known.number("span") or 0) > 0:
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
    taken = inputs.across.value - WATER_KPA_PER_M * (known.number("taps") or Fraction(0))
    if taken > 0:
        return ()
    sentence = (
        "Nought or less across with flow is no clean strainer: a tapping is blocked, the screen is missing, or the "
        "sides are exchanged. Look."
    )
    return (ask("across", "nought", sentence, stands("looked", "Looked: both tappings are open, the screen is in")),)


def half_a_strainer(inputs: Differential, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a pressure across without its flow, or a flow without it. Remind: settings that are not written."""
    if (inputs.across is None) != (inputs.flow is None):
        empty = "flow" if inputs.flow is None else "across"
        sentence = "Strainer: the pressure across it and the flow belong together. Write both, or neither."
        return (refuse(empty, "half", sentence),)
    if inputs.across is None or (known.number("reference_flow") and known.number("clean") is not None):
        return ()
    sentence = (
        "The flow and the pressure of the clean strainer are not written for this tag, so nothing is said of it. A "
        "supervisor writes both."
    )
    return (remind("across", "no-clean", sentence),)


def root_twice(inputs: Differential, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: the root taken twice. Refuse: taken nowhere and yet a second time. Remind: not looked whether."""
    if inputs.root_too and inputs.root_at == "none":
        sentence = "The square root is taken nowhere, and yet a second time elsewhere. Choose where it is taken."
        return (refuse("root_at", "root-where", sentence),)
    if inputs.root_too:
        sentence = "The square root is taken twice: half flow then shows as 71 %. Take it in one place only."
        return (not_valid("root_too", "root-twice", sentence),)
    if inputs.root_too is None and inputs.root_at in {"transmitter", "plc"}:
        sentence = "Look whether the square root is taken a second time elsewhere: half flow then shows as 71 %."
        return (remind("root_too", "root-second", sentence),)
    return ()


def takes_the_root(inputs: Differential, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: points that stand where the square root of the pressure would, in % of span; own judgement."""
    span = known.number("span")
    points = [(true, read) for true, read in worked.model.points[1:] if span and 0 < true < span]
    if not span or not points:
        return ()
    rooted = [
        abs(read / span - square_root(true / span)) <= ROOT_NEAR < abs(read - true) / span for true, read in points
    ]
    if not all(rooted):
        return ()
    sentence = "It shows the square root of the pressure, as for a flow. Is the root taken before the display?"
    return (
        ask(
            "point1_shown", "rooted", sentence, stands("no", "Looked: no root is taken, it is off"),
            spoils("root", "It is taken: then read it as pressure"),
        ),
    )  # fmt: skip


def narrow(inputs: Differential, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: no point above half of the span; own judgement."""
    span, read = known.number("span"), [one.reference.value for one in inputs.point if one.reference is not None]
    if not span or not read or max(read) >= HALF * span:
        return ()
    sentence = f"The highest point is {plain(max(read))} kPa of a span of {plain(span)} kPa. Zero alone proves no span."
    return (
        ask(
            "point1_reference", "narrow", sentence, stands("part", "No more of the span can be had"),
            spoils("more", "Then a higher point is read"),
        ),
    )  # fmt: skip


def dirty(inputs: Differential, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: a strainer 5 psi over its clean value wants cleaning; from memory."""
    over = worked.figure("over_clean")
    if over is None or Fraction(over) < DIRTY:
        return ()
    sentence = f"The strainer is {shown(Fraction(over), 1)} kPa over its clean value, at one flow. Clean it."
    return (remind("across", "dirty", sentence),)


def budget(inputs: Differential, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of each error in % of span: the reference's and the last digit of both."""
    used, span = known.standards.get(inputs.standard), known.number("span")
    if not span or inputs.way != "one":
        return {}
    found: dict[str, Budget] = {}
    for count, one in enumerate(inputs.point, 1):
        if one.shown is None or one.reference is None:
            continue
        per = 100 / span
        parts = (
            from_standard(used, unit="kPa", sensitivity=-per),
            last_digit(one.reference, "kPa", sensitivity=-per, name="last digit of the reference"),
            last_digit(one.shown, "kPa", sensitivity=per),
        )
        found |= drawn(parts, name=f"error_{count}", what=f"error of point {count}", unit="%")
    return found


METHOD: Method[Differential] = Method(
    code="differential-pressure",
    name="Differential pressure, zero and span",
    version="1.1",
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
    budget=budget,
    budget_since="1.1",
    catches=(
        *AT_A_SIGNAL, no_span, two_gauges, no_flow_no_news, half_a_strainer, root_twice, takes_the_root, narrow, dirty,
        other_quantity("standard", "kPa"),
        reminder("root_at", "root", "For a flow by differential pressure write where the square root is taken."),
    ),
    read=reader_of(Differential),
    legends={"point": "Point"},
    headline="zero",
)  # fmt: skip
