"""Pressure: a gauge or transmitter beside a reference gauge, up and down through its range.

The reference is never set twice to the same last digit. Pressures within 2 % of span of one another count as the same
input; what is then compared, going up and going down, are the errors, so that the difference of the two falls out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, remind, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import correction, drawn, from_standard, last_digit, other_quantity
from calibration.compute.standards import in_unit
from calibration.compute.steps import Steps, limit_said


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


SAME = Fraction(1, 50)
"""Share of span within which two pressures are the same input; own judgement."""

WIDE, LEVELS = Fraction(3, 4), 3
"""Least share of span that the pressures cover, and how many different ones there are at least; own judgement."""


def _allowed(known: Known, at: Fraction) -> Fraction:
    stated = known.number("class")
    return Fraction(1, 2) if stated is None else stated


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
        added = correction(used, one.reference.value, "kPa")
        true = _true(one.reference.value, added, metres)
        if true != one.reference.value:
            steps.step(
                f"true_{count}", f"Point {count}: the reference, its correction, and 9.80 kPa for each metre of head",
                "{r} + {c} + 9.80 × {h}", lambda r, c, h: _true(r, c, h),
                {"r": one.reference, "c": added, "h": inputs.head or Fraction(0)}, places=2, unit="kPa",
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


def hysteresis(points: list[tuple[Fraction, Fraction, str]], same: Fraction = Fraction(0)) -> Fraction | None:
    """Return the largest difference of the errors going up and down at one input, in the unit of the points.

    points: (true, shown, way); same: how far apart two pressures may be and still be one input. None without a pair.
    """
    ups, downs = ([(true, read - true) for true, read, way in points if way == one] for one in ("up", "down"))
    return max((abs(e - f) for x, e in ups for y, f in downs if abs(x - y) <= same), default=None)


def non_linearity(points: list[tuple[Fraction, Fraction, str]], same: Fraction = Fraction(0)) -> Fraction | None:
    """Return the largest distance of the mean curve from the straight line through its ends, in its unit.

    points and same as for `hysteresis`; None with fewer than three different inputs.
    """
    inputs: list[list[tuple[Fraction, Fraction]]] = []
    for true, read in sorted((true, read) for true, read, _ in points):
        if inputs and true - inputs[-1][0][0] <= same:
            inputs[-1].append((true, read))
        else:
            inputs.append([(true, read)])
    mean = [_mean(group) for group in inputs]
    if len(mean) < LEVELS:
        return None
    (x0, y0), (x1, y1) = mean[0], mean[-1]
    return max(abs(y - (y0 + (y1 - y0) * (x - x0) / (x1 - x0))) for x, y in mean)


def _mean(group: list[tuple[Fraction, Fraction]]) -> tuple[Fraction, Fraction]:
    return (
        sum((x for x, _ in group), Fraction(0)) / len(group),
        sum((y for _, y in group), Fraction(0)) / len(group),
    )


def _shape(steps: Steps, points: list[tuple[Fraction, Fraction, str]], span: Fraction | None) -> None:
    if not span:
        return
    for name, text, value in (
        ("hysteresis", "Hysteresis: up and down at one pressure, % of span", hysteresis(points, SAME * span)),
        ("non_linearity", "Distance from the line through the ends, % of span", non_linearity(points, SAME * span)),
    ):
        if value is not None:
            source = "largest of the points; pressures within 2 % of span are one input, own judgement"
            steps.given(name, text, 100 * value / span, places=2, unit="%", source=source)


def narrow(inputs: Pressure, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: pressures that leave most of the span unseen, or are one and the same again; own judgement."""
    span, read = known.number("span"), sorted(one.reference.value for one in inputs.point if one.reference is not None)
    if not span or len(read) < LEVELS:
        return ()
    different = 1 + sum(after - before > SAME * span for before, after in pairwise(read))
    if read[-1] - read[0] >= WIDE * span and different >= LEVELS:
        return ()
    sentence = (
        f"The pressures run from {plain(read[0])} to {plain(read[-1])} kPa, {different} different ones, in a span of "
        f"{plain(span)} kPa. Nought, the middle and the top tell of an instrument."
    )
    return (
        ask(
            "point1_reference", "narrow", sentence, stands("part", "No more of the span can be had"),
            spoils("more", "Then more points are read"),
        ),
    )  # fmt: skip


def one_way(inputs: Pressure, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: read going one way only, so that a pointer that sticks is not seen."""
    ways = {one.way for one in inputs.point if one.reference is not None}
    if worked.figure("hysteresis") is not None or not ways - {""}:
        return ()
    sentence = "No pressure was read going up and again going down, so nothing is said of hysteresis."
    return (remind("point1_way", "one-way", sentence),)


def not_vented(inputs: Pressure, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: an instrument that was not isolated and vented has no zero, and hurts."""
    if inputs.vented is not False:
        return ()
    sentence = "It was not isolated and vented: there is no zero, and opening it can hurt. Isolate, vent, then begin."
    return (not_valid("vented", "vented", sentence),)


def no_span(inputs: Pressure, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: % of span without a span."""
    if (known.number("span") or 0) > 0:
        return ()
    return (refuse("point1_shown", "no-span", "The span is not written for this tag. A supervisor writes it."),)


def coarse_reference(inputs: Pressure, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a reference not four times better than the limit; own judgement."""
    used, span = in_unit(known.standards.get(inputs.standard), "kPa"), known.number("span")
    if used is None or not used.uncertainty or span is None:
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
    """Return the uncertainty of each error in % of span: the reference's and the last digit of both."""
    used, span = known.standards.get(inputs.standard), known.number("span")
    if not span:
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


METHOD: Method[Pressure] = Method(
    code="pressure",
    name="Pressure, beside a reference gauge",
    version="1.1",
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
        *AT_A_SIGNAL, not_vented, no_span, coarse_reference, zero_pressure, snubber_shut, narrow, one_way,
        other_quantity("standard", "kPa"),
        reminder("tapped", "tapped", "Tap a gauge before each reading: a sticking pointer looks like hysteresis."),
        reminder("head", "head", "A reference higher than the gauge sees less: 1.8 m of water are 17.6 kPa."),
    ),
    read=reader_of(Pressure),
    legends={"point": "Point"},
    headline="error_1",
)  # fmt: skip
