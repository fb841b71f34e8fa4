"""Dissolved oxygen: the display in saturated air or water, in a zero solution, or beside another meter.

Source: Benson and Krause 1984 with the pressure of the place; see `assets.compute.formulas.oxygen`.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.oxygen import HIGHEST, LOWEST, pressure_at, saturation
from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, standard
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry

WEATHER = Fraction(20)
"""mmHg by which a pressure may lie off the usual one at a height before it is asked about: weather moves it by 15."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Oxygen(SignalRecord):
    """One set at an oxygen sensor."""

    way: str = choice(
        "how it is checked",
        ("air", "In water-saturated air"),
        ("water", "In air-saturated water"),
        ("beside", "Beside another meter or a titration"),
        must=True,
    )
    temperature: Typed | None = number("temperature", "°C", low="-5", high="60", must=True)
    pressure: Typed | None = number(
        "air pressure at the place", "mmHg", "hPa", "kPa", "inHg", low="350", high="850",
        advice="Read on the instrument or a barometer here; not the weather service's, which is reduced to sea level.",
    )  # fmt: skip
    shown: Typed | None = number("display shows", "mg/L", low="0", high="40", must=True)
    percent: Typed | None = number("saturation the display shows", "%", low="0", high="300")
    beside: Typed | None = number("the other meter shows", "mg/L", low="0", high="40")
    meter: str = standard("the other meter", "bench meter", must=False)
    zero: Typed | None = number("display in the zero solution", "mg/L", low="0", high="10", rare=True)
    zero_minutes: Typed | None = number("minutes in the zero solution", "min", low="0", high="120", rare=True)
    zero_lot: str = standard("zero solution", "zero solution", must=False, rare=True)
    salinity: Typed | None = number("salinity set in the meter", "‰", low="0", high="40", rare=True)


SETTINGS = (
    Ask(
        name="height",
        label="height of the place above the sea",
        part="settings",
        units=("m",),
        low=Fraction(-400),
        high=Fraction(5000),
        advice="Used only where no pressure is read; shown as an estimate.",
    ),
)

LIMITS = (
    Limit(
        name="error",
        what="error at saturation",
        unit="mg/L",
        of="",
        low=Fraction("-0.3"),
        high=Fraction("0.3"),
        source="a field procedure: 0.3 mg/L of the saturation value",
        tag="common practice",
    ),
    Limit(
        name="left",
        what="error at saturation, as left",
        unit="mg/L",
        of="",
        low=Fraction("-0.2"),
        high=Fraction("0.2"),
        source="a field manual: 0.2 mg/L after calibration",
        tag="from memory",
    ),
    Limit(
        name="zero",
        what="zero",
        unit="mg/L",
        of="",
        low=None,
        high=Fraction("0.2"),
        source="a field manual: 0.2 mg/L in the zero solution",
        tag="from memory",
    ),
)


def _pressure(steps: Steps, inputs: Oxygen, known: Known) -> Entry | None:
    if inputs.pressure is not None:
        return Entry(inputs.pressure.value, 1)
    height = known.number("height")
    if height is None:
        return None
    return steps.given(
        "pressure", "Air pressure, estimated from the height of the place", pressure_at(height), places=1, unit="mmHg",
        source="US Standard Atmosphere 1976; weather moves it by 15 mmHg",
    )  # fmt: skip


def _saturated(inputs: Oxygen, pressure: Entry | None) -> Fraction | None:
    if inputs.temperature is None or pressure is None:
        return None
    salt = inputs.salinity.value if inputs.salinity is not None else Fraction(0)
    try:
        return saturation(inputs.temperature.value, pressure.value, salt)
    except ValueError:
        return None


def work(inputs: Oxygen, known: Known) -> Worked:
    """Work out the error against saturation at this temperature and pressure, or against the other meter."""
    steps = Steps()
    name = "left" if inputs.kind == "as left" else "error"
    band = band_for(LIMITS, known, name)
    pressure = _pressure(steps, inputs, known)
    saturated = steps.given(
        "saturation", "Oxygen of saturated water at this temperature and pressure", _saturated(inputs, pressure),
        places=2, unit="mg/L", source="Benson and Krause 1984",
    )  # fmt: skip
    true: Entry | Typed | None = inputs.beside if inputs.way == "beside" else saturated
    error = steps.step(
        "error", f"Error; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t, {"s": inputs.shown, "t": true},
        places=2, unit="mg/L", plus=True, beside=band, source=band.source, label="error at saturation",
    )  # fmt: skip
    steps.step(
        "slope_percent", "Display as % of saturation", "100 × {s} / {t}", lambda s, t: 100 * s / t,
        {"s": inputs.shown, "t": true}, places=1, unit="%",
    )  # fmt: skip
    steps.judge("error", "error at saturation", error, band, standard=true.value if true is not None else None)
    if inputs.zero is not None:
        zero = band_for(LIMITS, known, "zero")
        steps.say("Display in the zero solution", value=inputs.zero.text, unit="mg/L", source=zero.source)
        steps.judge("zero", "zero", inputs.zero.value, zero)
    points = ((true.value, inputs.shown.value),) if true is not None and inputs.shown is not None else ()
    return steps.worked(Model(kind="gain", points=points), next_value={"error": value_of(error)})


