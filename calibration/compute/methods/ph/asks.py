"""What the pH check asks, the limits it starts with and where they come from, its cautions and words."""

from __future__ import annotations

from fractions import Fraction

from calibration.compute.method import Advice, Ask, Limit, Tag

POINTS = (1, 3)
NOT_UNDER, NOT_OVER = Fraction(-10), Fraction(130)
"""degC that a thermometer beside a probe can show at all; deg F of a warm room still pass, to be asked about."""

STILL = "Wait until it stands still: no more than 0.02 pH in 30 seconds."


def _lot_ask(each: str, part: str, *, must: bool, times: tuple[int, int]) -> Ask:
    label = "lot of the buffer"
    return Ask(name="lot", label=label, part=part, kind="standard", of=("buffer",), must=must, each=each, times=times)


def _buffer_asks(each: str, part: str) -> tuple[Ask, ...]:
    """Return the fields of one buffer: of a point of the line, or of the third buffer that proves it."""
    must = each == "point"
    times = POINTS if must else (1, 1)
    return (
        _lot_ask(each, part, must=must, times=times),
        Ask(
            name="temperature",
            label="temperature of the buffer",
            part=part,
            units=("°C",),
            must=must,
            low=NOT_UNDER,
            high=NOT_OVER,
            each=each,
            times=times,
            advice="Measured in the buffer, not taken from the process. 0.0 to 50.0 °C.",
        ),
        Ask(
            name="mv",
            label="electrode shows",
            part=part,
            units=("mV",),
            signed=True,
            low=Fraction(-500),
            high=Fraction(500),
            each=each,
            times=times,
            advice="Choose + or −, then the number, 0.0 to 500.0. Leave it empty where no millivolts are shown.",
        ),
        Ask(
            name="shown",
            label="display shows",
            part=part,
            units=("pH",),
            must=must,
            low=Fraction(0),
            high=Fraction(14),
            each=each,
            times=times,
            advice=STILL,
        ),
        Ask(
            name="seconds",
            label="seconds to settle",
            part=part,
            units=("s",),
            low=Fraction(0),
            high=Fraction(7200),
            each=each,
            times=times,
        ),
        Ask(name="steady", label="steady for 30 s", part=part, kind="yes or no", must=must, each=each, times=times),
    )


ASKS: tuple[Ask, ...] = (
    Ask(
        name="hold",
        label="the signal is on hold or forced",
        part="before",
        kind="choice",
        choices=(("on", "On hold"), ("off", "Not on hold")),
    ),
    Ask(
        name="process_shown",
        label="display in the process, before",
        part="before",
        units=("pH",),
        low=Fraction(0),
        high=Fraction(14),
        advice="Read before the probe is taken out. Leave it empty when the plant is off.",
    ),
    Ask(
        name="process_temperature",
        label="temperature of the process",
        part="before",
        units=("°C",),
        low=NOT_UNDER,
        high=NOT_OVER,
    ),
    *_buffer_asks("point", "reading set"),
    *_buffer_asks("third", "as left"),
    Ask(
        name="own_slope",
        label="slope the transmitter gives",
        part="as left",
        low=Fraction(0),
        high=Fraction(200),
        advice="As the transmitter shows it after the adjustment, with its unit.",
    ),
    Ask(
        name="own_slope_unit",
        label="unit of that slope",
        part="as left",
        kind="choice",
        choices=(("%", "% of theory"), ("mV/pH", "mV per pH")),
    ),
    Ask(
        name="own_zero",
        label="zero the transmitter gives",
        part="as left",
        signed=True,
        low=Fraction(-500),
        high=Fraction(500),
    ),
    Ask(
        name="own_zero_unit",
        label="unit of that zero",
        part="as left",
        kind="choice",
        choices=(("mV", "mV at pH 7"), ("pH", "pH of the zero point")),
    ),
)

AFTER_RETURN: tuple[Ask, ...] = (
    Ask(
        name="grab_ph",
        label="grab after return",
        part="as left",
        units=("pH",),
        low=Fraction(0),
        high=Fraction(14),
        advice="A sample from the same place, read with another meter.",
    ),
    Ask(
        name="grab_temperature",
        label="temperature of the grab",
        part="as left",
        units=("°C",),
        low=Fraction(-10),
        high=Fraction(130),
    ),
    Ask(
        name="grab_shown",
        label="display at that moment",
        part="as left",
        units=("pH",),
        low=Fraction(0),
        high=Fraction(14),
    ),
)
"""The grab after return: it is asked for and kept, and nothing is judged by it."""

