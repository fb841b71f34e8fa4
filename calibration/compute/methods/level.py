"""Level: the display beside a tape or plumb line from a marked point, at two levels well apart.

The uncertainty is that of the tape's certificate, of how its two readings repeat, and of the last digits of tape and
face; that of the height of the mark is the same at every level and is not in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget, from_repeats
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import correction, drawn, from_standard, last_digit, other_quantity
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry

TEN_MILLIMETRES, HALF_PERCENT = Fraction("0.010"), Fraction("0.005")
APART = Fraction("0.30")
"""Least distance of two levels as a share of span; own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level: two readings of the tape, the display and the HMI."""

    tape: Typed | None = number("tape reads", "m", "mm", "ft", "in", low="0", high="100", must=True)
    again: Typed | None = number("tape, read again", "m", "mm", "ft", "in", low="0", high="100", must=True)
    shown: Typed | None = number("display shows", "m", "mm", "ft", low="-5", high="100", must=True)
    hmi: Typed | None = number("HMI shows", "m", "mm", "ft", low="-5", high="100", rare=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Taped(SignalRecord):
    """One set at a level instrument."""

    standard: str = standard("tape or plumb line", "length", must=False)
    way: str = choice(
        "the tape measures",
        ("level", "The depth of the water"),
        ("ullage", "From the mark down to the water"),
        must=True,
    )
    point: tuple[Level, ...] = rows(Level, 1, 2)
    foam: bool | None = yes_or_no("foam or an inlet falling where it measures", rare=True)
    air: Typed | None = number("temperature of the air", "°C", low="-30", high="50", rare=True)
    floats: bool | None = yes_or_no("float switches tested at the same time", rare=True)


SETTINGS = (
    Ask(name="span", label="span", part="settings", units=("m",), must=True, low=Fraction(0), high=Fraction(100)),
    Ask(
        name="mark", label="height of the mark above the datum", part="settings", units=("m",), low=Fraction(-10),
        high=Fraction(100), advice="Only where the tape measures down from a mark.",
    ),
    Ask(
        name="density", label="density the instrument assumes", part="settings", units=("kg/m³",), low=Fraction(500),
        high=Fraction(2500),
    ),
    Ask(
        name="liquid", label="density of the liquid", part="settings", units=("kg/m³",), low=Fraction(500),
        high=Fraction(2500),
    ),
)  # fmt: skip


def _allowed(known: Known, at: Fraction) -> Fraction:
    return max(TEN_MILLIMETRES, HALF_PERCENT * (known.number("span") or Fraction(0)))


LIMITS = (
    Limit(
        name="error",
        what="error of the level",
        unit="m",
        of="",
        low=lambda known, at: -_allowed(known, at),
        high=_allowed,
        source="own judgement: the larger of 10 mm and 0.5 % of span",
        tag="own judgement",
    ),
)


def work(inputs: Taped, known: Known) -> Worked:
    """Work out the error in m and in % of span at each level and face."""
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    span = known.number("span")
    points: list[tuple[Fraction, Fraction]] = []
    for count, one in enumerate(inputs.point, 1):
        true = _true(steps, inputs, one, count, known)
        for face, read in (("display", one.shown), ("HMI", one.hmi)):
            name = f"error_{count}" if face == "display" else f"error_{count}_hmi"
            error = steps.step(
                name, f"Level {count}: error at the {face}; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
                {"s": read, "t": true}, places=3, unit="m", plus=True, beside=band, source=band.source,
            )  # fmt: skip
            steps.judge(
                name, f"error at the {face}, level {count}", error, band, face=face, at=value_of(true),
                standard=value_of(true),
            )  # fmt: skip
            if error is not None and span:
                steps.step(
                    f"{name}_percent", "The same in % of span", "100 × {e} / {w}", lambda e, w: 100 * e / w,
                    {"e": error, "w": span}, places=2, unit="%", plus=True,
                )  # fmt: skip
        if true is not None and one.shown is not None:
            points.append((true.value, one.shown.value))
    return steps.worked(Model(kind="offset", points=tuple(points)))


def _true(steps: Steps, inputs: Taped, one: Level, count: int, known: Known) -> Entry | None:
    mean = steps.step(
        f"tape_{count}", f"Level {count}: mean of the tape", "({a} + {b}) / 2", lambda a, b: (a + b) / 2,
        {"a": one.tape, "b": one.again}, places=4, unit="m",
    )  # fmt: skip
    added = correction(known.standards.get(inputs.standard), mean.value, "m") if mean is not None else Fraction(0)
    if added:
        mean = steps.step(
            f"corrected_{count}", f"Level {count}: the tape with its correction", "{t} + {c}", lambda t, c: t + c,
            {"t": mean, "c": added}, places=4, unit="m",
        )  # fmt: skip
    if inputs.way != "ullage":
        return mean
    return steps.step(
        f"true_{count}", f"Level {count}: the mark less the tape", "{m} − {t}", lambda m, t: m - t,
        {"m": known.number("mark"), "t": mean}, places=4, unit="m",
    )  # fmt: skip


def no_mark(inputs: Taped, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: measured down from a mark whose height nobody has written."""
    if inputs.way != "ullage" or known.number("mark") is not None:
        return ()
    sentence = "The height of the mark above the datum is not written for this tag. A supervisor writes it."
    return (refuse("way", "no-mark", sentence),)


