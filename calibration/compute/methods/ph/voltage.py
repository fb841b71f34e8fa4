"""What the electrode itself gives: slope, part of theory, offset, zero point, with the residuals of three buffers."""

from __future__ import annotations

import math
from fractions import Fraction

from calibration.compute.figures import shown
from calibration.compute.method import Figure, Judged, Line
from calibration.compute.methods.ph.display import (
    as_ph,
    beside,
    display_line,
    least_squares_line,
    limits_said,
    mean_line,
    usable,
)
from calibration.compute.methods.ph.electrode import NERNST_TEXT, Electrode, electrode, nernst_slope
from calibration.compute.methods.ph.setup import Piece, Setup, together
from calibration.compute.working import Entry, fixed, put_in, typed

_SI = "R and F of the 2019 SI, CODATA 2018"


def _mv(value: Fraction | float) -> str:
    return shown(value, 2)


def probe_of(setup: Setup) -> Electrode | None:
    """Return the electrode when every buffer read has its millivolts and two buffers differ; else None."""
    whole = [one for one in setup.points if one.true is not None]
    mean = setup.mean_temperature
    if mean is None or len(setup.in_volts) < 2 or len(setup.in_volts) != len(whole):
        return None
    return electrode(setup.in_volts, mean, counts_up=setup.counts_up)


def _entries(setup: Setup) -> dict[str, Entry]:
    entries: dict[str, Entry] = {}
    whole = [one for one in setup.points if one.true is not None and one.point.mv is not None]
    for number, one in enumerate(whole, start=1):
        if one.true is not None and one.point.mv is not None:
            entries |= {f"b{number}": Entry(one.true, 3), f"e{number}": typed(one.point.mv)}
    return entries


def _theory_lines(setup: Setup, mean: Fraction) -> tuple[Line, ...]:
    temperatures = {
        f"t{number}": typed(one.point.temperature)
        for number, one in enumerate(setup.points, start=1)
        if one.point.temperature is not None
    }
    same = len(set(setup.temperatures)) == 1
    means = () if same else (mean_line("Mean temperature of the buffers", "t", temperatures, unit="°C"),)
    theory = put_in(
        "Theoretical slope at that temperature",
        "{k} × ({t} + {zero})",
        lambda k, t, zero: k * (t + zero),
        {"k": fixed(NERNST_TEXT), "t": Entry(mean, 1), "zero": fixed("273.15")},
        write=_mv,
        unit="mV/pH",
        source=_SI,
    )
    return (*means, theory)


def _slope_lines(probe: Electrode, entries: dict[str, Entry]) -> tuple[Line, ...]:
    if len(probe.line.points) == 2:
        line = put_in(
            "Slope found",
            "({e2} − {e1}) / ({b2} − {b1})",
            lambda e2, e1, b2, b1: (e2 - e1) / (b2 - b1),
            {name: entries[name] for name in ("e2", "e1", "b2", "b1")},
            write=_mv,
            unit="mV/pH",
        )
        return (line,)
    means = {"mx": Entry(probe.line.mean_x, 4), "my": Entry(probe.line.mean_y, 4)}
    return (
        mean_line("Mean of the buffers", "b", entries, unit="pH"),
        mean_line("Mean of the millivolts", "e", entries, unit="mV"),
        least_squares_line("Slope found, by least squares", entries | means, ("b", "e"), write=_mv, unit="mV/pH"),
    )


def _percent_line(setup: Setup, probe: Electrode) -> Line:
    band = setup.band("slope")
    sign = 1 if probe.counts_up else -1
    said = f"; {limits_said(band)}" if setup.is_as_left else ""
    return put_in(
        f"Slope as a part of theory{said}",
        f"{'' if probe.counts_up else '−'}100 × {{s}} / {{k}}",
        lambda s, k: sign * 100 * s / k,
        {"s": Entry(probe.slope, 2), "k": Entry(probe.nernst, 2)},
        write=beside(band, 1, plus=False),
        unit="%",
        source=band.source if setup.is_as_left else "",
    )


