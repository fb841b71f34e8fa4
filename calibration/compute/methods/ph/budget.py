"""The uncertainty of the error at the process value: the buffers' certificates and the last digit in each of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

from calibration.compute.budget import Budget, budget_of, from_certificate, from_resolution
from calibration.compute.method import Known, Line, Worked
from calibration.compute.methods.ph.inputs import ReadingSet, Standing
from calibration.compute.methods.ph.setup import Setup, set_up
from calibration.compute.standards import Standard
from calibration.compute.uncertainty import Component

NOT_COUNTED = Line(
    text="Not counted: the temperature of the buffers, for the uncertainty of the thermometer is not known",
    figures="",
    value="",
    unit="",
    source="",
)


def whole_points(setup: Setup) -> tuple[Standing, ...]:
    """Return the points the display's line is drawn through: those with the buffer's value and a reading."""
    return tuple(one for one in setup.points if one.true is not None and one.point.shown is not None)


def can_be_drawn(setup: Setup) -> bool:
    """Tell whether two or more buffers draw the line and the certificate of each states its U with its k.

    One buffer gives no budget: what the slope of the probe adds on the way to the process value is not known.
    """
    points = whole_points(setup)
    return len(points) > 1 and all(one.lot is not None and one.lot.uncertainty and one.lot.k for one in points)


def weights_at(buffers: tuple[Fraction, ...], at: Fraction) -> tuple[Fraction, ...]:
    """Return how much the error read in each buffer counts at a pH: the weights of the straight line through them.

    Through two, (x2 - x) / (x2 - x1) and (x - x1) / (x2 - x1); through three, those of least squares. They add up to
    1. Raises ZeroDivisionError where all buffers are worth the same.
    """
    mean = sum(buffers, Fraction(0)) / len(buffers)
    squares = sum(((one - mean) ** 2 for one in buffers), Fraction(0))
    return tuple(Fraction(1, len(buffers)) + (at - mean) * (one - mean) / squares for one in buffers)


def _called(one: Standing, lot: Standard) -> str:
    return f"{one.name.lower()}, buffer {lot.called}"


def _parts(one: Standing, weight: Fraction) -> tuple[Component | None, ...]:
    lot, read = one.lot, one.point.shown
    if lot is None or read is None:
        return (None,)
    source = lot.certificate or f"label of {lot.called}"
    step = Fraction(1, 10**read.decimals)
    return (
        from_certificate(lot.uncertainty, lot.k, _called(one, lot), source, sensitivity=-weight),
        from_resolution(step, f"{one.name.lower()}, last digit read", sensitivity=weight),
    )


def _correlated(points: tuple[Standing, ...], weights: tuple[Fraction, ...]) -> dict[tuple[str, str], float]:
    """Return r = 1 for buffers of one lot or of one certificate, where that makes the uncertainty larger.

    Beyond the buffers the weights have opposite signs and what they share would cancel: there r stays 0, for how much
    they share is not stated. Different lots with certificates of their own are independent.
    """
    found: dict[tuple[str, str], float] = {}
    for (one, w), (other, v) in combinations(zip(points, weights, strict=True), 2):
        first, second = one.lot, other.lot
        if first is None or second is None or w * v <= 0:
            continue
        if first.id == second.id or (first.certificate and first.certificate == second.certificate):
            found[_called(one, first), _called(other, second)] = 1.0
    return found


def _correlation_lines(related: Mapping[tuple[str, str], float]) -> tuple[Line, ...]:
    return tuple(
        Line(
            text=f"One lot or one certificate, taken as fully correlated (r = 1): {one}, and {other}",
            figures="",
            value="",
            unit="",
            source="the conservative coefficient",
        )
        for one, other in related
    )


def error_budget(inputs: ReadingSet, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the expanded uncertainty of the error at the process value, pH; nothing where a lot states none.

    The error there is a line through the errors in the buffers (JCGM 100:2008, 5.1.2 and 5.2.2): each reading counts
    with its weight and each buffer with minus its weight, the display taken to make one pH of one pH.
    """
    setup = set_up(inputs, known)
    judged = next((one for one in worked.judged if one.name == "error"), None)
    if judged is None or judged.at is None or not can_be_drawn(setup):
        return {}
    points = whole_points(setup)
    weights = weights_at(tuple(one.true for one in points if one.true is not None), judged.at)
    parts = [part for one, weight in zip(points, weights, strict=True) for part in _parts(one, weight)]
    related = _correlated(points, weights)
    drawn = budget_of(parts, unit="pH", name=judged.what, correlations=related)
    if drawn is None:
        return {}
    return {"error": replace(drawn, lines=(*_correlation_lines(related), NOT_COUNTED, *drawn.lines))}
