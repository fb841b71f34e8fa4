"""Conductivity: the display in a solution of known conductivity, compared like with like.

An uncompensated display is compared with the lot's value at the temperature of the solution, a compensated one with its
value at the reference temperature. Sources: KCl solutions as in the lot's own table; natural-water curve ISO 7888.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.conductivity import TWENTY, linear_factor, natural_factor
from calibration.compute.asked import SignalRecord, asks_of, number, reader_of, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, remind, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import drawn, from_standard, last_digit
from calibration.compute.standards import Standard
from calibration.compute.steps import Steps, limit_said, value_of

LOW = Fraction(100)
"""µS/cm up to which 5 % are allowed, 3 % above: from memory."""

WRONG_UNIT = Fraction(500)
"""A ratio of display and solution from which mS and µS have been exchanged: own judgement (the slip is 1000)."""

TEMPERATURE_LIMIT = Fraction(1, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell(SignalRecord):
    """One set at a conductivity cell."""

    standard: str = standard("solution", "conductivity solution")
    temperature: Typed | None = number(
        "temperature of the solution", "°C", low="-5", high="60", must=True, advice="By the reference thermometer."
    )
    shown: Typed | None = number("display shows", "µS/cm", "mS/cm", low="0", must=True)
    shown_temperature: Typed | None = number("temperature the display shows", "°C", low="-5", high="60")
    dry: Typed | None = number("display with the cell dry in air", "µS/cm", low="0", rare=True)
    constant: Typed | None = number("cell constant in the transmitter", "1/cm", low="0.001", high="100", rare=True)
    bubbles: bool | None = yes_or_no("air bubbles in the cell looked for and none seen", rare=True)


SETTINGS = (
    Ask(
        name="compensation",
        label="what the display compensates",
        part="settings",
        kind="choice",
        must=True,
        choices=(
            ("off", "Nothing: the value at temperature"),
            ("linear", "A straight line, so many % a degree"),
            ("natural", "The curve of natural water, ISO 7888"),
        ),
    ),
    Ask(
        name="coefficient",
        label="its % a degree, for the straight line",
        part="settings",
        units=("%",),
        low=Fraction(0),
        high=Fraction(10),
    ),
    Ask(
        name="reference",
        label="reference temperature",
        part="settings",
        kind="choice",
        choices=(("25", "25 °C"), ("20", "20 °C")),
    ),
    Ask(
        name="working_value",
        label="usual conductivity of this water",
        part="settings",
        units=("µS/cm",),
        low=Fraction(0),
        high=Fraction(1000000),
        advice="A solution more than five times it is asked about.",
    ),
)


def _share(known: Known, true: Fraction) -> Fraction:
    return Fraction(5) if true <= LOW else Fraction(3)


LIMITS = (
    Limit(
        name="error",
        what="error in the solution",
        unit="%",
        of="standard",
        low=lambda known, true: -_share(known, true),
        high=_share,
        source="a field manual: 5 % up to 100 µS/cm, 3 % above",
        tag="from memory",
    ),
    Limit(
        name="dry",
        what="display with the cell dry",
        unit="µS/cm",
        of="",
        low=None,
        high=Fraction(1),
        source="common practice, no source: 1 µS/cm",
        tag="common practice",
    ),
    Limit(
        name="temperature",
        what="temperature shown",
        unit="°C",
        of="",
        low=-TEMPERATURE_LIMIT,
        high=TEMPERATURE_LIMIT,
        source="common practice, no source",
        tag="common practice",
    ),
)


def _reference(known: Known) -> Fraction:
    return Fraction(known.settings.get("reference") or "25")


def _expected(used: Standard, temperature: Fraction, known: Known) -> tuple[Fraction, str] | None:
    """Return what a perfect display shows, µS/cm, and in words how that follows; None outside what it compensates."""
    compensation = known.settings.get("compensation", "")
    at_temperature = used.known_at(temperature)
    if at_temperature is None:
        return None
    if compensation == "off":
        return at_temperature, "the solution at its own temperature"
    factor = _factor(temperature, known)
    if factor is None:
        return None
    if compensation == "linear":
        return at_temperature * factor, f"the solution at its temperature, brought to {plain(_reference(known))} °C"
    return at_temperature * factor, "the solution at its temperature, by the curve of natural water"


def _factor(temperature: Fraction, known: Known) -> Fraction | None:
    """Return what the compensation multiplies by at a temperature; None where it gives nothing sensible."""
    percent = known.number("coefficient")
    if known.settings.get("compensation") == "linear" and percent is not None:
        divisor = linear_factor(temperature, percent / 100, _reference(known))
        return 1 / divisor if divisor > 0 else None
    if known.settings.get("compensation") != "natural":
        return None
    try:
        return natural_factor(temperature) / (TWENTY if _reference(known) == 20 else 1)
    except ValueError:
        return None


def work(inputs: Cell, known: Known) -> Worked:
    """Work out the error as % of what a perfect display shows in the solution with this compensation."""
    steps = Steps()
    used, t = known.standards.get(inputs.standard), inputs.temperature
    expected = _expected(used, t.value, known) if used is not None and t is not None else None
    label = steps.given(
        "at_temperature", "The solution at its temperature", used.known_at(t.value) if used and t else None,
        places=1, unit="µS/cm", source=used.called if used else "",
    )  # fmt: skip
    true = label
    if expected is not None and expected[0] != value_of(label):
        true = steps.given(
            "true", f"What a perfect display shows: {expected[1]}", expected[0], places=1, unit="µS/cm",
            source="compensation written for this tag",
        )  # fmt: skip
    elif expected is None:
        true = None
    band = band_for(LIMITS, known, "error", standard=value_of(true) or Fraction(0))
    error = steps.step(
        "error", f"Error in % of standard; {limit_said(band)}", "100 × ({s} − {t}) / {t}",
        lambda s, t: 100 * (s - t) / t, {"s": inputs.shown, "t": true}, places=2, unit="%", plus=True, beside=band,
        source=band.source, label="error in the solution",
    )  # fmt: skip
    steps.judge("error", "error in the solution", error, band, of="standard", standard=value_of(true))
    _others(steps, inputs, known)
    steps.step(
        "new_constant", "Cell constant that would read true", "{k} × {t} / {s}", lambda k, t, s: k * t / s,
        {"k": inputs.constant, "t": true, "s": inputs.shown}, places=4, unit="1/cm",
    )  # fmt: skip
    points = ((true.value, inputs.shown.value),) if true is not None and inputs.shown is not None else ()
    return steps.worked(Model(kind="gain", points=points), next_value={"error": value_of(error)})


def _others(steps: Steps, inputs: Cell, known: Known) -> None:
    if inputs.dry is not None:
        band = band_for(LIMITS, known, "dry")
        steps.say("Display with the cell dry", value=inputs.dry.text, unit="µS/cm", source=band.source)
        steps.judge("dry", "display with the cell dry", inputs.dry.value, band)
    band = band_for(LIMITS, known, "temperature")
    apart = steps.step(
        "temperature", f"Temperature shown; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
        {"s": inputs.shown_temperature, "t": inputs.temperature}, places=1, unit="°C", plus=True, beside=band,
        source=band.source,
    )  # fmt: skip
    steps.judge("temperature", "temperature shown", apart, band)


def no_compensation(inputs: Cell, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: nobody can say what a display should show while its compensation is not known."""
    kind = known.settings.get("compensation", "")
    if kind in {"off", "natural"} or (kind == "linear" and known.number("coefficient") is not None):
        return ()
    sentence = (
        "What this display compensates is not written for this tag: compensation and, for a straight line, its % a "
        "degree. A supervisor writes it with the limits."
    )
    return (not_valid("shown", "no-compensation", sentence),)


