"""ORP: the display against a redox solution of known potential. One point, an offset; no slope exists.

Sources: ZoBell's solution, SM 2580 as reprinted: 428 mV at 25 degC against the standard hydrogen electrode, falling
2.2 mV a degree; reference electrodes as in tables of makers and of public references, read second-hand.

The uncertainty of an error is that of the solution's certificate, of the last digits of display and temperature, and of
the last digit its reference electrode is printed with; the thermometer's and the electrode's own where the site states
them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, number, reader_of
from calibration.compute.asked import standard as lot_of
from calibration.compute.budget import Budget, from_certificate, from_resolution
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import drawn, from_standard, last_digit
from calibration.compute.standards import Standard
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.temperature_tables import TemperatureTable
from calibration.compute.uncertainty import Component
from calibration.compute.working import Entry

NEAR = Fraction(5)
"""degC from 25 within which a reference electrode known there alone is used: it moves by less than 1 mV a degree."""

REFERENCES: Mapping[str, tuple[str, tuple[tuple[int, str], ...]]] = {
    "agcl-1": ("silver chloride, 1 mol/L KCl", ((25, "236"),)),
    "agcl-3": (
        "silver chloride, 3 mol/L KCl",
        ((5, "221"), (10, "217"), (15, "214"), (20, "210"), (25, "207"), (30, "203"), (35, "200"), (40, "196")),
    ),
    "agcl-3.5": (
        "silver chloride, 3.5 mol/L KCl",
        ((15, "212"), (20, "208"), (25, "205"), (30, "201"), (35, "197")),
    ),
    "agcl-4": ("silver chloride, 4 mol/L KCl", ((25, "200"),)),
    "agcl-sat": (
        "silver chloride, saturated KCl",
        ((15, "209"), (20, "204"), (25, "199"), (30, "194"), (35, "189")),
    ),
    "calomel": ("saturated calomel", ((25, "241"),)),
}
"""Name, and rows of degC and potential against the standard hydrogen electrode, mV: published tables of reference
electrodes, read second-hand. Saturated silver chloride is printed as 199 with its junction and 197 without."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Redox(SignalRecord):
    """One set at an ORP probe: the solution, its temperature, what the display shows."""

    standard: str = lot_of("redox solution", "redox solution")
    temperature: Typed | None = number("temperature of the solution", "°C", low="-5", high="60", must=True)
    shown: Typed | None = number("display shows", "mV", signed=True, low="-2000", high="2000", must=True)
    minutes: Typed | None = number("minutes to settle", "min", low="0", high="120", rare=True)
    again: Typed | None = number("display in the same solution, dipped again", "mV", signed=True, low="-2000",
                                 high="2000", rare=True)  # fmt: skip
    second: str = lot_of("second solution, once a year", "redox solution", must=False, rare=True)
    second_temperature: Typed | None = number("its temperature", "°C", low="-5", high="60", rare=True)
    second_shown: Typed | None = number("display in it", "mV", signed=True, low="-2000", high="2000", rare=True)


def reference_at(reference: str, temperature: Fraction) -> Fraction | None:
    """Return the potential of a reference electrode against hydrogen, mV, at a temperature in degC.

    Linear between the rows of its table; one that is known at 25 degC alone is used within 5 degC of it. None beyond,
    and for a reference that is not known.
    """
    if reference not in REFERENCES:
        return None
    rows = tuple((Fraction(t), Fraction(text)) for t, text in REFERENCES[reference][1])
    if len(rows) == 1:
        return rows[0][1] if abs(temperature - rows[0][0]) <= NEAR else None
    table = TemperatureTable(code=reference, name=REFERENCES[reference][0], rows=rows, source="", unit="mV")
    return table.value(temperature) if table.low <= temperature <= table.high else None


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
    Ask(
        name="reference_u",
        label="expanded uncertainty of the reference electrode, k = 2",
        part="settings",
        units=("mV",),
        low=Fraction(0),
        high=Fraction(100),
        advice="Only where its maker states one.",
    ),
    Ask(
        name="temperature_u",
        label="expanded uncertainty of the thermometer, k = 2",
        part="settings",
        units=("°C",),
        low=Fraction(0),
        high=Fraction(10),
        advice="From its certificate, where it has one.",
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
    Limit(
        name="again",
        what="change when dipped again",
        unit="mV",
        of="",
        low=Fraction(-10),
        high=Fraction(10),
        source="ASTM D1498: repeats within 10 mV, from memory",
        tag="from memory",
    ),
)


