"""What the display makes of pH: the buffers at their temperatures, the true process value, the error there."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.figures import plain, shown, shown_beside
from calibration.compute.method import Band, Figure, Judged, Line
from calibration.compute.methods.ph.advice import FLAT
from calibration.compute.methods.ph.budget import can_be_drawn
from calibration.compute.methods.ph.inputs import Standing
from calibration.compute.methods.ph.setup import Piece, Setup, together
from calibration.compute.straight_line import StraightLine, line_through
from calibration.compute.working import Entry, band_text, fixed, put_in, typed


def as_ph(value: Fraction | float) -> str:
    """Write a pH with three places."""
    return shown(value, 3)


def beside(band: Band, places: int, *, plus: bool) -> Callable[[Fraction | float], str]:
    """Return a writer that never rounds a value over one of the edges it is judged by."""
    u = band.uncertainty or Fraction(0)
    limits = tuple(edge for edge in (band.low, band.high) if edge is not None)
    edges = tuple(limit + shift for limit in limits for shift in ((-u, 0, u) if u else (0,)))
    return lambda value: shown_beside(Fraction(value), edges=edges, places=places, plus=plus)


def limits_said(band: Band) -> str:
    """Write limits and uncertainty as the working says them."""
    if band.uncertainty is None:
        return f"limit {band_text(band)}, uncertainty not stated"
    return f"limit {band_text(band)}, uncertainty {plain(band.uncertainty)}"


def _buffer_line(one: Standing) -> Line | None:
    if one.worth is None or one.lot is None or one.point.temperature is None:
        return None
    worth, at = one.worth, one.point.temperature.text.replace("-", "−")
    if worth.is_row:
        entries = {"v": Entry(worth.value, 3)}
        text = f"{one.name}, lot {one.lot.label} at {at} °C, a row of its table"
        return put_in(text, "{v}", lambda v: v, entries, write=as_ph, unit="pH", source=one.lot.tabled.source)
    (low, below), (high, above) = worth.below, worth.above
    return put_in(
        f"{one.name}, lot {one.lot.label} at {at} °C, between {plain(low)} °C and {plain(high)} °C of its table",
        "{below} + ({above} − {below}) × ({t} − {low}) / {step}",
        lambda below, above, t, low, step: below + (above - below) * (t - low) / step,
        {
            "below": Entry(below, 3),
            "above": Entry(above, 3),
            "t": typed(one.point.temperature),
            "low": fixed(plain(low)),
            "step": fixed(plain(high - low)),
        },
        write=as_ph,
        unit="pH",
        source=one.lot.tabled.source,
    )


def buffers_piece(setup: Setup) -> Piece:
    """Return what each buffer is worth at its own temperature, and the display's error in it."""
    lines: list[Line] = []
    figures: list[Figure] = []
    for number, one in enumerate(setup.points, start=1):
        line = _buffer_line(one)
        if line is None or one.true is None:
            continue
        lines.append(line)
        figures.append(Figure(name=f"true_{number}", label=one.name, value=one.true, shown=line.value, unit="pH"))
        if one.point.shown is not None:
            error = one.point.shown.value - one.true
            label = f"error at pH {as_ph(one.true)}"
            figures.append(
                Figure(name=f"error_{number}", label=label, value=error, shown=shown(error, 3, plus=True), unit="pH")
            )
    return Piece(lines=tuple(lines), figures=tuple(figures))


def display_line(setup: Setup) -> StraightLine | None:
    """Return the line of shown pH on true pH, through two points or by least squares through three."""
    return line_through(setup.on_display)


def usable(line: StraightLine | None) -> bool:
    """Tell whether the display follows pH at all: at least a tenth of a pH shown for one pH, and the right way."""
    return line is not None and line.slope >= FLAT


def _points_in(setup: Setup) -> dict[str, Entry]:
    whole = [one for one in setup.points if one.true is not None and one.point.shown is not None]
    entries: dict[str, Entry] = {}
    for number, one in enumerate(whole, start=1):
        if one.true is not None and one.point.shown is not None:
            entries |= {f"b{number}": Entry(one.true, 3), f"s{number}": typed(one.point.shown)}
    return entries


