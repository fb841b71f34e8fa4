"""The uncertainty of each error: the tank's certificate, both levels, the time, and the digits of the meter."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from calibration.compute.budget import Budget, from_half_width
from calibration.compute.method import Known, Worked
from calibration.compute.methods.flow_volume.asks import Volume
from calibration.compute.standard_units import drawn, from_standard, last_digit
from calibration.compute.uncertainty import Component


def budget(inputs: Volume, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of each error in %: the tank, both levels, the time, and the digits of the meter."""
    true, seconds = Fraction(worked.figure("true") or 0), inputs.seconds
    if true <= 0 or seconds is None or worked.figure("change") is None:
        return {}
    found: dict[str, Budget] = {}
    for name, what, read in (
        ("error", "error of the rate", inputs.indicated),
        ("hmi", "error of the HMI", inputs.hmi),
    ):
        if read is not None:
            share = 100 * read.value / true
            parts = (*_tank(inputs, known, worked, share), last_digit(read, "m³/h", sensitivity=100 / true))
            found |= drawn(parts, name=name, what=what, unit="%")
    through, counted = Fraction(worked.figure("through") or 0), Fraction(worked.figure("total_counted") or 0)
    if through and inputs.total_first is not None and inputs.total_last is not None:
        digits = [
            last_digit(one, "m³", sensitivity=100 / through, name=f"last digit of the totalizer, {end}")
            for one, end in ((inputs.total_first, "beginning"), (inputs.total_last, "end"))
        ]
        parts = (*_tank(inputs, known, worked, 100 * counted / through, timed=False), *digits)
        found |= drawn(parts, name="total", what="error of the totalizer", unit="%")
    return found


def _tank(
    inputs: Volume, known: Known, worked: Worked, share: Fraction, *, timed: bool = True
) -> list[Component | None]:
    """Return the parts of the tank; `share` is by how much the error falls when the true value doubles, in %."""
    used, within = known.standards.get(inputs.tank), known.number("level_within")
    area, change, true = (Fraction(worked.figure(name) or 0) for name in ("area", "change", "true"))
    seconds = inputs.seconds.value if inputs.seconds is not None else Fraction(1)
    per_metre = share * area * 3600 / (seconds * true)
    volume = Fraction(worked.figure("volume") or 0)
    parts: list[Component | None] = [
        from_half_width(within, f"level at the {end}", "how well a level is read, written for this tag",
                        sensitivity=per_metre) if within else None
        for end in ("beginning", "end")
    ]  # fmt: skip
    if volume:
        parts += [
            from_standard(used, sensitivity=share / volume, name=f"volume at the {end}", unit="m³")
            for end in ("beginning", "end")
        ]
    else:
        parts.append(from_standard(used, sensitivity=-share / area, unit="m²"))
    if timed and inputs.seconds is not None:
        sensitivity = per_metre * change / seconds
        parts.append(last_digit(inputs.seconds, "s", sensitivity=sensitivity, name="last digit of the time"))
    return parts