def _perfect(steps: Steps, key: str, t: Typed | None, known: Known, suffix: str) -> Entry | None:
    """Add the lines to what a perfect probe shows in a solution: its value less that of the reference electrode."""
    used = known.standards.get(key)
    said = " (second solution)" if suffix else ""
    hydrogen = used.known_at(t.value) if used is not None and t is not None else None
    reference = reference_at(known.settings.get("reference", ""), t.value) if t is not None else None
    solution = steps.given(
        f"hydrogen{suffix}", f"Solution against hydrogen at this temperature{said}", hydrogen, places=1, unit="mV",
        source=used.table.source if used is not None and used.table is not None else "label of the lot",
    )  # fmt: skip
    electrode = steps.given(
        f"reference{suffix}", f"Reference electrode against hydrogen{said}", reference, places=1, unit="mV",
        source="published tables of reference electrodes, second-hand",
    )  # fmt: skip
    return steps.step(
        f"true{suffix}", f"What a perfect probe shows{said}", "{e} − {r}", lambda e, r: e - r,
        {"e": solution, "r": electrode}, places=1, unit="mV",
    )  # fmt: skip


def work(inputs: Redox, known: Known) -> Worked:
    """Work out the error in the solution: shown minus its potential against this probe's reference."""
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    true = _perfect(steps, inputs.standard, inputs.temperature, known, "")
    error = steps.step(
        "error", f"Error; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
        {"s": inputs.shown, "t": true}, places=1, unit="mV", plus=True, beside=band, label="error in the solution",
        source=band.source,
    )  # fmt: skip
    steps.judge("error", "error in the solution", error, band, standard=value_of(true))
    change = band_for(LIMITS, known, "again")
    again = steps.step(
        "again", f"Change when dipped again; {limit_said(change)}", "{a} − {s}", lambda a, s: a - s,
        {"a": inputs.again, "s": inputs.shown}, places=1, unit="mV", plus=True, beside=change, source=change.source,
    )  # fmt: skip
    steps.judge("again", "change when dipped again", again, change)
    other = _perfect(steps, inputs.second, inputs.second_temperature, known, "_second")
    second = steps.step(
        "error_second", f"Error in the second solution; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
        {"s": inputs.second_shown, "t": other}, places=1, unit="mV", plus=True, beside=band, source=band.source,
    )  # fmt: skip
    steps.judge("error_second", "error in the second solution", second, band, standard=value_of(other))
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
    if known.settings.get("reference") in REFERENCES:
        return ()
    sentence = (
        "The kind of reference electrode is not written for this tag, so the solution has no value for it. "
        "A supervisor writes it with the limits."
    )
    return (not_valid("standard", "no-reference", sentence),)


