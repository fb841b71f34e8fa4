"""A strainer's differential pressure, brought to one flow so that two days can be compared."""

from __future__ import annotations

from fractions import Fraction

LEAST_SHARE = Fraction("0.7")
"""Below this share of the reference flow the square of it says too little; own judgement."""


def at_reference_flow(pressure: Fraction, flow: Fraction, reference: Fraction) -> Fraction | None:
    """Return the differential pressure at the reference flow: dp (Qref/Q)^2, unit of the pressure; None below 0.7 Qref.

    flow and reference in one unit, above zero.
    """
    if flow < LEAST_SHARE * reference:
        return None
    return pressure * (reference / flow) ** 2
