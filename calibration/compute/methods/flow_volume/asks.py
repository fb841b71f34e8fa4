"""What a test against a measured tank asks, its settings, and its limits with their sources."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, choice, number, standard, yes_or_no
from calibration.compute.method import Ask, Limit, Typed


@dataclass(frozen=True, slots=True, kw_only=True)
class Volume(SignalRecord):
    """One test of a flow meter against a measured tank."""

    tank: str = standard("measured tank", "tank")
    way: str = choice(
        "the tank is", ("down", "Drawn down through the meter"), ("up", "Filled through the meter"), must=True
    )
    first: Typed | None = number("level at the beginning", "m", "mm", "ft", "in", low="0", high="100", must=True)
    last: Typed | None = number("level at the end", "m", "mm", "ft", "in", low="0", high="100", must=True)
    seconds: Typed | None = number("time between", "s", "min", low="1", high="200000", must=True)
    indicated: Typed | None = number("mean of the meter", "m³/h", "L/s", "gal/min", low="0", must=True)
    shut: bool | None = yes_or_no("every other way in and out of the tank shut", must=True)
    leak: Typed | None = number("fall in an hour with all shut", "m", "mm", "in", low="0", high="5", must=True)
    volume_first: Typed | None = number(
        "volume at the beginning, by the tank’s table", "m³", "L", "gal", low="0", rare=True,
        advice="Where the tank has a table of level and volume; else its area counts.",
    )  # fmt: skip
    volume_last: Typed | None = number("volume at the end, by the tank’s table", "m³", "L", "gal", low="0", rare=True)
    total_first: Typed | None = number("totalizer at the beginning", "m³", "L", "gal", low="0", rare=True)
    total_last: Typed | None = number("totalizer at the end", "m³", "L", "gal", low="0", rare=True)
    zero: Typed | None = number("meter with the valve shut", "m³/h", "L/s", "gal/min", signed=True, rare=True)
    hmi: Typed | None = number("mean of the HMI", "m³/h", "L/s", "gal/min", low="0", rare=True)
    full: bool | None = yes_or_no("the pipe was full", rare=True)
    direction: bool | None = yes_or_no("the meter stands in the direction of flow", rare=True)
    damping: Typed | None = number("damping of the meter", "s", low="0", high="600", rare=True)
    steady_constant: bool | None = yes_or_no("the value was forced or stood still for an hour", rare=True)


SETTINGS = (
    Ask(
        name="area", label="area of the tank", part="settings", units=("m²",), low=Fraction(0), high=Fraction(100000),
        advice="From its inside diameter: 3.1416 × d² / 4. Who measured it stands with the tank.",
    ),
    Ask(
        name="level_step", label="smallest step of the level reading", part="settings", units=("m",), low=Fraction(0),
        high=Fraction(1),
    ),
    Ask(
        name="level_within", label="each level is read within ±", part="settings", units=("m",), low=Fraction(0),
        high=Fraction(1), advice="0.002 for a tape read at the wall. Empty: the uncertainty is not stated.",
    ),
)  # fmt: skip


def _limit(name: str, what: str, percent: int, why: str) -> Limit:
    return Limit(
        name=name,
        what=what,
        unit="%",
        of="true flow",
        low=Fraction(-percent),
        high=Fraction(percent),
        source=f"own judgement: {percent} %{why}",
        tag="own judgement",
    )


LIMITS = (
    _limit("error", "error of the rate", 3, "; billing meters 2 % by their rules"),
    _limit("total", "error of the totalizer", 3, "; billing meters 2 % by their rules"),
    _limit("hmi", "error of the HMI", 3, ", as at the meter"),
    _limit("zero", "meter with the valve shut", 1, " of the flow of this test, for it is added to every reading"),
)
