"""What is asked at a chlorine analyzer, and the limits it is judged by."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.chlorine import grab_limit
from calibration.compute.asked import SignalRecord, choice, number, rows, standard, words, yes_or_no
from calibration.compute.grabs import ONE_GRAB
from calibration.compute.method import Ask, Limit, Typed

SPECIES = {"free": "Free chlorine", "total": "Total chlorine"}
LEVELS = (("enough", "Enough until the next check"), ("low", "It runs low"), ("empty", "None left"))
AS_PRINTED = "As printed, like 2027-03-31 or 2027-03."


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
    bench_read: str = choice("the bench test was for", *SPECIES.items(), rare=True)
    flashing: bool | None = yes_or_no("the bench meter flashed or said over range", rare=True)
    blank: bool | None = yes_or_no("blank done with the same water", rare=True)
    clean_cell: bool | None = yes_or_no("the cell was clean, no pink from before", rare=True)
    reagent: str = words("lot of the bench reagent", rare=True)
    reagent_expires: str = words("bench reagent is good until", rare=True, advice=AS_PRINTED)
    level: str = choice("reagent in the analyzer, as found", *LEVELS, rare=True)
    analyzer_reagent: str = words("lot of the reagent in the analyzer", rare=True)
    analyzer_expires: str = words("reagent in the analyzer is good until", rare=True, advice=AS_PRINTED)
    ph: Typed | None = number("pH of the sample", "pH", low="0", high="14", rare=True)
    temperature: Typed | None = number("temperature of the sample", "°C", low="-5", high="50", rare=True)
    total: Typed | None = number("total chlorine of the same grab", "mg/L", low="0", high="20", rare=True)
    free: Typed | None = number("free chlorine of the same grab", "mg/L", low="0", high="20", rare=True)
    zero: Typed | None = number("analyzer on dechlorinated water", "mg/L", low="-1", high="5", rare=True)
    gain: Typed | None = number("gain set in the analyzer", low="0", high="20", rare=True)
    new_gain: Typed | None = number("gain it was set to", part="as left", low="0", high="20", rare=True)
    adjusted_though_good: str = words("adjusted inside the limits, because", part="as left", rare=True)


SETTINGS = (
    Ask(
        name="species",
        label="what the analyzer measures",
        part="settings",
        kind="choice",
        must=True,
        choices=tuple(SPECIES.items()),
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
    Ask(
        name="combined",
        label="the water carries combined chlorine (ammonia in it or dosed)",
        part="settings",
        kind="choice",
        choices=(("yes", "Yes"), ("no", "No")),
    ),
    ONE_GRAB,
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
    Limit(
        name="zero",
        what="zero, on dechlorinated water",
        unit="mg/L",
        of="",
        low=lambda known, grab: -grab_limit(Fraction(0)),
        high=lambda known, grab: grab_limit(Fraction(0)),
        source="own judgement: the limit beside a grab, where there is no chlorine",
        tag="own judgement",
    ),
)


def whole(inputs: Chlorine) -> list[tuple[int, Typed, Typed]]:
    """Return number, analyzer and grab of each row that holds both."""
    return [
        (count, one.shown, one.bench)
        for count, one in enumerate(inputs.grab, 1)
        if one.shown is not None and one.bench is not None
    ]
