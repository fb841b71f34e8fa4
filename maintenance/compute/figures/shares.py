"""What a figure is: its value or why it has none, and everything it was made from; shares, middle values, ratios."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median
from typing import Literal

from assets.compute.binomial import exact_limits
from assets.compute.rounding import rounded, shown

FEWEST = 5
"""Nothing is shown from fewer: own judgement."""

CONFIDENCE = 0.95
CANNOT = "cannot be told"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """What does not stand in a figure, or stands in it in a way of its own, and why; `named` are some of them."""

    why: str
    n: int
    named: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure in words.

    value: as shown, without its unit; '' where `state` says why there is none. numerator, denominator: with their
    numbers and units. n: how many things it rests on. likely: the range in which the true value probably lies,
    of days the longest; '' where none can be told. says: what else must be known to read it.
    """

    name: str
    formula: str
    state: Literal["told", "too few", "n/a", "cannot be told"]
    value: str
    unit: str
    numerator: str
    denominator: str
    n: int
    likely: str = ""
    says: str = ""
    left_out: tuple[LeftOut, ...] = ()

    @property
    def shown(self) -> str:
        """The value with its unit, or the words that stand in its place."""
        return f"{self.value} {self.unit}".strip() if self.state == "told" else self.state

    @property
    def apart(self) -> int:
        """How many things are left out or counted apart."""
        return sum(one.n for one in self.left_out)


def percent(part: Fraction, *, most: int = 3) -> str:
    """Write a share of 1 in per cent, without its sign: none is written as 0 or 100 that is not wholly so."""
    for places in range(most + 1):
        text = shown(100 * part, places)
        if part in (0, 1) or rounded(100 * part, places) not in (0, 100):
            return text
    return "under 0.001" if part < Fraction(1, 2) else "over 99.999"


def share(
    name: str,
    formula: str,
    *,
    kept: int,
    of: int,
    words: tuple[str, str],
    says: str = "",
    left_out: Sequence[LeftOut] = (),
) -> Figure:
    """Return a share in per cent with its exact limits at 95 %: *n/a* of nothing, *too few* under five.

    words: what the numerator and the denominator count.
    """
    likely = ""
    if of:
        low, high = exact_limits(kept, of, confidence=CONFIDENCE)
        likely = f"likely {percent(Fraction(low))} to {percent(Fraction(high))} %"
    return Figure(
        name=name,
        formula=formula,
        state="n/a" if not of else "too few" if of < FEWEST else "told",
        value=percent(Fraction(kept, of)) if of >= FEWEST else "",
        unit="%",
        numerator=f"{kept} {words[0]}",
        denominator=f"{of} {words[1]}",
        n=of,
        likely=likely,
        says=says,
        left_out=some(left_out),
    )


def middle(
    name: str, formula: str, days: Sequence[int], *, words: str, says: str = "", left_out: Sequence[LeftOut] = ()
) -> Figure:
    """Return the middle value of some days, the longest beside it. Half a day is shown as such."""
    return Figure(
        name=name,
        formula=formula,
        state="n/a" if not days else "too few" if len(days) < FEWEST else "told",
        value=short(Fraction(median([Fraction(one) for one in days]))) if len(days) >= FEWEST else "",
        unit="d",
        numerator=words,
        denominator="",
        n=len(days),
        likely=f"longest {max(days)} d" if days else "",
        says=says,
        left_out=some(left_out),
    )


def ratio(
    called: tuple[str, str],
    *,
    top: Fraction,
    bottom: Fraction,
    unit: str,
    words: tuple[str, str],
    n: int,
    said: tuple[str, Sequence[LeftOut]] = ("", ()),
) -> Figure:
    """Return top over bottom in `unit`, to a tenth: *n/a* without a bottom, *too few* from fewer than five.

    called: name and formula; words: numerator and denominator with their numbers and units; said: what else must be
    known, and what is left out.
    """
    told = bottom != 0 and n >= FEWEST
    return Figure(
        name=called[0],
        formula=called[1],
        state="n/a" if not bottom else "told" if told else "too few",
        value=short(top / bottom) if told else "",
        unit=unit,
        numerator=words[0],
        denominator=words[1],
        n=n,
        says=said[0],
        left_out=some(said[1]),
    )


def not_told(name: str, formula: str, *, why: str, n: int = 0, unit: str = "") -> Figure:
    """Return a figure that cannot be told, with the reason."""
    return Figure(
        name=name,
        formula=formula,
        state="cannot be told",
        value="",
        unit=unit,
        numerator="",
        denominator="",
        n=n,
        says=why,
    )


def short(value: Fraction) -> str:
    """Write a number to a tenth, a whole one without."""
    text = shown(value, 1)
    return text.removesuffix(".0")


def some(left_out: Sequence[LeftOut]) -> tuple[LeftOut, ...]:
    """Return the lists that have anything in them."""
    return tuple(one for one in left_out if one.n)
