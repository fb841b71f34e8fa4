"""UV transmittance: the analyzer beside the bench photometer on the same sample, in points of %.

Judged and charted in points of %; carried back over readings as an offset in absorbance, for what fouls a window or
ages a lamp adds the same absorbance to every water. Pure water is its own standard and states no uncertainty.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.transcendental import log_ten, ten_to
from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import shown
from calibration.compute.method import Band, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import drawn, from_standard, last_digit
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry

LN_TEN = Fraction("2.30258509299")
"""Natural logarithm of ten, twelve digits: a transmittance changes by it, times itself, with an absorbance."""

CLEAR, OPAQUE = Fraction(100), Fraction(4)
"""% of pure water; absorbance beyond which a bench photometer tells nothing, own judgement."""

BLACK = Fraction(2)
"""% through 1 cm under which no drinking water lies; own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Transmittance(SignalRecord):
    """One set at a UV transmittance analyzer."""

    meter: str = standard("bench photometer", "bench meter")
    read_as: str = choice("the bench gives", ("percent", "Transmittance in %"), ("absorbance", "Absorbance"), must=True)
    bench: Typed | None = number("bench value of the sample", low="0", high="100", must=True)
    shown: Typed | None = number("analyzer shows", "%", low="0", high="110", must=True)
    path: str = choice(
        "length of the bench cell", ("1", "1 cm (10 mm)"), ("4", "4 cm (40 mm)"), ("5", "5 cm (50 mm)"), must=True
    )
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
    Limit(
        name="zero",
        what="error in pure water, in points of %",
        unit="%",
        of="",
        low=Fraction(-2),
        high=Fraction(2),
        source="own judgement: the 2 points of the comparison, at 100 %",
        tag="own judgement",
    ),
)


def transmittance(absorbance: Fraction) -> Fraction:
    """Return % transmittance of an absorbance: 100 x 10^-A."""
    return 100 * ten_to(-absorbance)


def absorbance(percent: Fraction) -> Fraction | None:
    """Return the absorbance of a transmittance in %: 2 - log10 of it; None of nought and less, which has none."""
    return 2 - log_ten(percent) if percent > 0 else None


def _length(inputs: Transmittance) -> Fraction:
    return Fraction(inputs.path or "1")


def _bench(steps: Steps, inputs: Transmittance) -> Entry | Typed | None:
    """Return the transmittance of 1 cm on the bench, in %, with the absorbance it has."""
    if inputs.bench is None or inputs.read_as not in {"percent", "absorbance"}:
        return None
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
    if _length(inputs) != 1:
        return None
    _as_absorbance(steps, "absorbance", "Absorbance of 1 cm on the bench", inputs.bench)
    return inputs.bench


def _as_absorbance(steps: Steps, name: str, what: str, percent: Typed | None) -> None:
    steps.given(
        name, f"{what}, 2 − log10 of the % read", absorbance(percent.value) if percent is not None else None,
        places=4, unit="1/cm", source="definition; rounded to 12 digits",
    )  # fmt: skip


def work(inputs: Transmittance, known: Known) -> Worked:
    """Work out the difference in points of %, and pure water where it was read; the model is an offset in absorbance.

    The points of the model are absorbances of 1 cm: the bench's and the analyzer's.
    """
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    true = _bench(steps, inputs)
    error = steps.step(
        "error", f"Error in points of %; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
        {"s": inputs.shown, "t": true}, places=1, unit="%", plus=True, beside=band, source=band.source,
        label="error in points of %",
    )  # fmt: skip
    steps.judge(
        "error", "error in points of %", error, band, standard=true.value if true is not None else None,
        shown=inputs.shown.value if inputs.shown is not None else None,
    )  # fmt: skip
    _as_absorbance(steps, "absorbance_shown", "Absorbance that the analyzer shows", inputs.shown)
    at_zero = band_for(LIMITS, known, "zero")
    zero = steps.step(
        "zero", f"Error in pure water, in points of %; {limit_said(at_zero)}", "{z} − {c}", lambda z, c: z - c,
        {"z": inputs.zero, "c": CLEAR}, places=1, unit="%", plus=True, beside=at_zero, source=at_zero.source,
        label="error in pure water",
    )  # fmt: skip
    steps.judge("zero", "error in pure water, in points of %", zero, at_zero, standard=CLEAR)
    return steps.worked(Model(kind="offset", points=_points(steps)), next_value={"error": value_of(error)})


def _points(steps: Steps) -> tuple[tuple[Fraction, Fraction], ...]:
    found = {one.name: Fraction(one.value) for one in steps.figures}
    if "error" not in found or not {"absorbance", "absorbance_shown"} <= set(found):
        return ()
    return ((found["absorbance"], found["absorbance_shown"]),)


