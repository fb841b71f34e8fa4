"""A chemical feed pump by drawdown: what it delivers, how strong that is, and the dose the water gets.

The uncertainty of the feed is that of the column, of how the runs repeat, and of the last digits of column and time;
that of the dose is not worked out, for the dose is not judged.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from assets.compute.transcendental import square_root
from calibration.compute.asked import asks_of, reader_of
from calibration.compute.budget import Budget, from_repeats, from_resolution
from calibration.compute.doubts import EVERY_CHECK, reminder
from calibration.compute.method import Known, Method, Worked
from calibration.compute.methods.feed_pump.asks import LIMITS, SETTINGS, Drawdown
from calibration.compute.methods.feed_pump.catches import (
    doubtful_strength,
    forced_flow,
    no_delivery,
    set_at_nought,
    siphons,
    spread_wide,
    tank_says_otherwise,
)
from calibration.compute.methods.feed_pump.working import work
from calibration.compute.standard_units import drawn, from_standard, other_quantity, step_of


def budget(inputs: Drawdown, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the error of the feed in %: column, last digits of column and time, repeats."""
    whole = [
        (one, Fraction(rate))
        for count, one in enumerate(inputs.run, 1)
        if (rate := worked.figure(f"rate_{count}")) is not None
    ]
    if len(whole) < 2 or inputs.commanded is None:
        return {}
    runs = [(one.first, one.last, one.seconds) for one, _ in whole]
    per_rate = 100 / inputs.commanded.value
    rates = [rate for _, rate in whole]
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
