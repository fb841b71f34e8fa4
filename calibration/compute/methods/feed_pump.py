"""A chemical feed pump by drawdown: what it delivers, how strong that is, and the dose the water gets.

The uncertainty of the feed is that of the column, of how the runs repeat, and of the last digits of column and time;
that of the dose is not worked out, for the dose is not judged.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from assets.compute.formulas.dosing import (
    delivered,
    dose,
    dose_by_tank,
    feed_for,
    from_trade_percent,
    from_weight_percent,
)
from assets.compute.transcendental import square_root
from calibration.compute.asked import Record, asks_of, choice, number, reader_of, rows, standard, words, yes_or_no
from calibration.compute.budget import Budget, from_repeats, from_resolution
from calibration.compute.doubts import EVERY_CHECK, ask, not_valid, refuse, remind, reminder, spoils, stands
from calibration.compute.figures import shown
from calibration.compute.method import Advice, Ask, Found, Known, Limit, Method, Model, Tag, Typed, Worked, band_for
from calibration.compute.standard_units import drawn, from_standard, other_quantity, step_of
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry

APART = 10
"""Two doses are asked about when they stand more than a tenth apart; own judgement."""

AGED_DAYS = 30
"""Days after which a hypochlorite strength is asked about: it fades; own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run of the pump out of the column."""

    first: Typed | None = number("column at the start", "mL", "L", low="0", high="20000", must=True)
    last: Typed | None = number("column at the end", "mL", "L", low="0", high="20000", must=True)
    seconds: Typed | None = number("seconds", "s", low="1", high="7200", must=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawdown(Record):
    """One set at a feed pump."""

    column: str = standard("calibration column", "column", must=False, rare=True)
    setting: Typed | None = number("setting of the pump", "%", low="0", high="110", must=True)
    commanded: Typed | None = number("commanded", "mL/min", "L/h", "gal/h", low="0.001", must=True)
    run: tuple[Run, ...] = rows(Run, 3, 5)
    pressure: bool | None = yes_or_no("at working pressure and suction", must=True)
    off_run: Typed | None = number("drawn in a minute with the pump stopped", "mL", low="0", high="5000", rare=True)
    strength: Typed | None = number("strength", low="0.001", high="2000", rare=True)
    basis: str = choice(
        "the strength is",
        ("g/L", "g/L"),
        ("trade", "Trade %, grams in 100 mL"),
        ("wt", "% by weight, of the active substance"),
        rare=True,
    )
    gravity: Typed | None = number("specific gravity", low="0.5", high="2.5", rare=True)
    measured_on: str = words("strength measured on", rare=True, advice="A day, like 2026-11-02; empty: from the label.")
    water: Typed | None = number("flow of the water", "L/min", "m³/h", "gal/min", low="0.001", rare=True)
    target: Typed | None = number("target dose", "mg/L", low="0", high="500", rare=True)
    drop: Typed | None = number("the tank went down by", "L", "gal", low="0", rare=True)
    treated: Typed | None = number("water treated meanwhile", "m³", "ML", "gal", "Mgal", low="0.001", rare=True)
    substituted: bool | None = yes_or_no("that flow is forced or taken from elsewhere", rare=True)


SETTINGS = (
    Ask(
        name="fades",
        label="the chemical fades",
        part="settings",
        kind="choice",
        choices=(("yes", "Yes, as hypochlorite does"), ("no", "No")),
    ),
)

LIMITS = (
    Limit(
        name="error",
        what="error of the feed",
        unit="%",
        of="target",
        low=Fraction(-10),
        high=Fraction(10),
        source="from memory: look into more than 5 %, fail above 10 %",
        tag="from memory",
    ),
    Limit(
        name="spread",
        what="spread of the runs",
        unit="%",
        of="mean",
        low=None,
        high=Fraction(5),
        source="own judgement: largest less smallest, at most 5 % of the mean",
        tag="own judgement",
    ),
)


def rate_of(one: Run) -> Fraction | None:
    """Return what a run delivered, mL/min; None while it is not whole."""
    if one.first is None or one.last is None or one.seconds is None or one.seconds.value == 0:
        return None
    return delivered(one.first.value - one.last.value, one.seconds.value)


def grams_per_litre(inputs: Drawdown) -> Fraction | None:
    """Return the strength in g/L by its basis; None where basis or gravity is missing."""
    if inputs.strength is None:
        return None
    if inputs.basis == "g/L":
        return inputs.strength.value
    if inputs.basis == "trade":
        return from_trade_percent(inputs.strength.value)
    if inputs.basis == "wt" and inputs.gravity is not None:
        return from_weight_percent(inputs.strength.value, inputs.gravity.value)
    return None


def work(inputs: Drawdown, known: Known) -> Worked:
    """Work out the mean feed, its spread, its error in % of what was commanded, and the dose."""
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    rates: list[Entry] = []
    for count, one in enumerate(inputs.run, 1):
        rate = steps.step(
            f"rate_{count}", f"Run {count}", "({a} − {b}) × 60 / {t}", lambda a, b, t: delivered(a - b, t),
            {"a": one.first, "b": one.last, "t": one.seconds}, places=1, unit="mL/min",
        )  # fmt: skip
        if rate is not None:
            rates.append(rate)
    mean = _mean(steps, rates)
    error = steps.step(
        "error", f"Error in % of what was commanded; {limit_said(band)}", "100 × ({q} − {c}) / {c}",
        lambda q, c: 100 * (q - c) / c, {"q": mean, "c": inputs.commanded}, places=1, unit="%", plus=True, beside=band,
        source=band.source, label="error of the feed",
    )  # fmt: skip
    steps.judge("error", "error of the feed", error, band, of="target", shown=value_of(mean))
    _spread(steps, known, rates, mean)
    _dose(steps, inputs, mean)
    pair = ((mean.value, inputs.commanded.value),) if mean is not None and inputs.commanded is not None else ()
    return steps.worked(Model(kind="gain", points=pair), advice=_advice(error), next_value={"error": value_of(error)})


def _mean(steps: Steps, rates: list[Entry]) -> Entry | None:
    if not rates:
        return None
    numbers = {f"r{count}": one for count, one in enumerate(rates, 1)}
    pattern = f"({' + '.join('{' + key + '}' for key in numbers)}) / {len(numbers)}"
    return steps.step(
        "mean", "Mean of the runs", pattern, lambda **r: sum(r.values(), Fraction(0)) / len(r), numbers, places=2,
        unit="mL/min",
    )  # fmt: skip


def _spread(steps: Steps, known: Known, rates: list[Entry], mean: Entry | None) -> None:
    if len(rates) < 2:
        return
    band = band_for(LIMITS, known, "spread")
    most, least = max(rates, key=lambda one: one.value), min(rates, key=lambda one: one.value)
    steps.step(
        "spread", f"Spread of the runs in % of their mean; {limit_said(band)}", "100 × ({h} − {s}) / {m}",
        lambda h, s, m: 100 * (h - s) / m, {"h": most, "s": least, "m": mean}, places=1, unit="%", beside=band,
        source=band.source, label="spread of the runs",
    )  # fmt: skip


def _dose(steps: Steps, inputs: Drawdown, mean: Entry | None) -> None:
    strength = steps.given(
        "strength", "Strength", grams_per_litre(inputs), places=1, unit="g/L",
        source=f"measured on {inputs.measured_on}" if inputs.measured_on else "label",
    )  # fmt: skip
    steps.step(
        "dose", "Dose the water gets", "{q} × {g} / {w}", lambda q, g, w: dose(q, g, w),
        {"q": mean, "g": strength, "w": inputs.water}, places=2, unit="mg/L",
    )  # fmt: skip
    steps.step(
        "dose_by_tank", "Dose by the tank and the water treated", "{v} × {g} / {w}",
        lambda v, g, w: dose_by_tank(v, g, w), {"v": inputs.drop, "g": strength, "w": inputs.treated}, places=2,
        unit="mg/L",
    )  # fmt: skip
    steps.step(
        "wanted", "Feed for the target", "{d} × {w} / {g}", lambda d, w, g: feed_for(d, w, g),
        {"d": inputs.target, "w": inputs.water, "g": strength}, places=1, unit="mL/min",
    )  # fmt: skip


def _advice(error: Entry | None) -> tuple[Advice, ...]:
    if error is None or abs(error.value) <= 5:
        return ()
    sentence = "More than 5 % off: look at valves, suction, strength and the setting."
    tag: Tag = "from memory"
    return (Advice(what="error", word="look into it", sentence=sentence, gravity=2, source="from memory", tag=tag),)


def spread_wide(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: runs that do not agree have no mean worth judging."""
    spread, band = worked.figure("spread"), band_for(LIMITS, known, "spread")
    if spread is None or band.high is None or Fraction(spread) <= band.high:
        return ()
    sentence = f"The runs spread by {shown(Fraction(spread), 1)} % of their mean. Let the air out and run again."
    return (not_valid("run3_last", "spread", sentence),)