def mean_line(what: str, letter: str, entries: Mapping[str, Entry], *, unit: str) -> Line:
    """Return the line that takes the mean of the entries that begin with the letter."""
    chosen = {name: entry for name, entry in entries.items() if name.startswith(letter)}
    pattern = f"({' + '.join('{' + name + '}' for name in chosen)}) / {len(chosen)}"
    return put_in(
        what,
        pattern,
        lambda **values: sum(values.values(), Fraction(0)) / len(values),
        chosen,
        write=lambda value: shown(value, 4),
        unit=unit,
    )


def least_squares_line(
    what: str,
    entries: Mapping[str, Entry],
    letters: tuple[str, str],
    *,
    write: Callable[[Fraction | float], str],
    unit: str,
) -> Line:
    """Return the line that divides the sum of products by the sum of squares: the slope of least squares."""
    x, y = letters
    count = sum(1 for name in entries if name.startswith(x))
    numbers = range(1, count + 1)
    products = " + ".join(f"({{{x}{n}}} − {{mx}}) × ({{{y}{n}}} − {{my}})" for n in numbers)
    squares = " + ".join(f"({{{x}{n}}} − {{mx}})²" for n in numbers)

    def slope(**v: Fraction) -> Fraction:
        top = sum(((v[f"{x}{n}"] - v["mx"]) * (v[f"{y}{n}"] - v["my"]) for n in numbers), Fraction(0))
        return top / sum(((v[f"{x}{n}"] - v["mx"]) ** 2 for n in numbers), Fraction(0))

    return put_in(what, f"({products}) / ({squares})", slope, entries, write=write, unit=unit)


