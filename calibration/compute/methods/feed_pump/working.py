"""The working of a drawdown: what the pump gives, how the runs agree, and the dose the water gets."""

from __future__ import annotations

from fractions import Fraction

from assets.compute.formulas.dosing import (
    delivered,
    dose,
    dose_by_tank,
    feed_for,
    from_trade_percent,
    from_weight_percent,
)
from calibration.compute.method import Advice, Known, Model, Tag, Typed, Worked, band_for
from calibration.compute.methods.feed_pump.asks import LIMITS, Drawdown, Run
from calibration.compute.standard_units import correction
from calibration.compute.standards import Standard
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry


def grams_per_litre(inputs: Drawdown) -> Fraction | None:
    """Return the strength in g/L by its basis; None where basis or gravity is missing."""
    if inputs.strength is None:
        return None
    if inputs.basis == "g/L":
        return inputs.strength.value
    if inputs.basis == "trade":
        return from_trade_percent(inputs.strength.value)
    if inputs.basis == "wt" and inputs.gravity is not None:
        return from_weight_percent(inputs.strength.value, inputs.gravity.value)
    return None


def work(inputs: Drawdown, known: Known) -> Worked:
    """Work out the mean feed, its spread, its error in % of what was commanded, and the dose."""
    steps = Steps()
    used = known.standards.get(inputs.column)
    band = band_for(LIMITS, known, "error")
    rates: list[Entry] = []
    for count, one in enumerate(inputs.run, 1):
        first, last = (_level(steps, used, level, f"{end}_{count}") for level, end in _ends(one))
        rate = steps.step(
            f"rate_{count}", f"Run {count}", "({a} − {b}) × 60 / {t}", lambda a, b, t: delivered(a - b, t),
            {"a": first, "b": last, "t": one.seconds}, places=1, unit="mL/min",
        )  # fmt: skip
        if rate is not None:
            rates.append(rate)
    mean = _mean(steps, rates)
    error = steps.step(
        "error", f"Error in % of what was commanded; {limit_said(band)}", "100 × ({q} − {c}) / {c}",
        lambda q, c: 100 * (q - c) / c, {"q": mean, "c": inputs.commanded}, places=1, unit="%", plus=True, beside=band,
        source=band.source, label="error of the feed",
    )  # fmt: skip
    steps.judge("error", "error of the feed", error, band, of="target", shown=value_of(mean))
    _spread(steps, known, rates, mean)
    _dose(steps, inputs, mean)
    pair = ((mean.value, inputs.commanded.value),) if mean is not None and inputs.commanded is not None else ()
    return steps.worked(Model(kind="gain", points=pair), advice=_advice(error), next_value={"error": value_of(error)})


def _ends(one: Run) -> tuple[tuple[Typed | None, str], tuple[Typed | None, str]]:
    return (one.first, "start"), (one.last, "end")


def _level(steps: Steps, used: Standard | None, read: Typed | None, name: str) -> Typed | Entry | None:
    """Return what the column held, with what its certificate adds to the reading."""
    added = correction(used, read.value, "mL") if read is not None else Fraction(0)
    if not added:
        return read
    end, _, count = name.partition("_")
    return steps.step(
        name, f"Run {count}: the column at the {end}, corrected", "{v} + {c}", lambda v, c: v + c,
        {"v": read, "c": added}, places=2, unit="mL",
    )  # fmt: skip


def _mean(steps: Steps, rates: list[Entry]) -> Entry | None:
    if not rates:
        return None
    numbers = {f"r{count}": one for count, one in enumerate(rates, 1)}
    pattern = f"({' + '.join('{' + key + '}' for key in numbers)}) / {len(numbers)}"
    return steps.step(
        "mean", "Mean of the runs", pattern, lambda **r: sum(r.values(), Fraction(0)) / len(r), numbers, places=2,
        unit="mL/min",
    )  # fmt: skip


def _spread(steps: Steps, known: Known, rates: list[Entry], mean: Entry | None) -> None:
    if len(rates) < 2:
        return
    band = band_for(LIMITS, known, "spread")
    most, least = max(rates, key=lambda one: one.value), min(rates, key=lambda one: one.value)
    steps.step(
        "spread", f"Spread of the runs in % of their mean; {limit_said(band)}", "100 × ({h} − {s}) / {m}",
        lambda h, s, m: 100 * (h - s) / m, {"h": most, "s": least, "m": mean}, places=1, unit="%", beside=band,
        source=band.source, label="spread of the runs",
    )  # fmt: skip


def _dose(steps: Steps, inputs: Drawdown, mean: Entry | None) -> None:
    strength = steps.given(
        "strength", "Strength", grams_per_litre(inputs), places=1, unit="g/L",
        source=f"measured on {inputs.measured_on}" if inputs.measured_on else "label",
    )  # fmt: skip
    steps.step(
        "dose", "Dose the water gets", "{q} × {g} / {w}", lambda q, g, w: dose(q, g, w),
        {"q": mean, "g": strength, "w": inputs.water}, places=2, unit="mg/L",
    )  # fmt: skip
    steps.step(
        "dose_by_tank", "Dose by the tank and the water treated", "{v} × {g} / {w}",
        lambda v, g, w: dose_by_tank(v, g, w), {"v": inputs.drop, "g": strength, "w": inputs.treated}, places=2,
        unit="mg/L",
    )  # fmt: skip
    steps.step(
        "wanted", "Feed for the target", "{d} × {w} / {g}", lambda d, w, g: feed_for(d, w, g),
        {"d": inputs.target, "w": inputs.water, "g": strength}, places=1, unit="mL/min",
    )  # fmt: skip


def _advice(error: Entry | None) -> tuple[Advice, ...]:
    if error is None or abs(error.value) <= 5:
        return ()
    sentence = "More than 5 % off: look at valves, suction, strength and the setting."
    tag: Tag = "from memory"
    return (Advice(what="error", word="look into it", sentence=sentence, gravity=2, source="from memory", tag=tag),)