def nothing_to_compare(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: neither pressure nor height for saturation, or no value of the other meter."""
    if inputs.way == "beside" and inputs.beside is None:
        return (refuse("beside", "missing-beside", "The other meter shows: nothing is written. Write what it reads."),)
    if inputs.way in {"air", "water"} and inputs.pressure is None and known.number("height") is None:
        sentence = (
            "Air pressure at the place: nothing is written, and no height is set for this tag. Read a barometer here."
        )
        return (refuse("pressure", "missing-pressure", sentence),)
    return ()


def outside_formula(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: the formula of saturation holds from 0 to 40 degC."""
    t = inputs.temperature
    if inputs.way not in {"air", "water"} or t is None or LOWEST <= t.value <= HIGHEST:
        return ()
    sentence = f"“{t.text}” °C is outside 0 to 40 °C, where saturation can be worked out. Check beside another meter."
    return (not_valid("temperature", "outside-formula", sentence.replace("“-", "“−")),)


def sea_level(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a pressure far from what this height usually has was reduced to sea level, or has another unit."""
    height = known.number("height")
    if inputs.pressure is None or height is None:
        return ()
    usual = pressure_at(height)
    if abs(inputs.pressure.value - usual) <= WEATHER:
        return ()
    sentence = (
        f"“{inputs.pressure.text}” {inputs.pressure.unit} is {shown(inputs.pressure.value, 0)} mmHg; at this height "
        f"{shown(usual, 0)} mmHg is usual. A weather service gives it reduced to sea level. Was it read here?"
    )
    return (
        ask(
            "pressure", "sea-level", sentence, stands("here", "Read here, on a barometer"),
            spoils("reduced", "It is reduced to sea level"),
        ),
    )  # fmt: skip


def percent_as_milligrams(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: more than 20 mg/L in clean water is the saturation in % written in the wrong box; own judgement."""
    if inputs.shown is None or inputs.shown.value <= 20:
        return ()
    sentence = f"“{inputs.shown.text}” mg/L is more than clean water holds. Is it the saturation in %?"
    return (ask("shown", "percent", sentence, stands("read", "The display shows mg/L")),)


def stale_zero(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a zero that was not waited for, or a solution that has gone stale."""
    if inputs.zero is None or inputs.zero.value <= Fraction("0.2"):
        return ()
    waited = f" after {inputs.zero_minutes.text} minutes" if inputs.zero_minutes is not None else ""
    sentence = (
        f"“{inputs.zero.text}” mg/L in the zero solution{waited}: the solution may be stale or the wait too short. "
        "Make it fresh and wait until it stands still."
    )
    return (
        ask(
            "zero", "stale-zero", sentence, stands("fresh", "Fresh solution, stood still"),
            spoils("stale", "Old solution, or not waited"), about="zero",
        ),
    )  # fmt: skip


def salt_left(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a salinity that was left in the meter from another job."""
    if inputs.salinity is None or inputs.salinity.value == 0:
        return ()
    sentence = f"A salinity of “{inputs.salinity.text}” ‰ is set in the meter; drinking water has next to none."
    return (
        ask(
            "salinity", "salt", sentence, stands("right", "It is right for this water"),
            spoils("left", "It was left from another job"),
        ),
    )  # fmt: skip


METHOD: Method[Oxygen] = Method(
    code="oxygen",
    name="Dissolved oxygen, at saturation and zero",
    version="1.0",
    quantity="oxygen",
    standards=("bench meter", "zero solution"),
    asks=asks_of(Oxygen),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Sulfite dust irritates: gloves and goggles, and rinse the sensor well before it goes back.",
        "Put what this signal paces on hold before the sensor leaves the water.",
    ),
    work=work,
    catches=(
        *AT_A_SIGNAL, nothing_to_compare, outside_formula, sea_level, percent_as_milligrams, stale_zero, salt_left,
        reminder("shown", "drops", "Blot drops off the membrane; no sun on the sensor until it stands still."),
    ),
    read=reader_of(Oxygen),
    words={"saturation": "The oxygen that water in balance with air holds at this temperature and pressure."},
)  # fmt: skip
