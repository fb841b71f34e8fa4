"""All that follows from one reading set at a pH probe, put together."""

from __future__ import annotations

from fractions import Fraction

from calibration.compute.method import Advice, Known, Model, Worked
from calibration.compute.methods.ph.advice import advice_on
from calibration.compute.methods.ph.display import buffers_piece, error_piece, third_piece
from calibration.compute.methods.ph.inputs import ReadingSet
from calibration.compute.methods.ph.setup import Setup, set_up, together
from calibration.compute.methods.ph.voltage import electrode_piece, estimate_piece, own_piece, probe_of


def _model(setup: Setup) -> Model:
    """Return the error as (true, shown) points: an offset from one buffer, else a line."""
    return Model(kind="offset" if len(setup.on_display) < 2 else "two-point", points=setup.on_display)


def _advice(setup: Setup) -> tuple[Advice, ...]:
    seconds = tuple(one.point.seconds.value for one in setup.points if one.point.seconds is not None)
    return advice_on(probe_of(setup), seconds)


def _next_value(figures: dict[str, Fraction | float]) -> dict[str, Fraction]:
    carried = {"process_ph": figures.get("process_ph"), "slope_percent": figures.get("percent_slope")}
    return {name: value for name, value in carried.items() if isinstance(value, Fraction)}


def work(inputs: ReadingSet, known: Known) -> Worked:
    """Work out one reading set, as far as it has been written.

    Buffers at their own temperatures, the error at the process value from what the display shows, slope, offset and
    zero point from millivolts at the mean temperature. As found and confirming are judged by the error alone; as left
    also by slope, offset and a third buffer. Exact throughout: exchanging the buffers changes nothing.
    """
    setup = set_up(inputs, known)
    piece = together(
        buffers_piece(setup),
        error_piece(setup),
        electrode_piece(setup),
        own_piece(setup),
        estimate_piece(setup),
        third_piece(setup),
    )
    return Worked(
        judged=piece.judged,
        lines=piece.lines,
        model=_model(setup),
        figures=piece.figures,
        advice=_advice(setup),
        next_value=_next_value({figure.name: figure.value for figure in piece.figures}),
    )
