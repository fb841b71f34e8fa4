"""The picture of a pH electrode's line against theory: plain numbers, so that any page can draw it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.method import Known
from calibration.compute.methods.ph.electrode import NEUTRAL, Electrode
from calibration.compute.methods.ph.inputs import ReadingSet
from calibration.compute.methods.ph.setup import set_up
from calibration.compute.methods.ph.voltage import probe_of
from calibration.compute.methods.ph.working import work

HEALTHY_SLOPES = (Fraction(95), Fraction(102))
HEALTHY_OFFSET = Fraction(30)
"""The shaded band of a healthy probe: slope in % of theory, offset in mV either side of 0."""

Trace = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartRow:
    """One point as the table under the picture gives it: pH of the buffer, mV found, mV of theory."""

    number: int
    ph: float
    mv: float
    theory: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PhChart:
    """The line, theory and the healthy band over a range of pH: floats, for drawing only.

    Every trace is a row of (pH, mV). `process` is the true pH of the process, None when unknown.
    """

    rows: tuple[ChartRow, ...]
    line: Trace
    theory: Trace
    band_low: Trace
    band_high: Trace
    process: float | None
    ph_range: tuple[float, float]
    mv_range: tuple[float, float]

    def place(self, ph: float, mv: float) -> tuple[float, float]:
        """Return where a value stands in the picture: % from the left, % from the top."""
        (left, right), (bottom, top) = self.ph_range, self.mv_range
        return 100 * (ph - left) / (right - left), 100 * (top - mv) / (top - bottom)

    @property
    def ph_ticks(self) -> tuple[int, ...]:
        """The whole pH values of the range."""
        return tuple(range(math.ceil(self.ph_range[0]), math.floor(self.ph_range[1]) + 1))

    @property
    def mv_ticks(self) -> tuple[int, ...]:
        """The millivolts of the range, every 50."""
        low, high = self.mv_range
        return tuple(range(50 * math.ceil(low / 50), 50 * math.floor(high / 50) + 1, 50))


def _theory(probe: Electrode, ph: Fraction) -> Fraction:
    direction = 1 if probe.counts_up else -1
    return direction * probe.nernst * (ph - NEUTRAL)


def _band(probe: Electrode, ph: Fraction, *, upper: bool) -> Fraction:
    edges = [share * _theory(probe, ph) / 100 for share in HEALTHY_SLOPES]
    return max(edges) + HEALTHY_OFFSET if upper else min(edges) - HEALTHY_OFFSET


def _range(values: list[Fraction], step: int) -> tuple[Fraction, Fraction]:
    """Widen to whole steps with half a step of room on each side."""
    room = Fraction(step, 2)
    low, high = min(values) - room, max(values) + room
    return Fraction(math.floor(low / step) * step), Fraction(math.ceil(high / step) * step)


def line_against_theory(probe: Electrode, *, process: Fraction | None = None) -> PhChart:
    """Return the picture of one electrode; `process` is the true pH of the process."""
    points = probe.line.points
    on_axis = [ph for ph, _ in points] + ([] if process is None else [process])
    left, right = _range(on_axis, 1)
    corners = sorted({left, NEUTRAL, right}) if left < NEUTRAL < right else [left, right]
    traces = {
        "line": [(ph, probe.line.at(ph)) for ph in (left, right)],
        "theory": [(ph, _theory(probe, ph)) for ph in (left, right)],
        "band_low": [(ph, _band(probe, ph, upper=False)) for ph in corners],
        "band_high": [(ph, _band(probe, ph, upper=True)) for ph in corners],
    }
    bottom, top = _range([mv for trace in traces.values() for _, mv in trace] + [mv for _, mv in points], 50)
    drawn: dict[str, Trace] = {
        name: tuple((float(ph), float(mv)) for ph, mv in trace) for name, trace in traces.items()
    }
    return PhChart(
        rows=tuple(
            ChartRow(number=number, ph=float(ph), mv=float(mv), theory=float(_theory(probe, ph)))
            for number, (ph, mv) in enumerate(points, start=1)
        ),
        process=None if process is None else float(process),
        ph_range=(float(left), float(right)),
        mv_range=(float(bottom), float(top)),
        **drawn,
    )


def chart_of(inputs: ReadingSet, known: Known) -> PhChart | None:
    """Return the picture of one reading set; None when no slope can be worked out."""
    probe = probe_of(set_up(inputs, known))
    process = work(inputs, known).figure("process_ph")
    if probe is None:
        return None
    return line_against_theory(probe, process=process if isinstance(process, Fraction) else None)