def _gain_lines(setup: Setup, line: StraightLine) -> tuple[Line, ...]:
    entries = _points_in(setup)
    if len(line.points) == 2:
        return (
            put_in(
                "What the display makes of one pH",
                "({s2} − {s1}) / ({b2} − {b1})",
                lambda s2, s1, b2, b1: (s2 - s1) / (b2 - b1),
                {name: entries[name] for name in ("s2", "s1", "b2", "b1")},
                write=lambda value: shown(value, 4),
                unit="",
            ),
        )
    means = {"mx": Entry(line.mean_x, 4), "my": Entry(line.mean_y, 4)}
    return (
        mean_line("Mean of the buffers", "b", entries, unit="pH"),
        mean_line("Mean of what the display shows", "s", entries, unit="pH"),
        least_squares_line(
            "What the display makes of one pH, by least squares",
            entries | means,
            ("b", "s"),
            write=lambda value: shown(value, 4),
            unit="",
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchor:
    """A point the display's line goes through: the first buffer of two, the means of three, one buffer by itself."""

    true: Entry
    shown: Entry
    gain: Entry


def _anchor(setup: Setup, line: StraightLine) -> Anchor:
    if len(line.points) > 2:
        return Anchor(true=Entry(line.mean_x, 4), shown=Entry(line.mean_y, 4), gain=Entry(line.slope, 4))
    entries = _points_in(setup)
    gain = Entry(line.slope, 4) if len(line.points) == 2 else fixed("1")
    return Anchor(true=entries["b1"], shown=entries["s1"], gain=gain)


def _process(setup: Setup, line: StraightLine, anchor: Anchor) -> tuple[Fraction, Line] | None:
    """Return the true pH at which the error is judged, with the line that says where it comes from.

    As found and confirming: from what the display showed in the process; then the process pH of an earlier set, then
    the working pH of the requirement. As left: the display has been moved, so the process pH of as found comes first.
    """
    read, carried, working = setup.inputs.process_shown, setup.known.last.get("process_ph"), setup.working_ph
    if read is not None and (not setup.is_as_left or (carried is None and working is None)):
        line_of = put_in(
            f"The process, shown as {read.text}, really was",
            "{b} + ({r} − {s}) / {g}",
            lambda b, r, s, g: b + (r - s) / g,
            {"b": anchor.true, "r": typed(read), "s": anchor.shown, "g": anchor.gain},
            write=as_ph,
            unit="pH",
        )
        return line.where(read.value), line_of
    if carried is not None:
        text = "The process, as worked out from the set as found"
        return carried, Line(text=text, figures="", value=as_ph(carried), unit="pH", source="as found")
    if working is not None:
        text = "No reading of the process: the working pH of the requirement is taken"
        return working, Line(text=text, figures="", value=as_ph(working), unit="pH", source="requirement")
    return None


def _error_line(setup: Setup, process: Fraction, anchor: Anchor, band: Band) -> Line:
    drawn = band.uncertainty is None and can_be_drawn(setup)
    text = f"Error there; limit {band_text(band)}, uncertainty below" if drawn else f"Error there; {limits_said(band)}"
    write = beside(band, 3, plus=True)
    read = setup.inputs.process_shown
    if read is not None and not setup.is_as_left:
        entries = {"r": typed(read), "p": Entry(process, 3)}
        return put_in(text, "{r} − {p}", lambda r, p: r - p, entries, write=write, unit="pH", source=band.source)
    return put_in(
        text,
        "{s} + {g} × ({p} − {b}) − {p}",
        lambda s, g, p, b: s + g * (p - b) - p,
        {"s": anchor.shown, "g": anchor.gain, "p": Entry(process, 3), "b": anchor.true},
        write=write,
        unit="pH",
        source=band.source,
    )


def one_buffer_line(setup: Setup) -> StraightLine | None:
    """Return the line of a check in one buffer: the error is taken to be the same everywhere (offset)."""
    if setup.points_asked != 1 or len(setup.on_display) != 1:
        return None
    ((true, read),) = setup.on_display
    return StraightLine(slope=Fraction(1), intercept=read - true, points=setup.on_display)


def error_piece(setup: Setup) -> Piece:
    """Return the display's line, the true process value and the error there, judged by its limit."""
    line = display_line(setup) or one_buffer_line(setup)
    if line is None:
        return Piece()
    gain = _gain_lines(setup, line) if len(line.points) > 1 else (_ONE_BUFFER,)
    per_ph = Figure(
        name="shown_per_ph", label="display for one pH", value=line.slope, shown=shown(line.slope, 4), unit=""
    )
    head = Piece(lines=gain, figures=(per_ph,) if len(line.points) > 1 else ())
    if not usable(line):
        return head
    anchor = _anchor(setup, line)
    process = _process(setup, line, anchor)
    return head if process is None else together(head, _judged_error(setup, line, anchor, process))


_ONE_BUFFER = Line(
    text="One buffer: the error is taken to be the same at the process (an estimate)",
    figures="",
    value="",
    unit="",
    source="offset model",
)


def _judged_error(setup: Setup, line: StraightLine, anchor: Anchor, process: tuple[Fraction, Line]) -> Piece:
    true, process_line = process
    band = setup.band("error")
    there = line.at(true)
    error = there - true
    error_line = _error_line(setup, true, anchor, band)
    judged = Judged(
        name="error",
        what="error at the process value",
        value=error,
        unit="pH",
        of="",
        low=band.low,
        high=band.high,
        at=true,
        shown=there,
        standard=true,
        uncertainty=band.uncertainty,
        source=band.source,
        tag=band.tag,
    )
    at = Figure(name="process_ph", label="process, true", value=true, shown=as_ph(true), unit="pH")
    found = Figure(
        name="error", label=f"error at the process, pH {shown(true, 2)}", value=error, shown=error_line.value, unit="pH"
    )
    return Piece(lines=(process_line, error_line), figures=(at, found), judged=(judged,))


def third_piece(setup: Setup) -> Piece:
    """Return the third buffer against its value: judged as left, shown in any set."""
    one = setup.third
    if one is None or one.true is None or one.point.shown is None:
        return Piece()
    band, error = setup.band("third"), one.point.shown.value - one.true
    line = put_in(
        f"Third buffer; {limits_said(band)}",
        "{s} − {b}",
        lambda s, b: s - b,
        {"s": typed(one.point.shown), "b": Entry(one.true, 3)},
        write=beside(band, 3, plus=True),
        unit="pH",
        source=band.source,
    )
    judged = Judged(
        name="third",
        what="third buffer",
        value=error,
        unit="pH",
        of="",
        low=band.low,
        high=band.high,
        at=one.true,
        shown=one.point.shown.value,
        standard=one.true,
        uncertainty=band.uncertainty,
        source=band.source,
        tag=band.tag,
    )
    figure = Figure(name="error_third", label="error in the third buffer", value=error, shown=line.value, unit="pH")
    buffer_line = _buffer_line(one)
    return Piece(
        lines=((buffer_line,) if buffer_line is not None else ()) + (line,),
        figures=(figure,),
        judged=(judged,) if setup.is_as_left else (),
    )