def tape_apart(inputs: Taped, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask, at each level: two tape readings more than 10 mm apart."""
    return tuple(
        ask(
            f"point{count}_again", f"tape-{count}",
            f"The tape read “{one.tape.text}” and “{one.again.text}”, more than 10 mm apart. Read a third time.",
            stands("waves", "The water moves; the mean is right"), spoils("slip", "One of them is a slip"),
        )
        for count, one in enumerate(inputs.point, 1)
        if one.tape is not None and one.again is not None and abs(one.tape.value - one.again.value) > TEN_MILLIMETRES
    )  # fmt: skip


def exchanged(inputs: Taped, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: tape and display that add up to the mark, or are alike from it, are level and ullage exchanged."""
    mark = known.number("mark")
    for count, one in enumerate(inputs.point, 1):
        tape = worked.figure(f"tape_{count}")
        if mark is None or tape is None or one.shown is None:
            continue
        beside, summed = abs(Fraction(tape) - one.shown.value), abs(Fraction(tape) + one.shown.value - mark)
        if inputs.way == "level" and summed <= HALF_PERCENT * mark < beside:
            sentence = (
                f"Tape and display add up to the height of the mark, {plain(mark)} m. Does the tape measure "
                "from the mark down to the water?"
            )
            return (ask("way", "exchanged", sentence, stands("depth", "It measured the depth")),)
        if inputs.way == "ullage" and beside <= HALF_PERCENT * mark < summed:
            sentence = (
                f"Level {count}: tape and display read alike, though the tape is said to measure down from the mark, "
                f"{plain(mark)} m. Did it measure the depth?"
            )
            return (ask("way", "exchanged", sentence, stands("down", "It measured down from the mark")),)
    return ()


def near(inputs: Taped, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: one level, or two less than 30 % of span apart, prove little of the span."""
    span = known.number("span")
    levels = [Fraction(one) for count in (1, 2) if (one := worked.figure(f"tape_{count}")) is not None]
    if not span or not levels or max(levels) - min(levels) >= APART * span:
        return ()
    apart = f"The two levels are {shown(max(levels) - min(levels), 2)} m apart, less than 30 % of the span."
    sentence = apart if len(levels) > 1 else "There is one level alone: it proves no span, as a wrong datum or scale."
    return (
        ask(
            "point2_shown", "near", f"{sentence} Read again when the tank moved.",
            stands("all", "The tank moves no more than that"), spoils("later", "Then it is read at another level too"),
        ),
    )  # fmt: skip


def other_datum(inputs: Taped, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: two levels well apart that are off by the same and too much: two datums; within 10 mm, own judgement."""
    judged = [one for one in worked.judged if one.name in {"error_1", "error_2"}]
    if len(judged) < 2 or any(one.low is None or one.low <= one.value <= (one.high or 0) for one in judged):
        return ()
    first, second = (Fraction(one.value) for one in judged)
    if abs(first - second) > TEN_MILLIMETRES:
        return ()
    sentence = (
        f"Both levels are off by the same {shown(first, 2, plus=True)} m. Do tape and display count from one datum, "
        "the floor or the outlet?"
    )
    return (
        ask(
            "point1_shown", "datum", sentence, stands("one", "From one datum: the instrument is off"),
            spoils("two", "From two: measured again"),
        ),
    )  # fmt: skip


def no_span(inputs: Taped, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a share of span without a span."""
    if (known.number("span") or 0) > 0:
        return ()
    return (refuse("point1_shown", "no-span", "The span is not written for this tag. A supervisor writes it."),)


def density_wrong(inputs: Taped, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a pressure instrument set for water in a tank of something heavier."""
    assumed, liquid = known.number("density"), known.number("liquid")
    if not assumed or liquid is None or abs(liquid / assumed - 1) <= Fraction(1, 200):
        return ()
    percent = shown(100 * (liquid / assumed - 1), 1, plus=True)
    sentence = f"The instrument assumes {plain(assumed)} kg/m³, the liquid has {plain(liquid)}: {percent} %."
    return (ask("point1_shown", "density", sentence, stands("corrected", "Corrected behind the display")),)


def disturbed(inputs: Taped, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: foam or falling water under the sensor."""
    if not inputs.foam:
        return ()
    return (not_valid("foam", "foam", "Foam or falling water moves the reading. Stop the inlet, wait, read again."),)


def budget(inputs: Taped, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of each error in m: the tape's, its two readings, the last digits of tape and face."""
    used = known.standards.get(inputs.standard)
    down = Fraction(1 if inputs.way == "ullage" else -1)
    found: dict[str, Budget] = {}
    for count, one in enumerate(inputs.point, 1):
        for face, read in (("display", one.shown), ("HMI", one.hmi)):
            if read is None or one.tape is None or one.again is None:
                continue
            parts = (
                from_standard(used, unit="m", sensitivity=down),
                from_repeats((one.tape.value, one.again.value), "tape, read twice", sensitivity=down),
                last_digit(one.tape, "m", sensitivity=down, name="last digit of the tape"),
                last_digit(read, "m"),
            )
            name = f"error_{count}" if face == "display" else f"error_{count}_hmi"
            found |= drawn(parts, name=name, what=f"error at the {face}, level {count}", unit="m")
    return found


METHOD: Method[Taped] = Method(
    code="level",
    name="Level, beside a tape",
    version="1.1",
    quantity="level",
    standards=("length",),
    asks=asks_of(Taped),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Tanks and clear wells are confined spaces and drinking water: measure from outside, tape disinfected, hatch "
        "closed after; entry only by permit.",
        "At height: rail or harness. Chemical tanks: splash protection.",
    ),
    work=work,
    budget=budget,
    budget_since="1.1",
    catches=(
        *AT_A_SIGNAL, no_span, no_mark, tape_apart, exchanged, other_datum, near, density_wrong, disturbed,
        other_quantity("standard", "m"),
        reminder("standard", "tape", "Name the tape: one that is stretched reads short."),
        reminder("floats", "floats", "Float switches are tested by water, not by the display."),
    ),
    read=reader_of(Taped),
    legends={"point": "Level"},
    headline="error_1",
)  # fmt: skip
