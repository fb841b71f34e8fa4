"""The budget that most checks have: a standard with its certificate, the last digit of what is read, repeats."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from calibration.compute.budget import Budget, budget_of, from_certificate, from_repeats, from_resolution
from calibration.compute.method import Typed
from calibration.compute.standards import Standard


def against_standard(
    used: Standard | None,
    read: Typed | None,
    *,
    name: str,
    what: str,
    unit: str,
    per_read: Fraction = Fraction(1),
    per_standard: Fraction = Fraction(-1),
    repeats: Sequence[Fraction] = (),
) -> Mapping[str, Budget]:
    """Return the budget of one judged value by its name, or nothing where the standard states no uncertainty.

    `per_read` and `per_standard` are how much the judged value changes with what is read and with the standard, both
    in their own units. `repeats` are the single values whose mean was judged, two or more.
    """
    if used is None or read is None or not used.uncertainty or not used.k:
        return {}
    source = used.certificate or f"label of {used.called}"
    parts = [
        from_certificate(used.uncertainty, used.k, used.called, source, sensitivity=per_standard),
        from_resolution(Fraction(1, 10**read.decimals), "last digit read", sensitivity=per_read),
    ]
    if len(repeats) >= 2:
        parts.append(from_repeats(tuple(repeats), "repeats", "the readings of this set"))
    drawn = budget_of(tuple(parts), unit=unit, name=what)
    return {} if drawn is None else {name: drawn}
