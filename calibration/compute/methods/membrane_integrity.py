"""Membrane integrity by pressure decay: a fail takes the unit off line until a test passes.

There is no budget: the gauge is the unit's own, which states none here; a site writes one with the limit. The
temperature of the water is kept as a condition of the test and moves no verdict: the rule for the decay has none in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.membrane import decay_rate, largest_decay, log_removal
from calibration.compute.asked import Record, asks_of, number, reader_of, yes_or_no
from calibration.compute.doubts import EVERY_CHECK, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import EXTRA_DIGITS, plain, rounded, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of

NAMES = ("flow", "ratio", "air", "volume", "factor")

VOLUMES_APART = Fraction(1, 10)
"""The volume drained and the one under pressure agree within this share; own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decay(Record):
    """One pressure decay test of one unit."""

    start: Typed | None = number("pressure at the start", "kPa", "bar", "psi", low="0", high="500", must=True)
    end: Typed | None = number("pressure at the end", "kPa", "bar", "psi", low="0", high="500", must=True)
    minutes: Typed | None = number("minutes between", "min", low="0.1", high="120", must=True)
    shut: bool | None = yes_or_no("valves seen shut", must=True)
    off_line: bool | None = yes_or_no("unit off line until this test passes", must=True)
    temperature: Typed | None = number("temperature of the water", "°C", low="-2", high="50", rare=True)
    drained: Typed | None = number("volume drained", "L", "gal", low="0", rare=True)
    repeat: bool | None = yes_or_no("this repeats a test that failed", rare=True)


def _ask(name: str, label: str, unit: str, most: int = 10**7) -> Ask:
    units = (unit,) if unit else ()
    return Ask(name=name, label=label, part="settings", units=units, must=True, low=Fraction(0), high=Fraction(most))


SETTINGS = (
    _ask("removal", "log removal to be proved", "", 12),
    _ask("flow", "filtrate flow the removal is stated for", "L/min"),
    _ask("ratio", "air-liquid conversion ratio", ""),
    _ask("air", "air pressure", "kPa"),
    _ask("volume", "volume under pressure", "L"),
    _ask("factor", "volumetric concentration factor", ""),
    _ask("least_start", "least starting pressure", "kPa", 500),
    _ask("least_minutes", "least minutes of a test", "min", 120),
)


def _constants(known: Known) -> dict[str, Fraction] | None:
    found = {name: value for name in NAMES if (value := known.number(name)) is not None and value > 0}
    return found if len(found) == len(NAMES) else None


def _largest(known: Known, standard: Fraction) -> Fraction:
    constants, removal = _constants(known), known.number("removal")
    if constants is None or removal is None:
        return Fraction(0)
    return largest_decay(removal, **constants)


LIMITS = (
    Limit(
        name="decay",
        what="decay of the pressure",
        unit="kPa/min",
        of="",
        low=None,
        high=_largest,
        source="from the log removal and the constants written for this unit",
        tag="site setting",
    ),
)


def work(inputs: Decay, known: Known) -> Worked:
    """Work out the decay rate, judge it by the largest that still proves the removal, and what it proves."""
    steps = Steps()
    band = band_for(LIMITS, known, "decay")
    rate = steps.step(
        "decay", f"Decay of the pressure; {limit_said(band)}", "({a} − {b}) / {t}", lambda a, b, t: decay_rate(a, b, t),
        {"a": inputs.start, "b": inputs.end, "t": inputs.minutes}, places=3, unit="kPa/min", beside=band,
        source=band.source, label="decay of the pressure",
    )  # fmt: skip
    constants = _constants(known)
    if constants is not None:
        steps.judge("decay", "decay of the pressure", rate, band)
        if rate is not None and rate.value > 0:
            proved = log_removal(rate.value, **constants)
            steps.given(
                "removal", "Log removal this decay proves", proved, places=_places(proved, known.number("removal")),
                unit="", source="log10(Qp × ALCR × Patm / (decay × V × VCF)), from memory",
            )  # fmt: skip
    return steps.worked(Model(kind="window"), next_value={"decay": value_of(rate)})


