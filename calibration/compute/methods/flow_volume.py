"""Flow by a volume: a measured tank is drawn down or filled through the meter, with a leak test before.

The error is given in % of the true flow; in % of the meter beside it, as some commissions divide. The totalizer is
judged apart from the rate.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.flow import error_of_meter, error_of_true, flow_from_level
from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, standard, yes_or_no
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry

SHORT = Fraction(20)
"""Least drop in steps of the level reading: below it the reading itself is 5 % of the result; own judgement."""

DAMPED = Fraction(10)


@dataclass(frozen=True, slots=True, kw_only=True)
class Volume(SignalRecord):
    """One test of a flow meter against a measured tank."""

    tank: str = standard("measured tank", "tank")
    way: str = choice(
        "the tank is", ("down", "Drawn down through the meter"), ("up", "Filled through the meter"), must=True
    )
    first: Typed | None = number("level at the beginning", "m", "mm", "ft", "in", low="0", high="100", must=True)
    last: Typed | None = number("level at the end", "m", "mm", "ft", "in", low="0", high="100", must=True)
    seconds: Typed | None = number("time between", "s", "min", low="1", high="200000", must=True)
    indicated: Typed | None = number("mean of the meter", "m³/h", "L/s", "gal/min", low="0", must=True)
    shut: bool | None = yes_or_no("every other way in and out of the tank shut", must=True)
    leak: Typed | None = number("fall in an hour with all shut", "m", "mm", "in", low="0", high="5", must=True)
    total_first: Typed | None = number("totalizer at the beginning", "m³", "L", "gal", low="0", rare=True)
    total_last: Typed | None = number("totalizer at the end", "m³", "L", "gal", low="0", rare=True)
    zero: Typed | None = number("meter with the valve shut", "m³/h", "L/s", "gal/min", rare=True)
    hmi: Typed | None = number("HMI shows", "m³/h", "L/s", "gal/min", low="0", rare=True)
    full: bool | None = yes_or_no("the pipe was full", rare=True)
    damping: Typed | None = number("damping of the meter", "s", low="0", high="600", rare=True)
    steady_constant: bool | None = yes_or_no("the value was forced or stood still for an hour", rare=True)


SETTINGS = (
    Ask(
        name="area", label="area of the tank", part="settings", units=("m²",), low=Fraction(0), high=Fraction(100000),
        advice="From its inside diameter: 3.1416 × d² / 4. Who measured it stands with the tank.",
    ),
    Ask(
        name="level_step", label="smallest step of the level reading", part="settings", units=("m",), low=Fraction(0),
        high=Fraction(1),
    ),
)  # fmt: skip


def _limit(name: str, what: str) -> Limit:
    return Limit(
        name=name,
        what=what,
        unit="%",
        of="true flow",
        low=Fraction(-3),
        high=Fraction(3),
        source="own judgement: 3 %; billing meters 2 % by their rules",
        tag="own judgement",
    )


LIMITS = (_limit("error", "error of the rate"), _limit("total", "error of the totalizer"))


def work(inputs: Volume, known: Known) -> Worked:
    """Work out the true flow from the tank and the error of rate and totalizer."""
    steps = Steps()
    area = steps.given("area", "Area of the tank", _area(inputs, known), places=3, unit="m²", source="measured tank")
    change = steps.step(
        "change", "Change of the level", "{b} − {a}" if inputs.way == "up" else "{a} − {b}",
        (lambda a, b: b - a) if inputs.way == "up" else (lambda a, b: a - b),
        {"a": inputs.first, "b": inputs.last}, places=4, unit="m",
    )  # fmt: skip
    true = _true(steps, inputs, area, change)
    band = band_for(LIMITS, known, "error")
    error = steps.step(
        "error", f"Error in % of the true flow; {limit_said(band)}", "100 × ({i} − {q}) / {q}",
        lambda i, q: error_of_true(i, q), {"i": inputs.indicated, "q": true}, places=2, unit="%", plus=True,
        beside=band, source=band.source, label="error of the rate",
    )  # fmt: skip
    steps.step(
        "error_of_meter", "The same in % of the meter", "100 × ({i} − {q}) / {i}", lambda i, q: error_of_meter(i, q),
        {"i": inputs.indicated, "q": true}, places=2, unit="%", plus=True,
    )  # fmt: skip
    steps.judge("error", "error of the rate", error, band, of="true flow", standard=value_of(true))
    _total(steps, inputs, known, true)
    points = ((true.value, inputs.indicated.value),) if true is not None and inputs.indicated is not None else ()
    return steps.worked(Model(kind="gain", points=points), next_value={"error": value_of(error)})


def _area(inputs: Volume, known: Known) -> Fraction | None:
    used = known.standards.get(inputs.tank)
    if used is not None and used.unit == "m²":
        return used.nominal
    return known.number("area")


def _true(steps: Steps, inputs: Volume, area: Entry | None, change: Entry | None) -> Entry | None:
    sign = "+" if inputs.way == "up" else "−"
    return steps.step(
        "true", "True mean flow, the leak put back or taken off",
        "{area} × ({h} " + sign + " {leak} × {t} / 3600) × 3600 / {t}",
        lambda area, h, leak, t: flow_from_level(area, h, t, leak, filling=inputs.way == "up"),
        {"area": area, "h": change, "leak": inputs.leak, "t": inputs.seconds}, places=2, unit="m³/h",
    )  # fmt: skip


def _total(steps: Steps, inputs: Volume, known: Known, true: Entry | None) -> None:
    counted = steps.step(
        "total_counted", "Counted by the totalizer", "{b} − {a}", lambda a, b: b - a,
        {"a": inputs.total_first, "b": inputs.total_last}, places=2, unit="m³",
    )  # fmt: skip
    through = steps.step(
        "through", "Went through", "{q} × {t} / 3600", lambda q, t: q * t / 3600,
        {"q": true if counted is not None else None, "t": inputs.seconds}, places=2, unit="m³",
    )  # fmt: skip
    band = band_for(LIMITS, known, "total")
    error = steps.step(
        "total", f"Error of the totalizer; {limit_said(band)}", "100 × ({c} − {v}) / {v}",
        lambda c, v: error_of_true(c, v), {"c": counted, "v": through}, places=2, unit="%", plus=True, beside=band,
        source=band.source,
    )  # fmt: skip
    steps.judge("total", "error of the totalizer", error, band, of="true volume", standard=value_of(through))


def not_a_test(inputs: Volume, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: other water in or out, a level that went the wrong way, an empty pipe, a forced value."""
    found: list[Found] = []
    if inputs.shut is False:
        sentence = "Water went in or out another way. Shut it and test again; the volume is not the meter's alone."
        found.append(not_valid("shut", "shut", sentence))
    change = worked.figure("change")
    if change is not None and change <= 0:
        sentence = "The level did not move the way the tank is said to be used. Look at both levels, or the choice."
        found.append(not_valid("last", "way", sentence))
    true = worked.figure("true")
    if change is not None and change > 0 and true is not None and true <= 0:
        sentence = (
            "More would have leaked than the level moved. Look at the leak and its unit: it is the fall in an hour."
        )
        found.append(not_valid("leak", "leak", sentence))
    if inputs.full is False:
        found.append(not_valid("full", "full", "The pipe was not full: the meter reads air. Fill it and test again."))
    if inputs.steady_constant:
        sentence = "A value that stands still for an hour is forced, held or frozen. Free it, then test again."
        found.append(not_valid("steady_constant", "constant", sentence))
    return tuple(found)


