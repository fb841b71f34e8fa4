"""Turbidity: the meter in a primary standard, in a secondary one with the value assigned to this meter, and low down.

Fouling (dirty minus cleaned on the same water) and drift (cleaned minus standard) are told apart, and as found both are
judged: each alone, and together. The gain comes from the standard, the zero from a low one. A block has no uncertainty:
that on its label is not that of the value read on this meter. Nor has fouling, for no standard stands behind it.
"""

from __future__ import annotations

from calibration.compute.asked import asks_of, reader_of
from calibration.compute.doubts import AT_A_SIGNAL, reminder
from calibration.compute.method import Method
from calibration.compute.methods.turbidity.asks import BLOCK, LIMITS, SETTINGS, Turbidity
from calibration.compute.methods.turbidity.catches import (
    block_not_primary,
    cleaned_first,
    clipped,
    far_from_process,
    flow_outside,
    half_read,
    mixed_units,
    no_gain,
    not_lower,
    old_assignment,
    spoilt_reading,
    zero_not_proved,
)
from calibration.compute.methods.turbidity.working import budget, work

__all__ = ["METHOD"]

METHOD: Method[Turbidity] = Method(
    code="turbidity",
    name="Turbidity, in a standard",
    version="1.1",
    quantity="turbidity",
    standards=("turbidity standard", BLOCK),
    asks=asks_of(Turbidity),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Formazin is made from substances that harm: gloves, goggles, no dust, waste as the site's rules say.",
        "Take the hold off within the 15 minutes of the record; a filter must not run unwatched.",
    ),
    work=work,
    budget=budget,
    catches=(
        *AT_A_SIGNAL, block_not_primary, old_assignment, half_read, not_lower, no_gain, mixed_units, far_from_process,
        zero_not_proved, spoilt_reading, flow_outside, clipped, cleaned_first,
        reminder("vial", "wipe", "Wipe vial or block with the maker's cloth; a finger mark reads as turbidity."),
    ),
    read=reader_of(Turbidity),
    words={"fouling": "What dirt alone adds: the same water before and after cleaning."},
)  # fmt: skip
