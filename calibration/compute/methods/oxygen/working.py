"""The error of an oxygen sensor against saturation at this temperature and pressure, or against another meter."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from assets.compute.formulas.oxygen import pressure_at, saturation
from calibration.compute.budget import Budget
from calibration.compute.method import Known, Model, Typed, Worked, band_for
from calibration.compute.methods.oxygen.asks import LIMITS, Oxygen
from calibration.compute.standard_units import correction, drawn, from_standard, last_digit
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry, typed


def _corrected(
    steps: Steps, name: str, text: str, read: Typed | None, key: str, known: Known, unit: str
) -> Entry | None:  # fmt: skip
    if read is None:
        return None
    used = known.standards.get(key)
    added = correction(used, read.value, unit)
    if not added or used is None:
        return typed(read)
    return steps.step(
        name, text, "{r} + {c}", lambda r, c: r + c, {"r": read, "c": added}, places=2, unit=unit,
        source=used.certificate,
    )  # fmt: skip


def _pressure(steps: Steps, inputs: Oxygen, known: Known) -> Entry | None:
    if inputs.pressure is not None:
        text = "Air pressure with the barometer's correction"
        return _corrected(steps, "pressure", text, inputs.pressure, inputs.barometer, known, "mmHg")
    height = known.number("height")
    if height is None:
        return None
    return steps.given(
        "pressure", "Air pressure, estimated from the height of the place", pressure_at(height), places=1, unit="mmHg",
        source="US Standard Atmosphere 1976; weather moves it by 15 mmHg",
    )  # fmt: skip


def _saturation(inputs: Oxygen, temperature: Fraction, pressure: Fraction) -> Fraction | None:
    salt = inputs.salinity.value if inputs.salinity is not None else Fraction(0)
    try:
        return saturation(temperature, pressure, salt)
    except ValueError:
        return None


def _true(steps: Steps, inputs: Oxygen, known: Known) -> Entry | Typed | None:
    """Add the lines to what a perfect sensor shows: the other meter's value, or that of saturation here."""
    if inputs.way == "beside":
        return inputs.beside
    text = "Temperature with the thermometer's correction"
    temperature = _corrected(steps, "temperature", text, inputs.temperature, inputs.thermometer, known, "°C")
    pressure = _pressure(steps, inputs, known)
    if temperature is None or pressure is None:
        return None
    return steps.given(
        "saturation", "Oxygen of saturated water at this temperature and pressure",
        _saturation(inputs, temperature.value, pressure.value), places=2, unit="mg/L", source="Benson and Krause 1984",
    )  # fmt: skip


def work(inputs: Oxygen, known: Known) -> Worked:
    """Work out the error against saturation at this temperature and pressure, or against the other meter."""
    steps = Steps()
    # The narrower limit is that of an adjustment; a sensor that nobody touched is as found.
    name = "left" if inputs.kind == "as left" and not inputs.unchanged else "error"
    band = band_for(LIMITS, known, name)
    true = _true(steps, inputs, known)
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


def _slope(known: Known, inputs: Oxygen, *, by: str) -> Fraction | None:
    """Return how much saturation changes by one degC or one mmHg; to one side alone where the formula ends."""
    t, p = inputs.temperature, inputs.pressure
    if t is None or p is None:
        return None
    step = {"temperature": (Fraction(1, 10), Fraction(0)), "pressure": (Fraction(0), Fraction(1))}[by]
    values = [
        (sign, value)
        for sign in (-1, 0, 1)
        if (value := _saturation(inputs, t.value + sign * step[0], p.value + sign * step[1])) is not None
    ]
    if len(values) < 2:
        return None
    return (values[-1][1] - values[0][1]) / ((values[-1][0] - values[0][0]) * sum(step))


def budget(inputs: Oxygen, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the error; the head of this package says what it is made of."""
    if inputs.shown is None or worked.figure("error") is None:
        return {}
    read = last_digit(inputs.shown, "mg/L")
    if inputs.way == "beside" and inputs.beside is not None:
        beside = (
            from_standard(known.standards.get(inputs.meter), unit="mg/L", sensitivity=Fraction(-1)),
            last_digit(inputs.beside, "mg/L", sensitivity=Fraction(-1), name="last digit of the other meter"),
            read,
        )
        return drawn(beside, name="error", what="error at saturation", unit="mg/L")
    a_degree, a_millimetre = (_slope(known, inputs, by=by) for by in ("temperature", "pressure"))
    if inputs.temperature is None or inputs.pressure is None or not a_degree or not a_millimetre:
        return {}
    parts = (
        from_standard(known.standards.get(inputs.thermometer), unit="°C", sensitivity=-a_degree),
        last_digit(inputs.temperature, "°C", sensitivity=-a_degree, name="last digit of the temperature"),
        from_standard(known.standards.get(inputs.barometer), unit="mmHg", sensitivity=-a_millimetre),
        last_digit(inputs.pressure, "mmHg", sensitivity=-a_millimetre, name="last digit of the pressure"),
        read,
    )
    return drawn(parts, name="error", what="error at saturation", unit="mg/L")
