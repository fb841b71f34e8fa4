"""What a drawdown asks, its settings, and its limits with their sources."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import Record, choice, number, rows, standard, words, yes_or_no
from calibration.compute.method import Ask, Limit, Typed


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
