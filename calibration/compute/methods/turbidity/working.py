"""How a turbidity meter is worked out: error in each standard, fouling and drift as found, what is uncertain."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from assets.compute.words import day_named
from calibration.compute.budget import Budget
from calibration.compute.method import Known, Model, Worked
from calibration.compute.methods.turbidity.asks import BLOCK, Turbidity, band_of, unit_shown, worth
from calibration.compute.standard_units import drawn, from_standard, last_digit
from calibration.compute.standards import Standard
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry

DIGITS = ("last digit read", "last digit read dirty", "last digit read cleaned")
Points = tuple[tuple[Fraction, Fraction], ...]


def _source(used: Standard | None, known: Known) -> str:
    if used is None:
        return ""
    assigned = used.assigned_to(known.unit_key)
    if used.kind == BLOCK and assigned is not None:
        return f"{used.called}, assigned to this meter on {day_named(assigned.on)}"
    return used.called


def work(inputs: Turbidity, known: Known) -> Worked:
    """Work out the error in the standard, fouling and drift as found, and the zero where a low standard was read."""
    steps = Steps()
    used, unit = known.standards.get(inputs.standard), unit_shown(known)
    true = steps.given(
        "true", "The standard in this meter", worth(used, known), places=3, unit=unit, source=_source(used, known)
    )
    band = band_of(known, "error", value_of(true))
    error = steps.step(
        "error", f"Error in the standard; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
        {"s": inputs.shown, "t": true}, places=3, unit=unit, plus=True, beside=band, source=band.source,
    )  # fmt: skip
    steps.step(
        "error_percent", "The same in % of standard", "100 × {e} / {t}", lambda e, t: 100 * e / t,
        {"e": error, "t": true}, places=1, unit="%", plus=True,
    )  # fmt: skip
    steps.judge("error", "error in the standard", error, band, standard=value_of(true))
    if inputs.kind == "as found":
        _fouling(steps, inputs, known, error, value_of(true))
    low_points = _low(steps, inputs, known)
    points: Points = ((true.value, inputs.shown.value),) if true is not None and inputs.shown is not None else ()
    apart = bool(points and low_points) and points[0][0] != low_points[0][0]
    model = Model(kind="two-point", points=low_points + points) if apart else Model(kind="gain", points=points)
    return steps.worked(model, next_value={"error": value_of(error)})


def _fouling(steps: Steps, inputs: Turbidity, known: Known, error: Entry | None, true: Fraction | None) -> None:
    """Judge what dirt alone adds at the water's own value, and with the drift at the standard's."""
    cleaned = inputs.cleaned.value if inputs.cleaned is not None else None
    band, unit = band_of(known, "fouling", cleaned), unit_shown(known)
    fouling = steps.step(
        "fouling", f"Fouling: dirty minus cleaned, on the same water; {limit_said(band)}", "{d} − {c}",
        lambda d, c: d - c, {"d": inputs.dirty, "c": inputs.cleaned}, places=3, unit=unit, plus=True, beside=band,
        source=band.source,
    )  # fmt: skip
    steps.judge("fouling", "fouling", fouling, band, standard=cleaned)
    whole = band_of(known, "total", true)
    total = steps.step(
        "as_found_total", f"Error as found: fouling and drift together; {limit_said(whole)}", "{f} + {e}",
        lambda f, e: f + e, {"f": fouling, "e": error}, places=3, unit=unit, plus=True, beside=whole,
        source=whole.source,
    )  # fmt: skip
    steps.judge("total", "fouling and drift together", total, whole, standard=true)


def _low(steps: Steps, inputs: Turbidity, known: Known) -> Points:
    used, unit = known.standards.get(inputs.low_standard), unit_shown(known)
    true = steps.given(
        "low_true", "The low standard in this meter", worth(used, known), places=3, unit=unit,
        source=_source(used, known),
    )  # fmt: skip
    band = band_of(known, "low", value_of(true))
    error = steps.step(
        "low", f"Error in the low standard; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
        {"s": inputs.low_shown, "t": true}, places=3, unit=unit, plus=True, beside=band, source=band.source,
    )  # fmt: skip
    steps.judge("low", "error in the low standard", error, band, standard=value_of(true))
    return ((true.value, inputs.low_shown.value),) if true is not None and inputs.low_shown is not None else ()


def budget(inputs: Turbidity, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of each error in a primary standard: the standard's, and the last digit of each reading.

    With fouling, the digits of dirty and cleaned water too.
    """
    unit = unit_shown(known)
    judged = {one.name: one.what for one in worked.judged}
    water = (inputs.shown, inputs.dirty, inputs.cleaned)
    read = {
        "error": (inputs.standard, (inputs.shown,)),
        "low": (inputs.low_standard, (inputs.low_shown,)),
        "total": (inputs.standard, water),
    }
    budgets: dict[str, Budget] = {}
    for name, (key, readings) in read.items():
        used = known.standards.get(key)
        if name not in judged or used is None or used.kind == BLOCK:
            continue
        digits = [last_digit(one, unit, name=said) for one, said in zip(readings, DIGITS, strict=False) if one]
        parts = [from_standard(used, sensitivity=Fraction(-1), unit=unit), *digits]
        budgets |= drawn(parts, name=name, what=judged[name], unit=unit)
    return budgets
