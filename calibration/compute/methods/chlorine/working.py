"""The error of a chlorine analyzer beside its grabs, its zero, the gain that would read true, and its uncertainty."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from assets.compute.formulas.chlorine import acid_share
from calibration.compute.budget import Budget
from calibration.compute.figures import plain
from calibration.compute.grabs import mean_of, pair_budget
from calibration.compute.method import Advice, Band, Known, Model, Worked, band_for
from calibration.compute.methods.chlorine.asks import LIMITS, Chlorine, whole
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry


def work(inputs: Chlorine, known: Known) -> Worked:
    """Work out the mean of the analyzer minus the mean of the grabs, and the same as % of the grab."""
    steps = Steps()
    pairs = [(read, grab) for _, read, grab in whole(inputs)]
    read = mean_of(steps, "mean_shown", "Mean of the analyzer", [s for s, _ in pairs], places=3, unit="mg/L")
    true = mean_of(steps, "mean_grab", "Mean of the grabs", [g for _, g in pairs], places=3, unit="mg/L")
    band = band_for(LIMITS, known, "error", standard=value_of(true) or Fraction(0))
    error = steps.step(
        "error", f"Error; {limit_said(band)}", "{s} − {g}", lambda s, g: s - g, {"s": read, "g": true}, places=3,
        unit="mg/L", plus=True, beside=band, source=band.source, label="mean error",
    )  # fmt: skip
    steps.step(
        "error_percent", "Error in % of the grab", "100 × {e} / {g}", lambda e, g: 100 * e / g, {"e": error, "g": true},
        places=1, unit="%", plus=True,
    )  # fmt: skip
    steps.judge("error", "mean error", error, band, shown=value_of(read), standard=value_of(true))
    gain = inputs.new_gain if inputs.kind == "as left" and inputs.new_gain is not None else inputs.gain
    steps.step(
        "new_gain", "Gain that would read true", "{k} × {g} / {s}", lambda k, g, s: k * g / s,
        {"k": gain, "g": true, "s": read}, places=3, unit="",
    )  # fmt: skip
    _zero(steps, inputs, known)
    _acid(steps, inputs, known)
    points = tuple((grab.value, shown.value) for shown, grab in pairs)
    advice = _advice(inputs, error, band, zero_is_good=_zero_is_good(inputs, known), pair=len(pairs) > 1)
    return steps.worked(Model(kind="gain", points=points), advice=advice, next_value={"error": value_of(error)})


def _zero(steps: Steps, inputs: Chlorine, known: Known) -> None:
    if inputs.zero is None:
        return
    band = band_for(LIMITS, known, "zero")
    said = inputs.zero.text.replace("-", "−")
    steps.say(f"Analyzer on dechlorinated water; {limit_said(band)}", value=said, unit="mg/L", source=band.source)
    steps.judge("zero", "zero", inputs.zero.value, band)


def _zero_is_good(inputs: Chlorine, known: Known) -> bool:
    return inputs.zero is None or inside(inputs.zero.value, band_for(LIMITS, known, "zero"))


def inside(value: Fraction, band: Band) -> bool:
    """Tell whether a value lies inside its limits, the limits themselves included."""
    return (band.low is None or value >= band.low) and (band.high is None or value <= band.high)


def _acid(steps: Steps, inputs: Chlorine, known: Known) -> None:
    if inputs.ph is None or inputs.temperature is None:
        return
    now = steps.given(
        "acid_share", "Part of free chlorine that is hypochlorous acid",
        100 * acid_share(inputs.ph.value, inputs.temperature.value),
        places=1, unit="%", source="pKa = 3000/T − 10.0686 + 0.0253 T, from memory",
    )  # fmt: skip
    set_ph = known.number("set_ph")
    if now is None or set_ph is None:
        return
    then = steps.given(
        "acid_share_set", f"The same at pH {plain(set_ph)}, where the sensor was set",
        100 * acid_share(set_ph, inputs.temperature.value), places=1, unit="%", source="the same formula",
    )  # fmt: skip
    steps.step(
        "ph_effect", "What that alone does to an uncompensated sensor", "100 × ({a} / {b} − 1)",
        lambda a, b: 100 * (a / b - 1), {"a": now, "b": then}, places=0, unit="%", plus=True,
    )  # fmt: skip


def _advice(inputs: Chlorine, error: Entry | None, band: Band, *, zero_is_good: bool, pair: bool) -> tuple[Advice, ...]:
    """Advise, as found: inside the limit leave it; outside, adjust to a pair. Common practice: it chases noise else."""
    if inputs.kind != "as found" or error is None:
        return ()
    if not zero_is_good:
        word, sentence, gravity = "set the zero", "The zero is off: set it first, then read a new pair.", 2
    elif inside(error.value, band):
        word, sentence, gravity = "leave it", "Inside the limit: leave the analyzer as it is.", 0
    elif pair:
        word, sentence, gravity = "adjust", "Adjust it to the mean of the grabs, then read a new pair.", 2
    else:
        word, sentence, gravity = "take a pair", "Take a second grab first: an adjustment rests on a pair.", 2
    return (
        Advice(what="error", word=word, sentence=sentence, gravity=gravity, source="", tag="common practice"),
    )  # fmt: skip


def budget(inputs: Chlorine, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the mean error: the bench meter's, both last digits, and how the pair repeats."""
    drawn = pair_budget(
        known.standards.get(inputs.meter), [(read, grab) for _, read, grab in whole(inputs)], what="mean error",
        unit="mg/L", result="mg/L",
    )  # fmt: skip
    return {} if drawn is None else {"error": drawn}