def beyond_tables(inputs: Redox, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: the solution or the reference electrode has no value at this temperature."""
    code, found = known.settings.get("reference", ""), []
    for field, key, t in (
        ("temperature", inputs.standard, inputs.temperature),
        ("second_temperature", inputs.second, inputs.second_temperature),
    ):
        used = known.standards.get(key)
        if t is None or used is None or code not in REFERENCES:
            continue
        if used.known_at(t.value) is None:
            what = used.called
        elif reference_at(code, t.value) is None:
            what = f"the reference electrode of this probe ({REFERENCES[code][0]})"
        else:
            continue
        sentence = f"At {plain(t.value)} °C {what} has no known value. Bring the solution near 25 °C and read again."
        found.append(not_valid(field, f"beyond-{field}", sentence))
    return tuple(found)


def half_second(inputs: Redox, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a second solution of which one number is missing proves nothing."""
    parts = {"second": inputs.second, "second_temperature": inputs.second_temperature,
             "second_shown": inputs.second_shown}  # fmt: skip
    empty = [name for name, value in parts.items() if not value]
    if not empty or len(empty) == len(parts):
        return ()
    sentence = "The second solution is half written. Write its lot, its temperature and what the display shows in it."
    return (refuse(empty[0], "half-second", sentence),)


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


def same_solution(inputs: Redox, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: the first solution once more is no second one."""
    if not inputs.second or inputs.second != inputs.standard:
        return ()
    sentence = "The second solution is the first once more. Choose the lot of another solution, or leave all three out."
    return (refuse("second", "same-solution", sentence),)


def _perfect_at(used: Standard, reference: str, t: Fraction) -> Fraction | None:
    solution, electrode = used.known_at(t), reference_at(reference, t)
    return None if solution is None or electrode is None else solution - electrode


def a_degree(used: Standard, reference: str, t: Fraction) -> Fraction:
    """Return how much what a perfect probe shows changes with temperature at t degC, mV a degree.

    Over half a degree to either side; to one side alone at the end of a table, 0 where neither is known.
    """
    half = Fraction(1, 2)
    known = [(at, value) for at in (t - half, t, t + half) if (value := _perfect_at(used, reference, at)) is not None]
    if len(known) < 2:
        return Fraction(0)
    return (known[-1][1] - known[0][1]) / (known[-1][0] - known[0][0])


def _components(used: Standard, read: Typed, t: Typed, known: Known) -> list[Component | None]:
    reference = known.settings.get("reference", "")
    slope = -a_degree(used, reference, t.value)
    printed = max(Fraction(1, 10 ** len(text.partition(".")[2])) for _, text in REFERENCES[reference][1])
    parts = [
        from_standard(used, unit="mV", sensitivity=Fraction(-1)),
        last_digit(read, "mV"),
        from_resolution(printed, "last digit of the reference electrode", "published tables, second-hand"),
    ]
    if slope:
        parts.append(last_digit(t, "°C", sensitivity=slope, name="last digit of the temperature"))
    for name, said, sensitivity in (
        ("reference_u", "reference electrode", Fraction(1)),
        ("temperature_u", "thermometer", slope),
    ):
        stated = known.number(name)
        if stated and sensitivity:
            parts.append(from_certificate(stated, Fraction(2), said, "set for this tag", sensitivity=sensitivity))
    return parts


def budget(inputs: Redox, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the error in each solution; see the top of this file for what it is made of."""
    found: dict[str, Budget] = {}
    for name, what, key, t, read in (
        ("error", "error in the solution", inputs.standard, inputs.temperature, inputs.shown),
        ("error_second", "error in the second solution", inputs.second, inputs.second_temperature, inputs.second_shown),
    ):
        used = known.standards.get(key)
        if worked.figure(name) is None or used is None or t is None or read is None:
            continue
        found |= drawn(_components(used, read, t, known), name=name, what=what, unit="mV")
    return found


METHOD: Method[Redox] = Method(
    code="orp",
    name="ORP, in a redox solution",
    version="1.1",
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
    budget=budget,
    catches=(
        *AT_A_SIGNAL,
        no_reference,
        hydrogen_value,
        beyond_tables,
        half_second,
        same_solution,
        slow,
        reminder("standard", "fresh", "Quinhydrone in buffer is made on the day it is used and thrown away after it."),
    ),
    read=reader_of(Redox),
    words={
        "error": "What the display shows minus what the solution is worth against this probe's own reference.",
    },
)
