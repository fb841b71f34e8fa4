"""Pressure: a gauge or transmitter beside a reference gauge, up and down through its range."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said
from calibration.compute.usual_budget import against_standard


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressed:
    """One pressure: going up or down, the reference and what is checked."""

    way: str = choice("going", ("up", "Up"), ("down", "Down"), must=True)
    reference: Typed | None = number("reference shows", "kPa", "bar", "psi", low="-110", high="5000", must=True)
    shown: Typed | None = number("display shows", "kPa", "bar", "psi", low="-110", high="5000", must=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressure(SignalRecord):
    """One set at a pressure instrument."""

    standard: str = standard("reference gauge", "gauge")
    point: tuple[Pressed, ...] = rows(Pressed, 3, 10)
    vented: bool | None = yes_or_no("isolated, and vented before it was opened", must=True)
    tapped: bool | None = yes_or_no("tapped before each reading", rare=True)
    head: Typed | None = number("reference higher than what is checked by", "m", "ft", low="-50", high="50", rare=True)
    snubber: bool | None = yes_or_no("snubber open", rare=True)


SETTINGS = (
    Ask(name="span", label="span", part="settings", units=("kPa",), must=True, low=Fraction(0), high=Fraction(10000)),
    Ask(
        name="class", label="accuracy class of a gauge, % of span", part="settings", units=("%",), low=Fraction(0),
        high=Fraction(10), advice="1.6 for a class 1.6 gauge; empty for a transmitter: 0.5 %.",
    ),
)  # fmt: skip


def _allowed(known: Known, at: Fraction) -> Fraction:
    return known.number("class") or Fraction(1, 2)


LIMITS = (
    Limit(
        name="error",
        what="largest error",
        unit="%",
        of="span",
        low=lambda known, at: -_allowed(known, at),
        high=_allowed,
        source="class of the gauge (EN 837-1, second-hand); a transmitter 0.5 % of span, common practice",
        tag="common practice",
    ),
)
WATER_KPA_PER_M = Fraction("9.80")


def _true(reference: Fraction, correction: Fraction, metres: Fraction) -> Fraction:
    return reference + correction + WATER_KPA_PER_M * metres


def work(inputs: Pressure, known: Known) -> Worked:
    """Work out the error of each point in % of span, zero, hysteresis and non-linearity."""
    steps = Steps()
    band, span = band_for(LIMITS, known, "error"), known.number("span")
    used = known.standards.get(inputs.standard)
    metres = inputs.head.value if inputs.head is not None else Fraction(0)
    points: list[tuple[Fraction, Fraction, str]] = []
    for count, one in enumerate(inputs.point, 1):
        if one.reference is None or one.shown is None or span is None:
            continue
        correction = used.correction_at(one.reference.value) if used is not None else Fraction(0)
        true = _true(one.reference.value, correction, metres)
        if true != one.reference.value:
            steps.step(
                f"true_{count}", f"Point {count}: the reference, its correction, and 9.80 kPa for each metre of head",
                "{r} + {c} + 9.80 × {h}", lambda r, c, h: _true(r, c, h),
                {"r": one.reference, "c": correction, "h": inputs.head or Fraction(0)}, places=2, unit="kPa",
            )  # fmt: skip
        points.append((true, one.shown.value, one.way))
        error = steps.step(
            f"error_{count}", f"Point {count}, going {one.way or '…'}: error; {limit_said(band)}",
            "100 × ({s} − {t}) / {w}", lambda s, t, w: 100 * (s - t) / w, {"s": one.shown, "t": true, "w": span},
            places=2, unit="%", plus=True, beside=band, source=band.source,
        )  # fmt: skip
        steps.judge(f"error_{count}", f"error of point {count}", error, band, of="span", at=true, standard=true)
    _shape(steps, points, span)
    pairs = tuple((true, read) for true, read, _ in points)
    return steps.worked(Model(kind="by points", points=pairs))


def hysteresis(points: list[tuple[Fraction, Fraction, str]]) -> Fraction | None:
    """Return the largest difference of the error going up and going down at one pressure, in its unit."""
    up = {true: read for true, read, way in points if way == "up"}
    down = {true: read for true, read, way in points if way == "down"}
    both = [abs((up[true]) - (down[true])) for true in up if true in down]
    return max(both) if both else None


def non_linearity(points: list[tuple[Fraction, Fraction, str]]) -> Fraction | None:
    """Return the largest distance of the mean curve from the straight line through its ends, in its unit."""
    curve: dict[Fraction, list[Fraction]] = {}
    for true, read, _ in points:
        curve.setdefault(true, []).append(read)
    mean = sorted((true, sum(reads, Fraction(0)) / len(reads)) for true, reads in curve.items())
    if len(mean) < 3 or mean[0][0] == mean[-1][0]:
        return None
    (x0, y0), (x1, y1) = mean[0], mean[-1]
    return max(abs(y - (y0 + (y1 - y0) * (x - x0) / (x1 - x0))) for x, y in mean)


def _shape(steps: Steps, points: list[tuple[Fraction, Fraction, str]], span: Fraction | None) -> None:
    if not span:
        return
    for name, text, value in (
        ("hysteresis", "Hysteresis: up and down at one pressure, % of span", hysteresis(points)),
        ("non_linearity", "Distance from the line through the ends, % of span", non_linearity(points)),
    ):
        if value is not None:
            steps.given(name, text, 100 * value / span, places=2, unit="%", source="largest of the points")


def not_vented(inputs: Pressure, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: an instrument that was not isolated and vented has no zero, and hurts."""
    if inputs.vented is not False:
        return ()
    sentence = "It was not isolated and vented: there is no zero, and opening it can hurt. Isolate, vent, then begin."
    return (not_valid("vented", "vented", sentence),)