LIMITS: tuple[Limit, ...] = (
    Limit(
        name="error",
        what="error at the process value",
        unit="pH",
        of="",
        low=Fraction("-0.10"),
        high=Fraction("0.10"),
        source="30 TAC 290.110: accuracy asked of a pH test, 0.1 pH",
        tag="standard",
    ),
    Limit(
        name="slope",
        what="slope of the electrode",
        unit="%",
        of="theoretical slope at the temperature of the buffers",
        low=Fraction(92),
        high=Fraction(102),
        source="a maker's manual: 92 to 102 %",
        tag="common practice",
    ),
    Limit(
        name="offset",
        what="offset at pH 7",
        unit="mV",
        of="",
        low=Fraction(-30),
        high=Fraction(30),
        source="two makers' manuals and a classroom sheet: 0 ± 30 mV",
        tag="common practice",
    ),
    Limit(
        name="third",
        what="third buffer",
        unit="pH",
        of="",
        low=Fraction("-0.10"),
        high=Fraction("0.10"),
        source="a training page for operators: third buffer within 0.1 pH, else calibrate again",
        tag="common practice",
    ),
)

CAUTIONS: tuple[str, ...] = (
    "Put what this signal paces or trips on hold, or in manual, before the probe leaves the water; take it off again "
    "when the probe is back.",
    "Rinse and blot, do not wipe: a rubbed glass carries a charge and drifts.",
    "Buffers and cleaning acid belong in eyes and drains no more than other chemicals: gloves and goggles, and never "
    "acid near hypochlorite. Follow the site's own rules and the maker's sheet.",
    "This check proves the probe and the display, not the number on the HMI or in the report.",
)

WORDS = {
    "slope": "How many millivolts the electrode gives for one pH, here as a part of what theory asks at this "
    "temperature.",
    "offset": "What the electrode gives at pH 7.00, where a perfect one gives 0 mV.",
    "zero point": "The pH at which the electrode gives 0 mV; 7.00 for a perfect one.",
    "as found": "Read before anything is cleaned or adjusted: it judges the time that has passed.",
    "confirming": "The same probe in buffers of another lot, so that one bad bottle puts no month in doubt.",
    "as left": "Read again in the buffers after adjusting: it judges the time to come.",
    "third buffer": "A buffer from another lot that was not used for the adjustment.",
}


def _advice(what: str, word: str, gravity: int, sentence: str, source: str, tag: Tag) -> Advice:
    return Advice(what=what, word=word, sentence=sentence, gravity=gravity, source=source, tag=tag)


_MAKER = "a maker's manual and classroom sheet"
HEALTHY = _advice(
    "slope and offset",
    "healthy",
    0,
    "The probe is healthy: slope 95 to 102 %, offset up to 30 mV.",
    _MAKER,
    "common practice",
)
SLOPE_WATCH = _advice("slope", "watch", 1, "Slope 92 to 95 %: watch it at the next check.", _MAKER, "from memory")
SLOPE_CLEAN = _advice(
    "slope",
    "clean and repeat",
    3,
    "Slope 85 to 92 %: often a coated glass. Clean the probe and repeat.",
    _MAKER,
    "from memory",
)
SLOPE_REPLACE = _advice(
    "slope",
    "replace",
    5,
    "Slope under 85 %: the glass is worn out or cracked. Replace the probe.",
    _MAKER,
    "common practice",
)
SLOPE_LOOK = _advice(
    "slope",
    "look at buffers and temperature",
    2,
    "Slope 102 to 105 %: no probe does better than theory. Look at the buffers and the temperature.",
    _MAKER,
    "from memory",
)
SLOPE_WRONG = _advice(
    "slope",
    "buffers wrong",
    4,
    "Slope over 105 %: the buffers are wrong. Read again in fresh ones.",
    _MAKER,
    "common practice",
)
OFFSET_WATCH = _advice(
    "offset", "watch", 1, "Offset 30 to 50 mV: the reference is ageing. Watch it.", _MAKER, "common practice"
)
OFFSET_REPLACE = _advice(
    "offset",
    "replace",
    5,
    "Offset over 50 mV: the reference is used up. Replace the probe.",
    "a maker's manual",
    "from memory",
)
NO_ANSWER = _advice("response", "replace", 6, "The probe does not answer to pH. Replace it.", "", "common practice")
SLOW = _advice(
    "settling",
    "slow",
    2,
    "More than 3 minutes to settle: a coated or dry glass, or a clogged reference. Clean the probe.",
    "usual limit of 3 minutes",
    "from memory",
)
SCATTER = _advice(
    "residual",
    "look at buffers",
    2,
    "A buffer lies more than 0.05 pH off the line through all three: one of them may be spoiled.",
    "our own limit",
    "own judgement",
)