def no_delivery(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a column that rose is read the wrong way round. Not valid: without back-pressure a pump gives more."""
    found: list[Found] = []
    for count, one in enumerate(inputs.run, 1):
        rate = rate_of(one)
        if rate is not None and rate < 0:
            sentence = f"Run {count}: the column rose. Are its two readings exchanged, or is it filling from the tank?"
            found.append(ask(f"run{count}_last", f"rose-{count}", sentence, spoils("filling", "It was filling")))
    mean = worked.figure("mean")
    if mean is not None and mean == 0:
        sentence = "Nothing was delivered. A pump full of air clicks and gives nothing."
        found.append(ask("run1_last", "air", sentence, stands("so", "It delivers nothing: it fails")))
    if inputs.pressure is False:
        sentence = "Not at working pressure and suction: the pump gives another flow there. Test it as it works."
        found.append(not_valid("pressure", "pressure", sentence))
    return tuple(found)


def set_at_nought(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a pump that is set at nought and delivers."""
    mean = worked.figure("mean")
    if inputs.setting is None or inputs.setting.value > 0 or mean is None or mean <= 0:
        return ()
    sentence = f"The pump is set at “{inputs.setting.text}” % and delivers. What is its setting?"
    return (
        ask(
            "setting", "set-nought", sentence, stands("other", "It is set elsewhere than at this dial"),
            spoils("runs", "It runs though it is set at nought"),
        ),
    )  # fmt: skip


def siphons(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: chemical that runs with the pump stopped."""
    if inputs.off_run is None or inputs.off_run.value == 0:
        return ()
    sentence = f"“{inputs.off_run.text}” mL ran in a minute with the pump stopped: it siphons. Mend the valve first."
    return (
        ask(
            "off_run",
            "siphon",
            sentence,
            spoils("mend", "Then it is mended and tested again"),
            spoils("leak", "The column leaked: what leaked was counted as delivered"),
        ),
    )


def doubtful_strength(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a strength without its basis. Ask: an aged one of what fades; a weight % of a heavy liquid."""
    found: list[Found] = []
    if inputs.strength is not None and not inputs.basis:
        sentence = "The strength is: nothing is chosen. Per cent of what? Trade % and % by weight differ by a sixth."
        found.append(refuse("basis", "basis", sentence))
    if inputs.basis == "wt" and inputs.gravity is None:
        found.append(refuse("gravity", "gravity", "Specific gravity: nothing is written; % by weight needs it."))
    if inputs.strength is not None or inputs.measured_on:
        found += _aged(inputs, known)
    return tuple(found)


def _aged(inputs: Drawdown, known: Known) -> list[Found]:
    try:
        measured = date.fromisoformat(inputs.measured_on) if inputs.measured_on else None
    except ValueError:
        sentence = f"Strength measured on: “{inputs.measured_on}” is no day; write it like 2026-11-02."
        return [refuse("measured_on", "measured-on", sentence)]
    if measured is not None and measured > known.day:
        sentence = f"Strength measured on: {inputs.measured_on} is after the day of this check; write the day it was."
        return [refuse("measured_on", "measured-on", sentence)]
    fades = known.settings.get("fades", "")
    if fades == "no" or (measured is not None and (known.day - measured).days <= AGED_DAYS):
        return []
    if fades != "yes":
        sentence = "Whether this chemical fades is not written for this tag; hypochlorite does. A supervisor writes it."
        return [remind("measured_on", "fades", sentence)]
    since = "from the label" if measured is None else f"{(known.day - measured).days} days old"
    sentence = f"The strength is {since}; this chemical fades. The dose below is then smaller than it says."
    return [ask("measured_on", "aged", sentence, stands("known", "Known; no newer one there is"))]


def forced_flow(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: the dose is worked out with a flow that nobody measures."""
    if inputs.water is None or not (inputs.substituted or known.forced):
        return ()
    sentence = "The flow of the water is forced or taken from elsewhere, so the dose is what it would be at that flow."
    return (ask("water", "forced", sentence, stands("known", "Known, and its basis is written")),)


def tank_says_otherwise(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: the tank and the drawdown tell of two doses; more than 10 % apart, own judgement."""
    one, other = worked.figure("dose"), worked.figure("dose_by_tank")
    if one is None or other is None or abs(Fraction(one) - Fraction(other)) * APART <= Fraction(one):
        return ()
    sentence = (
        f"By drawdown the water gets {shown(one, 2)} mg/L, by the tank {shown(other, 2)} mg/L. Was the pump set "
        "otherwise meanwhile, the tank filled, or the water counted for another time?"
    )
    return (
        ask(
            "drop", "tank", sentence, stands("set", "It was set otherwise meanwhile"),
            spoils("unknown", "Nobody knows: drawn down again"),
        ),
    )  # fmt: skip


def budget(inputs: Drawdown, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the error of the feed in %: column, last digits of column and time, repeats."""
    whole = [one for one in inputs.run if rate_of(one) is not None]
    if len(whole) < 2 or inputs.commanded is None:
        return {}
    runs = [(one.first, one.last, one.seconds) for one in whole]
    per_rate = 100 / inputs.commanded.value
    rates = [rate for one in whole if (rate := rate_of(one)) is not None]
    per_volume = [60 / seconds.value for _, _, seconds in runs if seconds is not None]
    digits = [
        step_of(level, "mL") * 60 / seconds.value
        for first, last, seconds in runs
        for level in (first, last)
        if level is not None and seconds is not None
    ]
    times = [
        step_of(seconds, "s") * rate / seconds.value
        for (_, _, seconds), rate in zip(runs, rates, strict=True)
        if seconds is not None
    ]
    mean = per_rate / len(runs)
    parts = (
        from_standard(
            known.standards.get(inputs.column), unit="mL", sensitivity=mean * sum(per_volume, Fraction(0))
        ),
        from_repeats(rates, "repeats", "the runs of this set", sensitivity=per_rate),
        *(
            from_resolution(together, name, f"{len(runs)} runs together", sensitivity=mean)
            for together, name in ((_root_of_squares(digits), "last digit of the column"),
                                   (_root_of_squares(times), "last digit of the time"))
            if together
        ),
    )  # fmt: skip
    return drawn(parts, name="error", what="error of the feed", unit="%")


def _root_of_squares(values: Iterable[Fraction]) -> Fraction:
    return square_root(sum((one * one for one in values), Fraction(0)))


METHOD: Method[Drawdown] = Method(
    code="feed-pump",
    name="Feed pump, by drawdown",
    version="1.1",
    quantity="feed",
    standards=("column",),
    asks=asks_of(Drawdown),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Chemicals: face shield, gloves, apron; eyewash within reach and tried; two valves before a column is opened.",
        "Never acid near hypochlorite. A pump under repair is locked.",
    ),
    work=work,
    budget=budget,
    budget_since="1.1",
    catches=(
        *EVERY_CHECK, spread_wide, no_delivery, set_at_nought, siphons, doubtful_strength, forced_flow,
        tank_says_otherwise, other_quantity("column", "mL"),
        reminder("off_run", "stopped", "Once a year: a minute with the pump stopped, nothing may run."),
        reminder("column", "eye", "Read the column at eye height, at the bottom of the curve, each time alike."),
        reminder("strength", "diluted", "Write the strength of what is in the tank now, diluted or not."),
        reminder("target", "line", "Two settings a year: a line through them, never through nought."),
    ),
    read=reader_of(Drawdown),
    legends={"run": "Run"},
    words={
        "error": "What the pump gave minus what was commanded, in % of what was commanded.",
        "spread": "The fastest run minus the slowest, in % of their mean.",
    },
)  # fmt: skip
