"""A figure through time, with its limits and the mark of each result."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assets.compute.chart import (
    LETTERS,
    Axis,
    Drawing,
    Key,
    Path,
    Picture,
    Placed,
    Text,
    axis_down,
    beside,
    off_edge,
    percent,
    px,
)

WIDE = 1000.0  # units across the stretched trace
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
INKS = {"pass": "good", "cpass": "watch", "cfail": "bad", "fail": "bad", "notvalid": "still"}
WORDS = {
    "pass": "Pass",
    "cpass": "Conditional pass",
    "cfail": "Conditional fail",
    "fail": "Fail",
    "notvalid": "Not valid",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A line a figure must not pass, or one that only advises; its name says which and where it lies."""

    value: float
    name: str
    advice: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """A figure at a moment, with the shape of its result.

    anew: why nothing joins it to the one before ("probe 40-7718 fitted"), empty where something does.
    """

    at: dt.date
    value: float
    shown: str
    when: str
    shape: str = "pass"
    anew: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeFigures:
    """What the chart "a figure through time" is drawn from; results in order of time."""

    name: str
    caption: str
    figure: str
    results: tuple[Result, ...]
    limits: tuple[Limit, ...] = ()
    height: int = 150


def time_picture(figures: TimeFigures) -> Picture:
    """Lay out a figure through time with its limits and the mark of each result.

    The axis takes in every result and every limit; results are joined by straight lines, never across a gap.
    Raises ValueError without a result.
    """
    if not figures.results:
        raise ValueError("A figure through time needs at least one result to be drawn.")
    across = _axis_of_time(figures.results)
    values = [result.value for result in figures.results] + [limit.value for limit in figures.limits]
    down = axis_down(values, height=figures.height)
    return Picture(
        name=figures.name,
        caption=figures.caption,
        title=figures.caption,
        told=_time_told(figures),
        drawing=_time_drawing(figures, across=across, down=down),
        keys=_keys_of_time(figures),
        columns=("When", figures.figure, "Result"),
        rows=tuple(
            (result.when, result.shown, WORDS[result.shape] + (f"; before it, {result.anew}" if result.anew else ""))
            for result in figures.results
        ),
    )


def _axis_of_time(results: Sequence[Result]) -> Axis:
    first, last = _days(results[0].at), _days(results[-1].at)
    spare = (last - first) / 23 or 1.0  # a twenty-fifth of the width at each end: half a mark
    return Axis(low=first - spare, high=last + spare, length=100.0)


def _time_drawing(figures: TimeFigures, *, across: Axis, down: Axis) -> Drawing:
    places = [(across.at(_days(result.at)), down.at(result.value)) for result in figures.results]
    return Drawing(
        height=figures.height,
        total=figures.height + 26,
        marked=tuple(
            percent(x) for (x, _y), result in zip(places[1:], figures.results[1:], strict=True) if result.anew
        ),
        paths=(*_traces(figures.results, places), *_limit_lines(figures.limits, down)),
        marks=tuple(
            Placed(x=percent(x), y=px(y), shape=result.shape, ink=INKS[result.shape])
            for (x, y), result in zip(places, figures.results, strict=True)
        ),
        texts=(
            *_limit_names(figures.limits, down=down, height=figures.height),
            _last_value(figures, places[-1]),
            *_dates(figures.results, across=across, y=figures.height + 18),
        ),
    )


def _traces(results: Sequence[Result], places: Sequence[tuple[float, float]]) -> list[Path]:
    runs: list[list[str]] = []
    for (x, y), result in zip(places, results, strict=True):
        if result.anew or not runs:
            runs.append([])
        runs[-1].append(f"{x * WIDE / 100:.1f} {y:.1f}")
    return [Path(kind="trace thin", d="M" + " L".join(run)) for run in runs if len(run) > 1]


def _limit_lines(limits: Iterable[Limit], down: Axis) -> list[Path]:
    return [
        Path(kind="theory" if limit.advice else "limit", d=f"M0 {px(down.at(limit.value))}H1000") for limit in limits
    ]


def _limit_names(limits: Sequence[Limit], *, down: Axis, height: int) -> list[Text]:
    """Name each limit on its line: the topmost above it, the others below, none over another."""
    names: list[Text] = []
    last = -math.inf
    for limit in sorted(limits, key=lambda one: -one.value):
        line = down.at(limit.value)
        last = max(line + LETTERS, last + LETTERS + 2) if names else line - 5
        names.append(Text(x="0%", y=px(off_edge(last, height)), dx=6, words=limit.name))
    return names


def _last_value(figures: TimeFigures, place: tuple[float, float]) -> Text:
    x, y = place
    return Text(
        x=percent(x),
        y=px(off_edge(y + 5, figures.height)),
        words=figures.results[-1].shown,
        heavy=True,
        **beside(x, by=14, of_end=50),
    )


def _dates(results: Sequence[Result], *, across: Axis, y: int) -> list[Text]:
    """Write the first day, the last, and one between where there is room for it."""
    first, last = results[0].at, results[-1].at
    if first == last:
        return [Text(x=percent(across.at(_days(first))), y=str(y), anchor="mid", words=_short(first))]
    middle = min(results, key=lambda result: abs(across.at(_days(result.at)) - 50)).at
    x = across.at(_days(middle))
    texts = [
        Text(x="0%", y=str(y), words=_short(first)),
        Text(x="100%", y=str(y), anchor="end", words=_short(last)),
    ]
    if 38 <= x <= 62:
        texts.insert(1, Text(x=percent(x), y=str(y), anchor="mid", words=_short(middle)))
    return texts


def _time_told(figures: TimeFigures) -> str:
    shapes = [result.shape for result in figures.results]
    counts = ", ".join(f"{WORDS[shape].lower()} {shapes.count(shape)}" for shape in WORDS if shape in shapes)
    first, last = figures.results[0], figures.results[-1]
    limits = "; ".join(limit.name for limit in figures.limits)
    return f"n = {len(shapes)}: {counts}. First {first.shown} on {first.when}, last {last.shown} on {last.when}." + (
        f" Lines: {limits}." if limits else ""
    )


def _keys_of_time(figures: TimeFigures) -> tuple[Key, ...]:
    used = {result.shape for result in figures.results}
    keys = [Key(sample=shape, word=WORDS[shape].lower(), ink=INKS[shape]) for shape in WORDS if shape in used]
    breaks = dict.fromkeys(result.anew for result in figures.results[1:] if result.anew)
    return (*keys, *(Key(sample="upright", word=word) for word in breaks))


def _days(moment: dt.date) -> float:
    if isinstance(moment, dt.datetime):
        return moment.toordinal() + (moment.hour * 60 + moment.minute) / 1440
    return float(moment.toordinal())


def _short(moment: dt.date) -> str:
    return f"{moment.day} {MONTHS[moment.month - 1]} {moment.year}"