def _places(proved: Fraction, wanted: Fraction | None) -> int:
    """Return how many places show the removal without rounding it up to the one to be proved."""
    enough = (
        places
        for places in range(2, 2 + EXTRA_DIGITS)
        if not proved < (wanted or Fraction(0)) <= rounded(proved, places)
    )
    return next(enough, 2 + EXTRA_DIGITS)


def no_constants(inputs: Decay, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: without the unit's constants nobody can say which decay is too much."""
    needed = [known.number(name) or Fraction(0) for name in ("removal", "least_start", "least_minutes")]
    if _constants(known) is not None and min(needed) > 0:
        return ()
    sentence = (
        "The constants of this unit are not written, or one of them is nought: log removal, flow, ratio, air, volume, "
        "factor, least pressure and least minutes. A supervisor writes them."
    )
    return (refuse("start", "no-constants", sentence),)


def too_low_or_short(inputs: Decay, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: begun under the least pressure, or too short to show a leak."""
    found: list[Found] = []
    least, minutes = known.number("least_start"), known.number("least_minutes")
    if least is not None and inputs.start is not None and inputs.start.value < least:
        sentence = f"The test began at “{inputs.start.text}” {inputs.start.unit}; at least {plain(least)} kPa asked."
        found.append(not_valid("start", "low-start", f"{sentence} Pressurise and test again."))
    if minutes is not None and inputs.minutes is not None and inputs.minutes.value < minutes:
        sentence = f"“{inputs.minutes.text}” minutes are too short; at least {plain(minutes)} are asked. Test again."
        found.append(not_valid("minutes", "short", sentence))
    return tuple(found)


def valve_or_fibre(inputs: Decay, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: valves not seen shut, which leak like a fibre; a pressure that rose. Ask: nothing lost at all."""
    found: list[Found] = []
    if inputs.shut is False:
        found.append(not_valid("shut", "valves", "Valves were not seen shut; a leaking one looks like a fibre."))
    rate = worked.figure("decay")
    if rate is not None and rate < 0:
        sentence = (
            "The pressure rose during the test: air that warms up, or a valve that lets some in, hides a leak. If the "
            "two readings are exchanged write them again; else test again."
        )
        found.append(not_valid("end", "rose", sentence))
    elif rate == 0:
        sentence = "Nothing was lost at all. Is the gauge shut off, or its value frozen or forced?"
        choices = (stands("tight", "Looked: the gauge is open and moves"), spoils("frozen", "It does not move"))
        found.append(ask("end", "still", sentence, *choices))
    return tuple(found)


def other_volume(inputs: Decay, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: more or less was drained than is said to stand under pressure; a tenth, own judgement."""
    volume = known.number("volume")
    if inputs.drained is None or not volume or abs(inputs.drained.value / volume - 1) <= VOLUMES_APART:
        return ()
    sentence = (
        f"{shown(inputs.drained.value, 0)} L were drained, {plain(volume)} L are written as the volume under pressure. "
        "The removal is worked out with the second."
    )
    return (
        ask(
            "drained", "volume", sentence, stands("other", "The rest does not stand under pressure"),
            spoils("mend", "Then the constant is looked at first"),
        ),
    )  # fmt: skip


def on_line(inputs: Decay, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a unit given back before a test passed."""
    if inputs.off_line is not False:
        return ()
    sentence = "A unit goes back on line after a test that passed, not before. Was it off line until now?"
    return (
        ask(
            "off_line",
            "on-line",
            sentence,
            stands("rule", "The permit lets it run while tested"),
            spoils("ran", "It ran"),
        ),
    )


METHOD: Method[Decay] = Method(
    code="membrane-integrity",
    name="Membrane integrity, pressure decay",
    version="1.1",
    quantity="membrane",
    standards=(),
    asks=asks_of(Decay),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Compressed air is stored energy: stand clear of clamps, vent before anything is loosened.",
        "A unit that fails goes off line, is isolated and locked for repair, and comes back after a test that passes.",
    ),
    work=work,
    catches=(
        *EVERY_CHECK, no_constants, too_low_or_short, valve_or_fibre, other_volume, on_line,
        reminder("repeat", "repeat", "Say whether this repeats a test that failed: both are kept."),
    ),
    read=reader_of(Decay),
    stages=("as found",),
    headline="decay",
    skipped_by=frozenset({"drift", "pooling"}),
)  # fmt: skip
