"""Chlorine, free or total: the analyzer against a pair of grabs from its own line, read on the bench meter.

Limit: the larger of 0.10 mg/L and 15 % of the grab (EPA Method 334.0, second-hand). The error is a gain.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.chlorine import acid_share, grab_limit
from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, words, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, fails, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Advice, Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Number, Steps, limit_said, value_of
from calibration.compute.usual_budget import against_standard
from calibration.compute.working import Entry

PAIR, PAIR_SHARE = Fraction("0.05"), Fraction("0.10")
"""How far two grabs may lie apart: 0.05 mg/L or a tenth, the larger; own judgement."""

FREE_MINUTES, TOTAL_MINUTES = Fraction(1), Fraction(3)
"""Minutes from reagent to reading: free at once, total after three; makers' sheets, common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grab:
    """One grab sample and the analyzer at the time that belongs to it."""

    shown: Typed | None = number("analyzer shows", "mg/L", low="0", high="20", must=True)
    bench: Typed | None = number("grab on the bench meter", "mg/L", low="0", high="20", must=True)
    minutes: Typed | None = number("minutes from reagent to reading", "min", low="0", high="60", rare=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chlorine(SignalRecord):
    """One set at a chlorine analyzer."""

    meter: str = standard("bench meter", "bench meter")
    grab: tuple[Grab, ...] = rows(Grab, 2, 3)
    own_line: bool | None = yes_or_no("taken from the analyzer's own line", must=True)
    lag: bool | None = yes_or_no("analyzer read after the line's and the cycle's delay", must=True)
    flow: bool | None = yes_or_no("sample flow at the analyzer is right", must=True)
    scale: str = choice("range of the bench meter", ("low", "Low range"), ("high", "High range"), rare=True)
    flashing: bool | None = yes_or_no("the bench meter flashed or said over range", rare=True)
    blank: bool | None = yes_or_no("blank done with the same water", rare=True)
    clean_cell: bool | None = yes_or_no("the cell was clean, no pink from before", rare=True)
    ph: Typed | None = number("pH of the sample", "pH", low="0", high="14", rare=True)
    temperature: Typed | None = number("temperature of the sample", "°C", low="-5", high="50", rare=True)
    total: Typed | None = number("total chlorine of the same grab", "mg/L", low="0", high="20", rare=True)
    free: Typed | None = number("free chlorine of the same grab", "mg/L", low="0", high="20", rare=True)
    zero: Typed | None = number("analyzer on dechlorinated water", "mg/L", low="-1", high="5", rare=True)
    gain: Typed | None = number("gain set in the analyzer", low="0", high="20", rare=True)
    adjusted_though_good: str = words("adjusted inside the limits, because", part="as left", rare=True)


SETTINGS = (
    Ask(
        name="species",
        label="what the analyzer measures",
        part="settings",
        kind="choice",
        must=True,
        choices=(("free", "Free chlorine"), ("total", "Total chlorine")),
    ),
    Ask(
        name="low_range",
        label="top of the bench meter's low range",
        part="settings",
        units=("mg/L",),
        low=Fraction(0),
        high=Fraction(20),
    ),
    Ask(
        name="set_ph",
        label="pH at which an uncompensated membrane sensor was set",
        part="settings",
        units=("pH",),
        low=Fraction(4),
        high=Fraction(11),
    ),
)

LIMITS = (
    Limit(
        name="error",
        what="mean error",
        unit="mg/L",
        of="",
        low=lambda known, grab: -grab_limit(grab),
        high=lambda known, grab: grab_limit(grab),
        source="EPA Method 334.0, second-hand: the larger of 0.10 mg/L and 15 % of the grab",
        tag="standard",
    ),
)


def mean_of(steps: Steps, name: str, text: str, values: Iterable[Typed], *, places: int, unit: str) -> Entry | None:
    """Take the mean of readings as a step of the working; None of none."""
    numbers: dict[str, Number] = {f"v{number}": value for number, value in enumerate(values, 1)}
    if not numbers:
        return None
    pattern = f"({' + '.join('{' + key + '}' for key in numbers)}) / {len(numbers)}"
    return steps.step(
        name, text, pattern, lambda **v: sum(v.values(), Fraction(0)) / len(v), numbers, places=places, unit=unit
    )


def _whole(inputs: Chlorine) -> list[tuple[Typed, Typed]]:
    return [(one.shown, one.bench) for one in inputs.grab if one.shown is not None and one.bench is not None]


def work(inputs: Chlorine, known: Known) -> Worked:
    """Work out the mean of the analyzer minus the mean of the grabs, and the same as % of the grab."""
    steps = Steps()
    whole = _whole(inputs)
    read = mean_of(steps, "mean_shown", "Mean of the analyzer", [s for s, _ in whole], places=3, unit="mg/L")
    true = mean_of(steps, "mean_grab", "Mean of the grabs", [g for _, g in whole], places=3, unit="mg/L")
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
    steps.step(
        "new_gain", "Gain that would read true", "{k} × {g} / {s}", lambda k, g, s: k * g / s,
        {"k": inputs.gain, "g": true, "s": read}, places=3, unit="",
    )  # fmt: skip
    _acid(steps, inputs, known)
    points = tuple((g.value, s.value) for s, g in whole)
    return steps.worked(Model(kind="gain", points=points), advice=_advice(error), next_value={"error": value_of(error)})


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


def _advice(error: Entry | None) -> tuple[Advice, ...]:
    if error is None or error.value != 0:
        return ()
    return (
        Advice(
            what="error", word="leave it", sentence="Inside the limit: leave the analyzer as it is.", gravity=0,
            source="", tag="common practice",
        ),
    )  # fmt: skip


def pair_apart(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: grabs of one minute that do not agree; own judgement."""
    values = [bench.value for _, bench in _whole(inputs)]
    if len(values) < 2 or max(values) - min(values) <= max(PAIR, PAIR_SHARE * max(values)):
        return ()
    sentence = (
        f"The grabs read {' and '.join(shown(one, 2) for one in values)} mg/L; a pair agrees within 0.05 mg/L or a "
        "tenth. Take a third, or say why they differ."
    )
    return (
        ask(
            "grab2_bench", "pair", sentence, stands("changed", "The water changed in between"),
            spoils("one wrong", "One of them is wrong"),
        ),
    )  # fmt: skip


def other_water(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: another tap, the analyzer not at its time, no sample flow."""
    said = (
        ("own_line", inputs.own_line, "The grab was taken from another tap. Take it from the analyzer's own line."),
        ("lag", inputs.lag, "The analyzer was read before this water had come to it. Wait out line and cycle."),
        ("flow", inputs.flow, "The sample flow was not right, or the analyzer was cleaning itself. Set it, then read."),
    )
    return tuple(not_valid(name, name, sentence) for name, answer, sentence in said if answer is False)


def over_range(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a bench meter over its range. Ask: a value above the low range that was chosen."""
    if inputs.flashing:
        sentence = "The bench meter was over its range. Dilute with chlorine-free water or take the high range."
        return (not_valid("flashing", "flashing", sentence),)
    top = known.number("low_range") or Fraction(2)
    high = [bench for _, bench in _whole(inputs) if bench.value > top]
    if inputs.scale != "low" or not high:
        return ()
    sentence = f"“{high[0].text}” mg/L lies over the low range, {plain(top)} mg/L. Read it in the high range."
    return (not_valid("scale", "low-range", sentence),)


def too_late(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: free read after a minute takes in combined chlorine; total before three has not developed."""
    free = known.settings.get("species") == "free"
    found: list[Found] = []
    for count, one in enumerate(inputs.grab, 1):
        if one.minutes is None:
            continue
        late = free and one.minutes.value > FREE_MINUTES
        early = not free and one.minutes.value < TOTAL_MINUTES
        if not late and not early:
            continue
        why = (
            "free chlorine is read within a minute: later the combined colours in"
            if late
            else "total chlorine is read after three minutes: before, the colour is not there yet"
        )
        found.append(
            ask(
                f"grab{count}_minutes", f"minutes-{count}",
                f"“{one.minutes.text}” minutes: {why}. Does the value stand?",
                stands("known", "This reagent asks for so long"), spoils("wrong", "It was read at the wrong time"),
            )
        )  # fmt: skip
    return tuple(found)


def bleached(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a grab near nothing beside an analyzer that shows plenty is an indicator bleached by very much chlorine."""
    pairs = [(s, g) for s, g in _whole(inputs) if g.value <= Fraction("0.1") and s.value >= Fraction("1.0")]
    if not pairs:
        return ()
    sentence = (
        f"The grab reads “{pairs[0][1].text}” and the analyzer “{pairs[0][0].text}” mg/L. Very much chlorine bleaches "
        "the indicator and looks like none. Dilute the grab and read again before you believe it."
    )
    return (
        ask(
            "grab1_bench", "bleached", sentence, fails("none", "Diluted and read again: there is none"),
            spoils("bleached", "It was bleached"),
        ),
    )  # fmt: skip


def dirty_cell(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a cell still pink from before adds to the reading."""
    if inputs.clean_cell is not False:
        return ()
    return (not_valid("clean_cell", "cell", "The cell was not clean. Rinse it with the sample, blank it, read again."),)


def total_below_free(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: total chlorine can not be less than free."""
    if inputs.total is None or inputs.free is None or inputs.total.value >= inputs.free.value - PAIR:
        return ()
    sentence = (
        f"Total, “{inputs.total.text}”, is less than free, “{inputs.free.text}” mg/L, which cannot be. Were they "
        "exchanged, or did manganese or combined chlorine colour the free test?"
    )
    return (ask("total", "total-below-free", sentence, stands("repeated", "Read twice, it is so")),)


def adjusted_inside(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: adjusting an analyzer that was inside its limits chases noise."""
    before, after = known.last.get("error"), worked.figure("error")
    band = band_for(LIMITS, known, "error", standard=Fraction(worked.figure("mean_grab") or 0))
    if inputs.kind != "as left" or inputs.unchanged or before is None or after is None or band.high is None:
        return ()
    if abs(before) > band.high or inputs.adjusted_though_good:
        return ()
    sentence = (
        f"As found the error was {shown(before, 2, plus=True)} mg/L, inside the limit. Adjusting inside the limit "
        "chases noise. Write why it was adjusted all the same."
    )
    return (refuse("adjusted_though_good", "adjusted-inside", sentence),)


def budget(inputs: Chlorine, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the mean error: the bench meter's, the last digit, and how the pair repeats."""
    used, whole = known.standards.get(inputs.meter), _whole(inputs)
    if not whole:
        return {}
    differences = tuple(read.value - bench.value for read, bench in whole)
    return against_standard(used, whole[0][0], name="error", what="mean error", unit="mg/L", repeats=differences)


METHOD: Method[Chlorine] = Method(
    code="chlorine",
    name="Chlorine, against grab samples",
    version="1.0",
    quantity="chlorine",
    standards=("bench meter",),
    asks=asks_of(Chlorine),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Reagents stain and irritate: gloves and goggles. Reagent waste goes where the site's rules say.",
        "Put what this signal paces on hold or in manual, and watch the residual by hand until it is back.",
        "Never acid near hypochlorite.",
    ),
    work=work,
    budget=budget,
    catches=(
        *AT_A_SIGNAL, pair_apart, other_water, over_range, too_late, bleached, dirty_cell, total_below_free,
        adjusted_inside,
        reminder("blank", "blank", "Blank with the same water; manganese and colour count as chlorine otherwise."),
    ),
    read=reader_of(Chlorine),
    legends={"grab": "Grab"},
    words={"grab": "A sample taken by hand from the analyzer's own line at the time it reads that water."},
)  # fmt: skip
