"""Where the lines and marks of a chart lie: across in percent of the width, down in pixels.

Only the trace is stretched with the page; text and marks keep their size, so that a chart reads at 320 and at 1280
pixels. Coordinates come out as text with a point, so that no language setting can put a comma into them.
`chart_line` and `chart_time` lay out the two kinds of chart; what they share stands here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypedDict

LETTERS = 14  # height of a line of text, pixels
NO_SPAN = 1e-300  # below this a span divided by its pixels is nothing
ROOM = 20  # pixels left free above and below what is drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """A span of values laid on a length; `up` when it grows upwards from the lower edge."""

    low: float
    high: float
    length: float
    up: bool = False

    def at(self, value: float) -> float:
        """Place a value on the length."""
        part = (value - self.low) / (self.high - self.low)
        return self.length * (1 - part if self.up else part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """Words on a chart: `x` in percent, `y` in pixels, moved by `dx`; `end` and `mid` tell what stands at x."""

    x: str
    y: str
    words: str
    dx: int = 0
    anchor: str = ""
    heavy: bool = False


class Beside(TypedDict):
    dx: int
    anchor: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """A line or an area of the stretched part, in its own units."""

    kind: str
    d: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """The mark of a result at its place."""

    x: str
    y: str
    shape: str
    ink: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Everything a chart draws, back to front."""

    height: int
    total: int
    level: tuple[str, ...] = ()
    upright: tuple[str, ...] = ()
    marked: tuple[str, ...] = ()
    paths: tuple[Path, ...] = ()
    marks: tuple[Placed, ...] = ()
    texts: tuple[Text, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One line of a chart's key: the sample to draw and its word."""

    sample: str
    word: str
    ink: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A chart with its words and the table that says the same."""

    name: str
    caption: str
    title: str
    told: str
    drawing: Drawing
    keys: tuple[Key, ...]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def ticks(low: float, high: float, *, about: int = 5) -> tuple[float, ...]:
    """Give round values inside a span, about so many, in steps of 1, 2 or 5 times a power of ten.

    Source: P. Heckbert, "Nice numbers for graph labels", Graphics Gems (1990), with the step taken so that no more
    than `about` + 1 values come out. Raises ValueError when high is not above low.
    """
    if not high > low:
        raise ValueError(f"From {low} to {high} is no span.")
    rough = (high - low) / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * factor for factor in (1, 2, 5, 10, 20) if power * factor >= rough * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    digits = max(0, -math.floor(math.log10(step)))
    return tuple(round(number * step, digits) + 0.0 for number in range(first, last + 1))


def axis_down(values: Sequence[float], *, height: int) -> Axis:
    """Span all the values over a height in pixels, with room above and below for a line of text and half a mark."""
    low, high = min(values), max(values)
    span = high - low
    if span < NO_SPAN:
        span = abs(high) if abs(high) >= NO_SPAN else 1.0
        low, high = low - span / 2, high + span / 2
    share = span / (height - 2 * ROOM)
    return Axis(low=low - ROOM * share, high=high + ROOM * share, length=height, up=True)


def beside(x: float, *, by: int, of_end: float = 70) -> Beside:
    """Put words to the right of x, or to the left where the right edge is near."""
    return {"dx": -by, "anchor": "end"} if x > of_end else {"dx": by, "anchor": ""}


def off_edge(y: float, height: float) -> float:
    """Keep a line of text inside the paper."""
    return min(max(y, LETTERS), height - 5)


def px(value: float) -> str:
    """Write pixels, or units of the stretched part, with one decimal at most."""
    return f"{value:.1f}".removesuffix(".0")


def percent(value: float) -> str:
    """Write a share of the width."""
    return f"{value:.2f}%"


def figure(value: float, *, plus: bool = False) -> str:
    """Write a value of a scale in its shortest form with a real minus."""
    text = f"{abs(value):g}"
    if value < 0:
        return "\u2212" + text
    return "+" + text if plus and value > 0 else text
