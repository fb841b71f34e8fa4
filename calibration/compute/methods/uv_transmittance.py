"""UV transmittance: the analyzer beside the bench photometer on the same sample, in points of %."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from assets.compute.transcendental import ten_to
from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, standard, yes_or_no
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, reminder, spoils, stands
from calibration.compute.figures import shown
from calibration.compute.method import Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Transmittance(SignalRecord):
    """One set at a UV transmittance analyzer."""

    meter: str = standard("bench photometer", "bench meter")
    read_as: str = choice("the bench gives", ("percent", "Transmittance in %"), ("absorbance", "Absorbance"), must=True)
    bench: Typed | None = number("bench value of the sample", low="0", high="100", must=True)
    shown: Typed | None = number("analyzer shows", "%", low="0", high="110", must=True)
    path: str = choice("length of the bench cell", ("1", "1 cm"), ("4", "4 cm"), ("5", "5 cm"), must=True)
    filtered: str = choice("the sample on the bench", ("as is", "As it is"), ("filtered", "Filtered"), rare=True)
    zero: Typed | None = number("analyzer on pure water", "%", low="0", high="110", rare=True)
    same: bool | None = yes_or_no("the same water at the same time", must=True)


LIMITS = (
    Limit(
        name="error",
        what="error in points of %",
        unit="%",
        of="",
        low=Fraction(-2),
        high=Fraction(2),
        source="from memory: 2 points of % transmittance",
        tag="from memory",
    ),
)


def transmittance(absorbance: Fraction) -> Fraction:
    """Return % transmittance of an absorbance: 100 x 10^-A."""
    return 100 * ten_to(-absorbance)


def _bench(steps: Steps, inputs: Transmittance) -> Entry | Typed | None:
    if inputs.bench is None or inputs.read_as not in {"percent", "absorbance"}:
        return None
    long = Fraction(inputs.path or "1")
    if inputs.read_as == "absorbance":
        per_cm = steps.step(
            "absorbance", "Absorbance of 1 cm", "{a} / {p}", lambda a, p: a / p,
            {"a": inputs.bench, "p": inputs.path or "1"}, places=4, unit="1/cm",
        )  # fmt: skip
        value = transmittance(per_cm.value) if per_cm is not None else None
        return steps.given(
            "true", "Transmittance of 1 cm on the bench, 100 × 10^(−A)", value, places=1, unit="%",
            source="definition; rounded to 12 digits",
        )  # fmt: skip
    return inputs.bench if long == 1 else None


def work(inputs: Transmittance, known: Known) -> Worked:
    """Work out the difference in points of %, the model is an offset in absorbance."""
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    true = _bench(steps, inputs)
    error = steps.step(
        "error", f"Error in points of %; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
        {"s": inputs.shown, "t": true}, places=1, unit="%", plus=True, beside=band, source=band.source,
        label="error in points of %",
    )  # fmt: skip
    standard_value = true.value if true is not None else None
    steps.judge("error", "error in points of %", error, band, standard=standard_value)
    points = ((standard_value, inputs.shown.value),) if standard_value is not None and inputs.shown is not None else ()
    return steps.worked(Model(kind="offset", points=points), next_value={"error": value_of(error)})


def absorbance_as_percent(inputs: Transmittance, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a bench value below 2 given as % is an absorbance; own judgement."""
    if inputs.bench is None or inputs.read_as != "percent" or inputs.bench.value >= 2:
        return ()
    sentence = (
        f"“{inputs.bench.text}” % would be black water. Is it the absorbance? That would be "
        f"{shown(transmittance(inputs.bench.value), 1)} %."
    )
    return (ask("bench", "absorbance", sentence, stands("really", "The water really lets so little through")),)


def long_cell(inputs: Transmittance, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: % of a longer cell is not % of 1 cm; give the absorbance, which can be divided."""
    if inputs.read_as != "percent" or inputs.path in {"", "1"}:
        return ()
    sentence = f"% through {inputs.path} cm is not % through 1 cm. Write the absorbance instead, or use a 1 cm cell."
    return (not_valid("path", "long-cell", sentence),)


def other_sample(inputs: Transmittance, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: not the same water. Ask: the bench sample was filtered and the analyzer's was not."""
    if inputs.same is False:
        sentence = "Analyzer and bench did not read the same water. Take the sample while you read the analyzer."
        return (not_valid("same", "other-sample", sentence),)
    if inputs.filtered != "filtered":
        return ()
    sentence = "The bench sample was filtered; the analyzer sees the water as it is. Do they compare?"
    return (
        ask(
            "filtered", "filtered", sentence, stands("clear", "The water is clear: filtering changes nothing"),
            spoils("not", "They do not compare"),
        ),
    )  # fmt: skip


METHOD: Method[Transmittance] = Method(
    code="uv-transmittance",
    name="UV transmittance, beside the bench",
    version="1.0",
    quantity="transmittance",
    standards=("bench meter",),
    asks=asks_of(Transmittance),
    limits=LIMITS,
    cautions=("UV burns eyes and skin: lamp off and locked before a chamber or a sleeve is opened.",),
    work=work,
    catches=(
        *AT_A_SIGNAL, absorbance_as_percent, long_cell, other_sample,
        reminder("zero", "pure", "Pure water must read 100 %; do it when the error grows in one direction."),
    ),
    read=reader_of(Transmittance),
    words={"points of %": "87 % instead of 89 % are two points, not 2 % of 89."},
)  # fmt: skip
