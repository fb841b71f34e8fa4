"""Advice on the probe, apart from the result: from bands of slope, offset, settling and scatter."""

from __future__ import annotations

from fractions import Fraction

from calibration.compute.method import Advice
from calibration.compute.methods.ph import asks
from calibration.compute.methods.ph.electrode import Electrode

SETTLED_WITHIN = Fraction(180)
"""Seconds, from memory."""

SCATTER_LIMIT = Fraction("0.05")
"""pH, own judgement."""

FLAT = Fraction(1, 10)
"""Below this part of the theoretical slope a probe gives no answer to pH, or was twice in the same cup."""


def on_slope(percent: Fraction) -> Advice | None:
    """Return advice on a slope in % of theory; None when it is healthy. The better band owns its edge.

    A slope of the wrong sign gets none: a person is asked first whether the cups were swapped.
    """
    if percent <= -100 * FLAT:
        return None
    below = ((100 * FLAT, asks.NO_ANSWER), (Fraction(85), asks.SLOPE_REPLACE), (Fraction(92), asks.SLOPE_CLEAN))
    for edge, advice in (*below, (Fraction(95), asks.SLOPE_WATCH)):
        if percent < edge:
            return advice
    if percent > 105:
        return asks.SLOPE_WRONG
    return asks.SLOPE_LOOK if percent > 102 else None


def on_offset(offset: Fraction) -> Advice | None:
    """Return advice on an offset at pH 7 in mV; None when it is healthy."""
    if abs(offset) > 50:
        return asks.OFFSET_REPLACE
    return asks.OFFSET_WATCH if abs(offset) > 30 else None


def on_residuals(probe: Electrode) -> Advice | None:
    """Return advice when a buffer lies further off the line of three than 0.05 pH."""
    if probe.slope == 0:
        return None
    furthest = max(abs(residual / probe.slope) for residual in probe.line.residuals)
    return asks.SCATTER if furthest > SCATTER_LIMIT else None


def advice_on(probe: Electrode | None, seconds: tuple[Fraction, ...]) -> tuple[Advice, ...]:
    """Return all advice, the gravest first; 'healthy' alone when slope and offset are known and nothing is amiss."""
    slow = asks.SLOW if any(time > SETTLED_WITHIN for time in seconds) else None
    if probe is None or probe.percent <= -100 * FLAT:
        return () if slow is None else (slow,)
    given = tuple(
        one for one in (on_slope(probe.percent), on_offset(probe.offset), on_residuals(probe), slow) if one is not None
    )
    return tuple(sorted(given, key=lambda one: -one.gravity)) or (asks.HEALTHY,)