def _offset_line(setup: Setup, probe: Electrode, entries: dict[str, Entry]) -> Line:
    band = setup.band("offset")
    said = f"; {limits_said(band)}" if setup.is_as_left else ""
    if len(probe.line.points) == 2:
        first, at = entries["e1"], entries["b1"]
    else:
        first, at = Entry(probe.line.mean_y, 4), Entry(probe.line.mean_x, 4)
    return put_in(
        f"Offset at pH 7{said}",
        "{e} + {s} × (7 − {b})",
        lambda e, s, b: e + s * (7 - b),
        {"e": first, "s": Entry(probe.slope, 2), "b": at},
        write=beside(band, 1, plus=True),
        unit="mV",
        source=band.source if setup.is_as_left else "",
    )


def _zero_piece(probe: Electrode) -> Piece:
    zero = probe.zero_point
    if zero is None:
        return Piece()
    line = put_in(
        "Zero point, where the electrode gives 0 mV",
        "7 − {o} / {s}",
        lambda o, s: 7 - o / s,
        {"o": Entry(probe.offset, 2), "s": Entry(probe.slope, 2)},
        write=as_ph,
        unit="pH",
    )
    return Piece(
        lines=(line,), figures=(Figure(name="zero_point", label="zero point", value=zero, shown=line.value, unit="pH"),)
    )


def _residual_piece(probe: Electrode) -> Piece:
    """Return how far three buffers lie off their line. With three, one degree of freedom: t(95 %) = 12.706."""
    s, se_slope, se_intercept = probe.line.residual_sd, probe.line.se_slope, probe.line.se_intercept
    if s is None or se_slope is None or se_intercept is None or probe.slope == 0:
        return Piece()
    residuals = probe.line.residuals
    entries = {f"r{number}": Entry(residual, 3) for number, residual in enumerate(residuals, start=1)}
    squares = " + ".join(f"{{{name}}}²" for name in entries)
    free = len(residuals) - 2
    sd_line = put_in(
        "Scatter about the line, one degree of freedom" if free == 1 else "Scatter about the line",
        f"√(({squares}) / {free})",
        lambda **r: math.sqrt(sum(value * value for value in r.values()) / free),
        entries,
        write=lambda value: shown(value, 3),
        unit="mV",
    )
    furthest = max(abs(residual / probe.slope) for residual in residuals)
    named: tuple[tuple[str, str, Fraction | float, int, str], ...] = (
        *((f"residual_{n}", f"residual of point {n}", r, 3, "mV") for n, r in enumerate(residuals, start=1)),
        ("residual_sd", "scatter about the line", s, 3, "mV"),
        ("se_slope", "standard error of the slope", se_slope, 3, "mV/pH"),
        ("se_intercept", "standard error of the value at pH 0", se_intercept, 2, "mV"),
        ("largest_residual_ph", "furthest buffer off the line", furthest, 3, "pH"),
    )
    figures = tuple(
        Figure(name=name, label=label, value=value, shown=shown(value, places), unit=unit)
        for name, label, value, places, unit in named
    )
    return Piece(lines=(sd_line,), figures=figures)


def judged_electrode(setup: Setup, *, percent: Fraction | None, offset: Fraction | None, of: str) -> tuple[Judged, ...]:
    """Return slope and offset as judged values of an as left set; what is None is not judged."""
    if not setup.is_as_left:
        return ()
    theory = "theoretical slope at the temperature of the buffers"
    values = (("slope", f"slope of the electrode{of}", percent, theory), ("offset", f"offset at pH 7{of}", offset, ""))
    bands = {name: setup.band(name) for name in ("slope", "offset")}
    return tuple(
        Judged(
            name=name,
            what=what,
            value=value,
            unit=bands[name].unit,
            of=denominator,
            low=bands[name].low,
            high=bands[name].high,
            uncertainty=bands[name].uncertainty,
            source=bands[name].source,
            tag=bands[name].tag,
        )
        for name, what, value, denominator in values
        if value is not None
    )


