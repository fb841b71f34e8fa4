"""An hour meter by the clock on the wall, or a totalizer by a known volume. Its readings are kept with the machine.

An hour meter's uncertainty is that of the clock and of the last digits read; a totalizer has none, for the unit it
counts in is not known here, so that a tank's cannot be put beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.counters import counted, tenfold
from calibration.compute.asked import Record, asks_of, choice, number, reader_of, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import EVERY_CHECK, ask, not_valid, refuse, remind, reminder, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import drawn, from_standard, last_digit, other_quantity, step_of
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter(Record):
    """One test of an hour meter or a totalizer."""

    way: str = choice("what is tested", ("hours", "Hour meter"), ("volume", "Totalizer"), must=True)
    standard: str = standard("clock or measured tank", "clock", "tank", must=False, rare=True)
    first: Typed | None = number("meter at the beginning", low="0", must=True)
    last: Typed | None = number("meter at the end", low="0", must=True)
    true: Typed | None = number(
        "hours by the clock, or the known volume", low="0.0001", must=True, advice="In the unit of the meter."
    )
    running: bool | None = yes_or_no("the machine ran all that time", must=True)
    rolled: bool | None = yes_or_no("the meter began anew at nought in between", rare=True)
    power_only: bool | None = yes_or_no("it counts while power is on, running or not", rare=True)


SETTINGS = (
    Ask(
        name="modulus", label="number at which it begins anew", part="settings", low=Fraction(1), high=Fraction(10**12)
    ),
)

LIMITS = (
    Limit(
        name="error",
        what="error of what it counted",
        unit="%",
        of="true",
        low=Fraction(-1),
        high=Fraction(1),
        source="own judgement: 1 % in an hour's run, once a year",
        tag="own judgement",
    ),
)


def _counted(steps: Steps, inputs: Counter, known: Known) -> Entry | None:
    if inputs.first is None or inputs.last is None:
        return None
    modulus = known.number("modulus") if inputs.rolled else None
    try:
        value = counted(inputs.first.value, inputs.last.value, modulus=modulus)
    except ValueError:
        return None
    if modulus is None:
        return steps.step(
            "counted",
            "Counted",
            "{b} − {a}",
            lambda b, a: b - a,
            {"b": inputs.last, "a": inputs.first},
            places=3,
            unit="",
        )
    return steps.given("counted", f"Counted, anew from nought at {plain(modulus)}", value, places=3, unit="", source="")


def work(inputs: Counter, known: Known) -> Worked:
    """Work out what it counted against what there was."""
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    found = _counted(steps, inputs, known)
    error = steps.step(
        "error", f"Error in % of what there was; {limit_said(band)}", "100 × ({c} − {t}) / {t}",
        lambda c, t: 100 * (c - t) / t, {"c": found, "t": inputs.true}, places=2, unit="%", plus=True, beside=band,
        source=band.source, label="error of what it counted",
    )  # fmt: skip
    steps.judge("error", "error of what it counted", error, band, of="true")
    points = ((inputs.true.value, found.value),) if found is not None and inputs.true is not None else ()
    return steps.worked(Model(kind="gain", points=points), next_value={"error": value_of(error)})


def went_down(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a meter that shows less than before, without having begun anew."""
    if inputs.first is None or inputs.last is None or inputs.last.value >= inputs.first.value or inputs.rolled:
        return ()
    sentence = (
        f"It went from “{inputs.first.text}” to “{inputs.last.text}”. Did it begin anew at nought, was it exchanged, "
        "or are the two changed round?"
    )
    return (not_valid("last", "down", sentence),)