def no_area(inputs: Volume, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a tank without an area."""
    if _area(inputs, known) is not None:
        return ()
    sentence = "Measured tank: its area is written neither with the tank nor for this tag. Measure the inside diameter."
    return (refuse("tank", "no-area", sentence),)


def short_drop(inputs: Volume, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a change of less than 20 steps of the level reading; own judgement."""
    step, change = known.number("level_step"), worked.figure("change")
    if step is None or change is None or change <= 0 or Fraction(change) >= SHORT * step:
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
    sentence = f"A damping of “{inputs.damping.text}” s is long beside a test of “{inputs.seconds.text}”. Test longer?"
    return (ask("damping", "damped", sentence, stands("mean", "The mean was taken after it settled")),)


def unit_slip(inputs: Volume, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: off by 3.6, 10 or 3.785: a unit, a multiplier or a pulse value, not a worn meter."""
    true = worked.figure("true")
    if true is None or inputs.indicated is None or true <= 0 or inputs.indicated.value <= 0:
        return ()
    ratio = inputs.indicated.value / Fraction(true)
    for factor, words in (("3.6", "L/s and m³/h"), ("10", "a multiplier of ten"), ("3.785", "gallons and litres")):
        for one in (Fraction(factor), 1 / Fraction(factor)):
            if abs(ratio / one - 1) <= Fraction(1, 20):
                sentence = f"The meter is off by {plain(one, most=3)}, as {words} are. Was a unit changed?"
                return (
                    ask(
                        "indicated", "unit", sentence, stands("looked", "Looked: units are right, the meter is off"),
                        spoils("unit", "The unit was wrong"),
                    ),
                )  # fmt: skip
    return ()


METHOD: Method[Volume] = Method(
    code="flow-volume",
    name="Flow meter, against a measured tank",
    version="1.0",
    quantity="flow",
    standards=("tank",),
    asks=asks_of(Volume),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "A tank is a confined space: read from outside; entry only by permit and with a watch outside.",
        "Watch the level: keep water for fire and supply, and never let it run over or the pumps run dry.",
        "A self-check of the meter's electronics proves no flow.",
    ),
    work=work,
    catches=(
        *AT_A_SIGNAL, not_a_test, no_area, short_drop, damped, unit_slip,
        reminder("total_first", "totalizer", "Read the totalizer at both ends too: rate and total fail apart."),
        reminder("zero", "zero", "With the valve shut the meter shows nought; write what it shows."),
    ),
    read=reader_of(Volume),
    stages=("as found",),
)  # fmt: skip
