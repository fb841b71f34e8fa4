"""The interval a drift allows: up to the day the bound meets the guarded limit, held by the instrument's clamps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from calibration.compute.studies.drift import DriftPoint, TooFew, drift
from calibration.compute.studies.proposal import Clamps, Proposal, not_enough


def advise_from_drift(
    points: Sequence[DriftPoint],
    *,
    limit: Fraction,
    expanded: Fraction,
    current: Fraction,
    clamps: Clamps,
    confidence: float = 0.95,
) -> Proposal:
    """Propose whole days up to the earliest crossing of the one-sided prediction bound with limit - expanded.

    An answer beyond the last check says that it is an extrapolation. Raises TypeError for anything but as found drift
    points, ValueError when the uncertainty leaves nothing of the limit.
    """
    if any(not isinstance(point, DriftPoint) for point in points):
        raise TypeError("Only as found results say anything about drift; as left results are refused.")
    found = drift(points, limit=limit, expanded=expanded, confidence=confidence)
    if isinstance(found, TooFew) or found.meets is None:
        return Proposal(days=None, current=current, method="drift", n=found.n, why=found.says, clamps=clamps)
    if found.meets < 1:
        why = "the scatter of the checks alone reaches the limit, so a line says nothing about the interval."
        return not_enough(current=current, method="drift", n=found.n, clamps=clamps, why=why)
    asked = Fraction(math.floor(found.meets))
    days = clamps.held(asked)
    return Proposal(
        days=days,
        current=current,
        method="drift",
        n=found.n,
        why=found.says,
        clamps=clamps,
        model="straight line",
        confidence=confidence,
        clamped=days != asked,
    )
