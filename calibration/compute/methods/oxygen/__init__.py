"""Dissolved oxygen: the display in saturated air or water, in a zero solution, or beside another meter.

Source: Benson and Krause 1984 with the pressure of the place; see `assets.compute.formulas.oxygen`.

The uncertainty at saturation is that of thermometer and barometer, where both are named and state one, and of the last
digits; beside another meter it is that meter's and the last digits. None where the pressure is estimated from the
height, for the weather states none; none for the formula and for the zero, for nothing in a check states one.
"""

from __future__ import annotations

from calibration.compute.asked import asks_of, reader_of
from calibration.compute.doubts import AT_A_SIGNAL, reminder
from calibration.compute.method import Method
from calibration.compute.methods.oxygen.asks import LIMITS, SETTINGS, Oxygen
from calibration.compute.methods.oxygen.catches import (
    nothing_to_compare,
    old_cap,
    outside_formula,
    percent_as_milligrams,
    percent_otherwise,
    salt_left,
    sea_level,
    stale_zero,
    too_little,
)
from calibration.compute.methods.oxygen.working import budget, work
from calibration.compute.standard_units import other_quantity

METHOD: Method[Oxygen] = Method(
    code="oxygen",
    name="Dissolved oxygen, at saturation and zero",
    version="1.1",
    quantity="oxygen",
    standards=("bench meter", "zero solution", "thermometer", "barometer"),
    asks=asks_of(Oxygen),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Sulfite dust irritates: gloves and goggles, and rinse the sensor well before it goes back.",
        "Put what this signal paces on hold before the sensor leaves the water.",
    ),
    work=work,
    budget=budget,
    budget_since="1.1",
    catches=(
        *AT_A_SIGNAL, nothing_to_compare, outside_formula, sea_level, percent_as_milligrams, percent_otherwise,
        too_little, old_cap, stale_zero, salt_left,
        other_quantity("thermometer", "°C"), other_quantity("barometer", "mmHg"),
        reminder("shown", "drops", "Blot drops off the membrane; no sun on the sensor until it stands still."),
    ),
    read=reader_of(Oxygen),
    words={"saturation": "The oxygen that water in balance with air holds at this temperature and pressure."},
)  # fmt: skip