def electrode_piece(setup: Setup) -> Piece:
    """Return slope, part of theory, offset, zero point and residuals from millivolts; judged as left."""
    probe = probe_of(setup)
    if probe is None:
        return Piece()
    entries = _entries(setup)
    slope_lines = _slope_lines(probe, entries)
    theory_lines = _theory_lines(setup, probe.temperature)
    percent_line, offset_line = _percent_line(setup, probe), _offset_line(setup, probe, entries)
    figures = (
        Figure(
            name="nernst", label="theoretical slope", value=probe.nernst, shown=theory_lines[-1].value, unit="mV/pH"
        ),
        Figure(name="slope", label="slope", value=probe.slope, shown=slope_lines[-1].value, unit="mV/pH"),
        Figure(
            name="percent_slope", label="slope, % of theory", value=probe.percent, shown=percent_line.value, unit="%"
        ),
        Figure(name="offset", label="offset at pH 7", value=probe.offset, shown=offset_line.value, unit="mV"),
    )
    head = Piece(
        lines=(*theory_lines, *slope_lines, percent_line, offset_line),
        figures=figures,
        judged=judged_electrode(setup, percent=probe.percent, offset=probe.offset, of=""),
    )
    return together(head, _zero_piece(probe), _residual_piece(probe))


def _own_percent(setup: Setup) -> Fraction | None:
    given, mean = setup.inputs.own_slope, setup.mean_temperature
    if given is None or setup.inputs.own_slope_unit == "%":
        return None if given is None else given.value
    if setup.inputs.own_slope_unit != "mV/pH" or mean is None:
        return None
    return 100 * given.value / nernst_slope(mean)


def _own_offset(setup: Setup, percent: Fraction | None) -> Fraction | None:
    given, mean = setup.inputs.own_zero, setup.mean_temperature
    if given is None or setup.inputs.own_zero_unit == "mV":
        return None if given is None else given.value
    if setup.inputs.own_zero_unit != "pH" or percent is None or mean is None:
        return None
    return (given.value - 7) * percent * nernst_slope(mean) / 100


def own_piece(setup: Setup) -> Piece:
    """Return slope and offset as the transmitter gives them; judged as left where no millivolts were read."""
    percent = _own_percent(setup)
    offset = _own_offset(setup, percent)
    named = (
        ("own_percent", "slope, the transmitter's own", percent, "slope", "%"),
        ("own_offset", "offset, the transmitter's own", offset, "offset", "mV"),
    )
    figures = tuple(
        Figure(
            name=name,
            label=label,
            value=value,
            shown=beside(setup.band(limit), 1, plus=limit == "offset")(value),
            unit=unit,
        )
        for name, label, value, limit, unit in named
        if value is not None
    )
    if probe_of(setup) is not None:
        return Piece(figures=figures)
    judged = judged_electrode(setup, percent=percent, offset=offset, of=", the transmitter's own")
    return Piece(lines=_own_lines(setup), figures=figures, judged=judged)


def _own_lines(setup: Setup) -> tuple[Line, ...]:
    """Return how the transmitter's own slope in mV/pH becomes a part of theory; nothing for one already in %."""
    given, mean = setup.inputs.own_slope, setup.mean_temperature
    if given is None or mean is None or setup.inputs.own_slope_unit != "mV/pH":
        return ()
    line = put_in(
        "The transmitter's own slope as a part of theory",
        "100 × {s} / ({k} × ({t} + {zero}))",
        lambda s, k, t, zero: 100 * s / (k * (t + zero)),
        {"s": typed(given), "k": fixed(NERNST_TEXT), "t": Entry(mean, 1), "zero": fixed("273.15")},
        write=beside(setup.band("slope"), 1, plus=False),
        unit="%",
        source="the transmitter",
    )
    return (line,)


def estimate_piece(setup: Setup) -> Piece:
    """Return the slope now without millivolts: the stored slope times what the display makes of one pH, an estimate."""
    stored, line = setup.known.last.get("slope_percent"), display_line(setup)
    if stored is None or line is None or not usable(line) or probe_of(setup) is not None:
        return Piece()
    now = put_in(
        "Slope now, an estimate: the stored slope times what the display makes of one pH",
        "{stored} × {g}",
        lambda stored, g: stored * g,
        {"stored": Entry(stored, 1), "g": Entry(line.slope, 4)},
        write=lambda value: shown(value, 1),
        unit="%",
        source="estimate",
    )
    figure = Figure(
        name="slope_now", label="slope now, an estimate", value=stored * line.slope, shown=now.value, unit="%"
    )
    return Piece(lines=(now,), figures=(figure,))
