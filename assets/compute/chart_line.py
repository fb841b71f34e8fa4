"""The line through the points of a check, drawn against the theoretical line."""

from __future__ import annotations

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
    figure,
    off_edge,
    percent,
    px,
    ticks,
)

HEIGHT = 230


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A point of a line: where it lies and how each figure is shown, with its unit ("pH 7.03", "−8.6 mV")."""

    x: float
    y: float
    x_shown: str
    y_shown: str
    theory_shown: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Straight:
    """A straight line, y = slope x + offset, in the units of the points."""

    slope: float
    offset: float

    def at(self, x: float) -> float:
        """Give y at x."""
        return self.slope * x + self.offset


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFigures:
    """What the chart "line through the points against theory" is drawn from.

    band: two lines between which a good one lies, or nothing. upright: a value of x to mark, with its word.
    """

    name: str
    caption: str
    points: tuple[Point, ...]
    found: Straight
    theory: Straight
    band: tuple[Straight, Straight] | None = None
    band_word: str = ""
    upright: float | None = None
    upright_word: str = ""
    columns: tuple[str, str, str] = ("Standard", "Shown", "Theory")
    x_before: str = ""
    y_unit: str = ""


def line_picture(figures: LineFigures) -> Picture:
    """Lay out the line through the points of a check against the theoretical line.

    Raises ValueError without a point.
    """
    if not figures.points:
        raise ValueError("A line needs at least one point to be drawn.")
    across, down = _axes_of_line(figures)
    drawing = Drawing(
        height=HEIGHT,
        total=HEIGHT + 26,
        level=tuple(px(down.at(tick)) for tick in ticks(down.low, down.high)),
        upright=tuple(percent(across.at(tick)) for tick in ticks(across.low, across.high)),
        marked=() if figures.upright is None else (percent(across.at(figures.upright)),),
        paths=_lines(figures, across=across, down=down),
        marks=tuple(
            Placed(x=percent(across.at(point.x)), y=px(down.at(point.y)), shape="point", ink="plainmk")
            for point in figures.points
        ),
        texts=_texts_of_line(figures, across=across, down=down),
    )
    return Picture(
        name=figures.name,
        caption=figures.caption,
        title=figures.caption,
        told=_line_told(figures),
        drawing=drawing,
        keys=_keys_of_line(figures),
        columns=("Point", *figures.columns),
        rows=tuple((str(n), p.x_shown, p.y_shown, p.theory_shown) for n, p in enumerate(figures.points, 1)),
    )


def _axes_of_line(figures: LineFigures) -> tuple[Axis, Axis]:
    xs = [point.x for point in figures.points]
    if figures.upright is not None:
        xs.append(figures.upright)
    spare = max((max(xs) - min(xs)) * 0.14, 0.5)
    across = Axis(low=min(xs) - spare, high=max(xs) + spare, length=100.0)
    ends = (across.low, across.high)
    ys = [point.y for point in figures.points] + [line.at(x) for line in (figures.found, figures.theory) for x in ends]
    return across, axis_down(ys, height=HEIGHT)


def _lines(figures: LineFigures, *, across: Axis, down: Axis) -> tuple[Path, ...]:
    def along(line: Straight) -> str:
        return f"M0 {px(down.at(line.at(across.low)))} L1000 {px(down.at(line.at(across.high)))}"

    paths = [Path(kind="theory", d=along(figures.theory)), Path(kind="trace", d=along(figures.found))]
    if figures.band:
        over, under = figures.band
        back = along(under).removeprefix("M").split(" L")
        paths.insert(0, Path(kind="area", d=f"{along(over)} L{back[1]} L{back[0]}z"))
    return tuple(paths)


def _texts_of_line(figures: LineFigures, *, across: Axis, down: Axis) -> tuple[Text, ...]:
    texts = _scale_down(figures, down=down) + _scale_across(figures, across=across)
    if figures.upright is not None:
        x = across.at(figures.upright)
        free_side = Text(x=percent(x), y="16", words=figures.upright_word, **beside(x, by=6, of_end=50))
        texts.append(free_side)
    for point in figures.points:
        x, y = across.at(point.x), down.at(point.y)
        side = beside(x, by=10)
        # A falling line leaves the upper right and the lower left of a point free, a rising one the other two.
        above = (side["anchor"] == "") == (figures.found.slope <= 0)
        texts.append(
            Text(x=percent(x), y=px(off_edge(y - 10 if above else y + 20, HEIGHT)), words=point.y_shown, **side)
        )
    return tuple(texts)


def _scale_down(figures: LineFigures, *, down: Axis) -> list[Text]:
    values = [tick for tick in ticks(down.low, down.high) if LETTERS <= down.at(tick) <= HEIGHT - 4]
    top = max(values, default=0.0)
    return [
        Text(
            x="100%",
            y=px(down.at(tick) - 4),
            dx=-6,
            anchor="end",
            words=f"{figure(tick, plus=True)} {figures.y_unit}".strip() if tick == top else figure(tick, plus=True),
        )
        for tick in values
    ]


def _scale_across(figures: LineFigures, *, across: Axis) -> list[Text]:
    values = [tick for tick in ticks(across.low, across.high) if 4 <= across.at(tick) <= 96]
    return [
        Text(
            x=percent(across.at(tick)),
            y=str(HEIGHT + 18),
            anchor="mid",
            words=f"{figures.x_before} {figure(tick)}".strip() if place == 0 else figure(tick),
        )
        for place, tick in enumerate(values)
    ]


def _line_told(figures: LineFigures) -> str:
    points = "; ".join(f"{point.y_shown} at {point.x_shown}" for point in figures.points)
    told = f"Points: {points}. The line through them is drawn against the theoretical line."
    if figures.upright is not None:
        told += f" An upright line marks the {figures.upright_word}."
    return told


def _keys_of_line(figures: LineFigures) -> tuple[Key, ...]:
    keys = [Key(sample="trace", word="found"), Key(sample="theory", word="theory")]
    if figures.band:
        keys.append(Key(sample="area", word=figures.band_word))
    return tuple(keys)