def no_span(inputs: Pressure, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: % of span without a span."""
    if known.number("span"):
        return ()
    return (refuse("point1_shown", "no-span", "The span is not written for this tag. A supervisor writes it."),)


def coarse_reference(inputs: Pressure, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a reference not four times better than the limit; own judgement."""
    used, span = known.standards.get(inputs.standard), known.number("span")
    if used is None or used.uncertainty is None or span is None:
        return ()
    ratio = _allowed(known, Fraction(0)) / 100 * span / used.uncertainty
    if ratio >= 4:
        return ()
    sentence = (
        f"The limit is only {shown(ratio, 1)} times the uncertainty of {used.called}; 4 is usual. Is there a better?"
    )
    return (ask("standard", "coarse", sentence, stands("known", "There is none better here")),)


def zero_pressure(inputs: Pressure, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: absolute and gauge pressure exchanged: an error near one atmosphere at every point."""
    errors = [
        one.shown.value - one.reference.value
        for one in inputs.point
        if one.shown is not None and one.reference is not None
    ]
    if not errors or not all(90 <= abs(error) <= 110 for error in errors):
        return ()
    sentence = f"Every point is off by about one atmosphere, {plain(errors[0])} kPa. Absolute beside gauge pressure?"
    return (
        ask(
            "point1_shown", "absolute", sentence, stands("both gauge", "Both are gauge pressure"),
            spoils("mixed", "One is absolute"),
        ),
    )  # fmt: skip


def snubber_shut(inputs: Pressure, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: behind a shut snubber nothing arrives."""
    if inputs.snubber is not False:
        return ()
    return (not_valid("snubber", "snubber", "The snubber was shut: the pressure did not arrive. Open it, read again."),)


def budget(inputs: Pressure, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of each error in % of span: the reference's and the last digit."""
    used, span = known.standards.get(inputs.standard), known.number("span")
    if not span:
        return {}
    return {
        name: drawn
        for count, one in enumerate(inputs.point, 1)
        for name, drawn in against_standard(
            used, one.shown, name=f"error_{count}", what=f"error of point {count}", unit="%", per_read=100 / span,
            per_standard=-100 / span,
        ).items()
    }  # fmt: skip


METHOD: Method[Pressure] = Method(
    code="pressure",
    name="Pressure, beside a reference gauge",
    version="1.0",
    quantity="pressure",
    standards=("gauge",),
    asks=asks_of(Pressure),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Pressure is stored energy: isolate, vent, prove it gone, and lock where somebody could open it again.",
        "Chlorine and chemical lines are opened by trained people only, by the site's procedure.",
    ),
    work=work,
    budget=budget,
    catches=(
        *AT_A_SIGNAL, not_vented, no_span, coarse_reference, zero_pressure, snubber_shut,
        reminder("tapped", "tapped", "Tap a gauge before each reading: a sticking pointer looks like hysteresis."),
        reminder("head", "head", "A reference higher than the gauge sees less: 1.8 m of water are 17.6 kPa."),
    ),
    read=reader_of(Pressure),
    legends={"point": "Point"},
    headline="error_1",
)  # fmt: skip