def absorbance_as_percent(inputs: Transmittance, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a bench value below 2 given as % is an absorbance; own judgement."""
    if inputs.bench is None or inputs.read_as != "percent" or inputs.bench.value >= BLACK:
        return ()
    sentence = (
        f"“{inputs.bench.text}” % would be black water. Is it the absorbance? That would be "
        f"{shown(transmittance(inputs.bench.value / _length(inputs)), 1)} %."
    )
    return (ask("bench", "absorbance", sentence, stands("really", "The water really lets so little through")),)


def percent_as_absorbance(inputs: Transmittance, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: no bench shows such an absorbance, it is a transmittance. Ask: an absorbance of nearly black water."""
    if inputs.bench is None or inputs.read_as != "absorbance":
        return ()
    text = inputs.bench.text
    if inputs.bench.value > OPAQUE:
        sentence = (
            f"“{text}” is no absorbance that a bench shows. If it is {text} %, choose “Transmittance in %”: as "
            f"absorbance that is {shown(absorbance(inputs.bench.value) or Fraction(0), 3)}."
        )
        return (refuse("bench", "percent", sentence),)
    true = worked.figure("true")
    if true is None or true >= BLACK:
        return ()
    sentence = f"An absorbance of “{text}” would be {shown(true, 2)} %, black water. Is it absorbance?"
    return (ask("bench", "black", sentence, stands("really", "The water really lets so little through")),)


def _other_ways(inputs: Transmittance) -> Iterator[tuple[str, Fraction]]:
    """Yield what the bench value would be, in % of 1 cm, were it written under another heading."""
    if inputs.bench is None:
        return
    value = inputs.bench.value
    if value <= 1:
        yield "a share of 1, not of 100", 100 * value
    for length in ("1", "4", "5"):
        if inputs.read_as != "absorbance" or length != inputs.path:
            yield f"the absorbance of a {length} cm cell", transmittance(value / Fraction(length))
    if inputs.read_as == "absorbance":
        yield "a transmittance in %", value


def another_way(inputs: Transmittance, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: the error is out of its limits, and would be inside were the bench value what it may be as well."""
    error, band = worked.figure("error"), band_for(LIMITS, known, "error")
    if error is None or inputs.bench is None or inputs.shown is None or _inside(Fraction(error), band):
        return ()
    for what, percent in _other_ways(inputs):
        if _inside(inputs.shown.value - percent, band):
            sentence = (
                f"The analyzer is {shown(error, 1, plus=True)} points off. Were “{inputs.bench.text}” {what}, it would "
                f"be {shown(percent, 1)} %, and the analyzer right. Which is it?"
            )
            return (ask("bench", "another-way", sentence, stands("as written", "As written: the analyzer is off")),)
    return ()


def _inside(error: Fraction, band: Band) -> bool:
    return (band.low is None or error >= band.low) and (band.high is None or error <= band.high)


def cannot_show(inputs: Transmittance, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: an analyzer that sees nothing, or more than pure water lets through; a bench blanked on the sample."""
    found: list[Found] = []
    if inputs.shown is not None and inputs.shown.value < BLACK:
        text = inputs.shown.text
        sentence = f"The analyzer shows “{text}” %: black water, an absorbance, or a lamp that is out. Which is it?"
        found.append(ask("shown", "dark", sentence, stands("shows", "It shows that, in %")))
    if inputs.shown is not None and inputs.shown.value > CLEAR:
        sentence = f"The analyzer shows “{inputs.shown.text}” %, more than pure water lets through. Is its zero off?"
        found.append(ask("shown", "over", sentence, stands("shows", "It shows that: pure water is to be read next")))
    clear = {"percent": CLEAR, "absorbance": Fraction(0)}.get(inputs.read_as)
    if inputs.bench is not None and inputs.bench.value == clear:
        sentence = "On the bench the sample is exactly as clear as pure water. Was the bench blanked on the sample?"
        found.append(
            ask(
                "bench", "blanked", sentence, stands("pure", "Blanked on pure water: the sample is that clear"),
                spoils("sample", "Blanked on the sample"),
            )
        )  # fmt: skip
    return tuple(found)


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


def budget(inputs: Transmittance, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the error in points of %: the bench photometer's, and the last digits of both.

    The photometer states its own in % of what its cell lets through; one without a unit is an absorbance, which has
    none. One given in another unit says nothing of light: then there is no budget.
    """
    used, path = known.standards.get(inputs.meter), _length(inputs)
    if used is None or inputs.bench is None or inputs.shown is None or worked.figure("error") is None:
        return {}
    true = worked.figure("true")
    percent = inputs.bench.value if true is None else Fraction(true)
    per_absorbance = LN_TEN * percent / path
    in_cell = percent if true is None else transmittance(inputs.bench.value)
    if not in_cell:
        return {}
    per_percent = -percent / (path * in_cell)
    per_read = per_absorbance if inputs.read_as == "absorbance" else Fraction(-1)
    parts = (
        from_standard(used, unit="%", sensitivity=per_percent if used.unit else per_absorbance),
        last_digit(inputs.bench, "%", sensitivity=per_read, name="last digit of the bench"),
        last_digit(inputs.shown, "%", name="last digit of the analyzer"),
    )
    return drawn(parts, name="error", what="error in points of %", unit="%")


METHOD: Method[Transmittance] = Method(
    code="uv-transmittance",
    name="UV transmittance, beside the bench",
    version="1.1",
    quantity="transmittance",
    standards=("bench meter",),
    asks=asks_of(Transmittance),
    limits=LIMITS,
    cautions=("UV burns eyes and skin: lamp off and locked before a chamber or a sleeve is opened.",),
    work=work,
    budget=budget,
    budget_since="1.1",
    catches=(
        *AT_A_SIGNAL, absorbance_as_percent, percent_as_absorbance, another_way, cannot_show, long_cell, other_sample,
        reminder("zero", "pure", "Pure water must read 100 %; do it when the error grows in one direction."),
    ),
    read=reader_of(Transmittance),
    words={"points of %": "87 % instead of 89 % are two points, not 2 % of 89."},
)  # fmt: skip