def outside_table(inputs: Cell, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: the solution has no value at this temperature."""
    used, t = known.standards.get(inputs.standard), inputs.temperature
    if used is None or t is None or used.table is None or used.table.low <= t.value <= used.table.high:
        return ()
    sentence = f"{t.text} °C is outside the table of {used.called}. Bring the solution inside it and read again."
    return (not_valid("temperature", "outside-table", sentence.replace("-", "−", 1)),)


def outside_compensation(inputs: Cell, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: at this temperature the compensation of the display gives no value."""
    used, t = known.standards.get(inputs.standard), inputs.temperature
    if used is None or t is None or used.known_at(t.value) is None or no_compensation(inputs, known, worked):
        return ()
    if known.settings.get("compensation") == "off" or _factor(t.value, known) is not None:
        return ()
    if known.settings.get("compensation") == "linear":
        why = (
            f"a straight line of {plain(known.number('coefficient') or Fraction(0))} % a degree from "
            f"{plain(_reference(known))} °C has come down to nought there. Bring the solution nearer to that "
            "temperature and read again, or have a supervisor look at the % a degree."
        )
    else:
        why = "the curve of natural water goes from 0 to 35.3 °C. Bring the solution inside it and read again."
    sentence = f"At “{t.text}” °C the compensation written for this display gives no value: {why}"
    return (not_valid("temperature", "outside-compensation", sentence),)


def bubbles_seen(inputs: Cell, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: air in the cell takes the place of water."""
    if inputs.bubbles is not False:
        return ()
    return (not_valid("bubbles", "bubbles", "Air in the cell reads too low. Tap it free, dip it again, then read."),)


def unit_slip(inputs: Cell, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a display a thousand times off its solution is mS written for µS, or the other way round."""
    true, read = worked.figure("true") or worked.figure("at_temperature"), inputs.shown
    if true is None or read is None or read.value == 0:
        return ()
    ratio = read.value / Fraction(true)
    if Fraction(1) / WRONG_UNIT < ratio < WRONG_UNIT:
        return ()
    sentence = (
        f"“{read.text}” {read.unit or 'µS/cm'} stands beside a solution of {shown(Fraction(true), 0)} µS/cm, some "
        "thousand times off. Is it mS/cm, or µS/cm?"
    )
    return (ask("shown", "unit-slip", sentence, stands("read so", "The display shows it in this unit")),)


def other_compensation(inputs: Cell, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a display that is right by another compensation than the one written is a setting, not a bad cell."""
    used, t, read = known.standards.get(inputs.standard), inputs.temperature, inputs.shown
    error = worked.figure("error")
    if used is None or t is None or read is None or error is None or abs(Fraction(error)) <= 3:
        return ()
    at_temperature = used.known_at(t.value)
    if at_temperature is None:
        return ()
    for percent in ("1.9", "1.91", "2.0", "2.1", "2.2"):
        value = at_temperature / linear_factor(t.value, Fraction(percent) / 100)
        if abs(read.value - value) <= value / 200 and known.settings.get("coefficient") != percent:
            sentence = (
                f"“{read.text}” is what a good cell shows with {percent} % a degree ({shown(value, 0)} µS/cm here). "
                "Is the transmitter set to another compensation than the one written for this tag?"
            )
            return (
                ask(
                    "shown", "other-compensation", sentence,
                    stands("looked", "Looked: it is set as written, the cell is off"),
                    spoils("other", "It is set to another compensation"),
                ),
            )  # fmt: skip
    return ()


def far_from_process(inputs: Cell, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a solution more than five times the process proves little there; own judgement."""
    process, true = known.number("working_value"), worked.figure("true") or worked.figure("at_temperature")
    if process is None or true is None or process == 0 or Fraction(true) <= 5 * process:
        return ()
    sentence = (
        f"The solution, {shown(Fraction(true), 0)} µS/cm, is more than five times the process, {plain(process)} µS/cm. "
        "Use one nearer to it, or say why this one."
    )
    return (ask("standard", "far-from-process", sentence, stands("only one", "It is the one there is")),)


def label_of_potassium(inputs: Cell, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: 0.01 potassium chloride is sold as 1408, 1412 and 1413."""
    used = known.standards.get(inputs.standard)
    if used is None or not 1400 <= used.nominal <= 1420:
        return ()
    sentence = (
        f"0.01 potassium chloride is sold as 1408, 1412 and 1413 µS/cm. This lot is registered as {used.nominal_text}: "
        "compare with the bottle in your hand."
    )
    return (remind("standard", "label", sentence),)


def budget(inputs: Cell, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the error in %: the solution's, brought to the display as its value is, and a digit."""
    used, true = known.standards.get(inputs.standard), worked.figure("true") or worked.figure("at_temperature")
    at_temperature = worked.figure("at_temperature")
    if not true or not at_temperature or inputs.shown is None or used is None:
        return {}
    shown_value, value = inputs.shown.value, Fraction(true)
    brought = value / Fraction(at_temperature)
    parts = (
        from_standard(used, sensitivity=-100 * shown_value / value**2 * brought, unit="µS/cm"),
        last_digit(inputs.shown, "µS/cm", sensitivity=100 / value),
    )
    return drawn(parts, name="error", what="error in the solution", unit="%")


METHOD: Method[Cell] = Method(
    code="conductivity",
    name="Conductivity, in a solution",
    version="1.0",
    quantity="conductivity",
    standards=("conductivity solution",),
    asks=asks_of(Cell),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Put what this signal paces on hold before the cell leaves the water.",
        "What was poured out of the bottle is never poured back into it.",
        "This check proves the cell and the display, not a number of dissolved solids computed from it.",
    ),
    work=work,
    budget=budget,
    catches=(
        *AT_A_SIGNAL, no_compensation, outside_compensation, bubbles_seen,
        outside_table, unit_slip, other_compensation, far_from_process,
        label_of_potassium,
        reminder("shown", "rinse", "Rinse the cell twice with the solution and tap it free of bubbles before reading."),
    ),
    read=reader_of(Cell),
    words={"cell constant": "What the measured conductance is multiplied by; a fouled cell changes it."},
)  # fmt: skip
