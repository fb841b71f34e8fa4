"""ORP: the display against a redox solution of known potential. One point, an offset; no slope exists.

Sources: ZoBell's solution, SM 2580 as reprinted: 428 mV at 25 degC against the standard hydrogen electrode, falling
2.2 mV a degree; reference electrodes as in tables of makers and of public references, read second-hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, number, reader_of, standard
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of

REFERENCES: Mapping[str, tuple[str, str]] = {
    "agcl-1": ("silver chloride, 1 mol/L KCl", "236"),
    "agcl-3": ("silver chloride, 3 mol/L KCl", "210"),
    "agcl-3.5": ("silver chloride, 3.5 mol/L KCl", "205"),
    "agcl-4": ("silver chloride, 4 mol/L KCl", "200"),
    "agcl-sat": ("silver chloride, saturated KCl", "199"),
    "calomel": ("saturated calomel", "241"),
}
"""Potential against the standard hydrogen electrode at 25 degC, mV: public tables, read second-hand."""

DRIFT: Mapping[str, str] = {"agcl-3": "-0.71", "agcl-3.5": "-0.75", "agcl-sat": "-1.00"}
"""Change of those potentials a degree, mV: from the printed tables between 15 and 35 degC, computed here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Redox(SignalRecord):
    """One set at an ORP probe: the solution, its temperature, what the display shows."""

    standard: str = standard("redox solution", "redox solution")
    temperature: Typed | None = number("temperature of the solution", "°C", low="-5", high="60", must=True)
    shown: Typed | None = number("display shows", "mV", signed=True, low="-2000", high="2000", must=True)
    minutes: Typed | None = number("minutes to settle", "min", low="0", high="120")


def reference_at(reference: str, temperature: Fraction) -> Fraction | None:
    """Return the potential of a reference electrode against hydrogen, mV, at a temperature in degC; None if unknown."""
    if reference not in REFERENCES:
        return None
    at_room = Fraction(REFERENCES[reference][1])
    return at_room + Fraction(DRIFT.get(reference, "0")) * (temperature - 25)


SETTINGS = (
    Ask(
        name="reference",
        label="reference electrode of the probe",
        part="settings",
        kind="choice",
        must=True,
        choices=tuple((code, words) for code, (words, _) in REFERENCES.items()),
        advice="Printed on the probe or in its manual; it moves every value by up to 40 mV.",
    ),
)

LIMITS = (
    Limit(
        name="error",
        what="error in the solution",
        unit="mV",
        of="",
        low=Fraction(-15),
        high=Fraction(15),
        source="three makers' manuals: ±15 mV",
        tag="common practice",
    ),
)


def work(inputs: Redox, known: Known) -> Worked:
    """Work out the error in the solution: shown minus its potential against this probe's reference."""
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    used = known.standards.get(inputs.standard)
    t = inputs.temperature
    hydrogen = used.known_at(t.value) if used is not None and t is not None else None
    reference = reference_at(known.settings.get("reference", ""), t.value) if t is not None else None
    solution = steps.given(
        "hydrogen", "Solution against hydrogen at this temperature", hydrogen, places=1, unit="mV",
        source=used.table.source if used is not None and used.table is not None else "label of the lot",
    )  # fmt: skip
    electrode = steps.given(
        "reference", "Reference electrode against hydrogen", reference, places=1, unit="mV",
        source="public tables of reference electrodes, second-hand",
    )  # fmt: skip
    true = steps.step(
        "true", "What a perfect probe shows", "{e} − {r}", lambda e, r: e - r,
        {"e": solution, "r": electrode}, places=1, unit="mV",
    )  # fmt: skip
    error = steps.step(
        "error", f"Error; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
        {"s": inputs.shown, "t": true}, places=1, unit="mV", plus=True, beside=band, label="error in the solution",
        source=band.source,
    )  # fmt: skip
    steps.judge("error", "error in the solution", error, band, standard=value_of(true))
    points = ((true.value, inputs.shown.value),) if true is not None and inputs.shown is not None else ()
    return steps.worked(Model(kind="offset", points=points), next_value={"error": value_of(error)})


def hydrogen_value(inputs: Redox, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: an error as large as the reference electrode is the value against hydrogen written for this probe."""
    error, reference = worked.figure("error"), worked.figure("reference")
    if error is None or reference is None or abs(abs(Fraction(error)) - Fraction(reference)) > 15:
        return ()
    return (
        ask(
            "shown",
            "hydrogen",
            f"The error, {shown(error, 0, plus=True)} mV, is as large as the reference electrode itself, "
            f"{shown(reference, 0)} mV. Was the probe really read, or a value against hydrogen written?",
            stands("read", "It was read on the display"),
            spoils("hydrogen", "It is a value against hydrogen"),
        ),
    )


def no_reference(inputs: Redox, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: without the kind of reference electrode the solution has no value for this probe."""
    if known.settings.get("reference"):
        return ()
    sentence = (
        "The kind of reference electrode is not written for this tag, so the solution has no value for it. "
        "A supervisor writes it with the limits."
    )
    return (not_valid("standard", "no-reference", sentence),)


def slow(inputs: Redox, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: more than three minutes to settle is a coated platinum; common practice, no source."""
    if inputs.minutes is None or inputs.minutes.value <= 3:
        return ()
    sentence = f"It took {plain(inputs.minutes.value)} minutes to settle; 3 are usual. A coated tip creeps. Clean it?"
    return (
        ask(
            "minutes",
            "slow",
            sentence,
            stands("stood still", "It stood still in the end"),
            spoils("still moving", "It was still moving"),
        ),
    )


METHOD: Method[Redox] = Method(
    code="orp",
    name="ORP, in a redox solution",
    version="1.0",
    quantity="redox potential",
    standards=("redox solution",),
    asks=asks_of(Redox),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Some redox solutions are strong acid: never to a drain or a bottle with hypochlorite: chlorine gas.",
        "Solutions with iron cyanide never meet acid. Gloves, goggles, the site's rules, the maker's sheet.",
        "ORP is no chlorine residual and is not reported as one.",
    ),
    work=work,
    catches=(
        *AT_A_SIGNAL,
        no_reference,
        hydrogen_value,
        slow,
        reminder("standard", "fresh", "Quinhydrone in buffer is made on the day it is used and thrown away after it."),
    ),
    read=reader_of(Redox),
    words={
        "error": "What the display shows minus what the solution is worth against this probe's own reference.",
    },
)