def no_modulus(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: begun anew without the number at which it does, without having gone down, or beyond that number."""
    if not inputs.rolled or inputs.first is None or inputs.last is None:
        return ()
    modulus = known.number("modulus")
    if modulus is None:
        sentence = (
            "It began anew at nought, but the number at which it does is not written for this meter. A supervisor "
            "writes it (100000 for five digits)."
        )
        return (refuse("rolled", "no-modulus", sentence),)
    if inputs.last.value >= inputs.first.value:
        sentence = "It is said to have begun anew at nought, and it did not go down. Choose no, or read it again."
        return (refuse("rolled", "not-rolled", sentence),)
    if inputs.first.value < modulus:
        return ()
    sentence = (
        f"“{inputs.first.text}” is more than this meter shows: it begins anew at {plain(modulus)}. Read it again."
    )
    return (refuse("first", "beyond", sentence),)


def coarse_digits(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: one step of the meter is more of the run than a quarter of the limit; own judgement."""
    band = band_for(LIMITS, known, "error")
    edge = min((abs(one) for one in (band.low, band.high) if one is not None), default=None)
    if inputs.first is None or inputs.last is None or inputs.true is None or edge is None:
        return ()
    share = 100 * max(step_of(one, "") for one in (inputs.first, inputs.last)) / inputs.true.value
    if 4 * share <= edge:
        return ()
    sentence = (
        f"One step of this meter is {shown(share, 1)} % of the run; the limit is {plain(edge)} %. Read it as its wheel "
        "turns, or run longer."
    )
    return (remind("last", "coarse", sentence),)


def tenths(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: ten times too much or too little is the wheel of tenths, or a pulse value."""
    found = worked.figure("counted")
    if found is None or inputs.true is None or found == 0:
        return ()
    if not tenfold(Fraction(found), inputs.true.value):
        return ()
    sentence = "Ten times off: is the last wheel tenths, or the pulse value ten times wrong?"
    return (
        ask("last", "tenths", sentence, spoils("tenths", "The last wheel is tenths"), stands("pulse", "It counts so")),
    )


def not_running(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: the machine stood part of the time."""
    if inputs.running is not False:
        return ()
    return (not_valid("running", "stood", "The machine stood part of the time. Test it over a whole run."),)


def power_on(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a meter that counts power on is no meter of running."""
    if not inputs.power_only:
        return ()
    sentence = "It counts while power is on. What hangs on running hours is then due too soon. Is it known?"
    return (ask("power_only", "power", sentence, stands("known", "Known: routines go by another meter")),)


def budget(inputs: Counter, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of an hour meter's error in %: the clock's and the last digit of every reading."""
    used, found = known.standards.get(inputs.standard), worked.figure("counted")
    if inputs.way != "hours" or found is None or inputs.first is None or inputs.last is None or inputs.true is None:
        return {}
    true = inputs.true.value
    per_true, per_read = -100 * Fraction(found) / true**2, 100 / true
    parts = (
        from_standard(used, unit="h", sensitivity=per_true),
        last_digit(inputs.true, "", sensitivity=per_true, name="last digit of the clock"),
        last_digit(inputs.first, "", sensitivity=-per_read, name="last digit at the beginning"),
        last_digit(inputs.last, "", sensitivity=per_read, name="last digit at the end"),
    )
    return drawn(parts, name="error", what="error of what it counted", unit="%")


METHOD: Method[Counter] = Method(
    code="running-meter",
    name="Hour meter or totalizer, tested",
    version="1.1",
    quantity="count",
    standards=("clock", "tank"),
    asks=asks_of(Counter),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=("Read meters from outside guards; nobody reaches past a turning shaft.",),
    work=work,
    budget=budget,
    budget_since="1.1",
    catches=(
        *EVERY_CHECK, went_down, no_modulus, coarse_digits, tenths, not_running, power_on,
        other_quantity("standard", "h", "m³", "m²"),
        reminder("standard", "which", "Two pumps side by side: follow the wire, and look whose meter this is."),
        reminder("power_only", "power-on", "See once whether it stops when the machine stops."),
    ),
    read=reader_of(Counter),
    stages=("as found",),
)  # fmt: skip
