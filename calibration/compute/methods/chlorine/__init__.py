"""Chlorine, free or total: the analyzer against a pair of grabs from its own line, read on the bench meter.

Limit: the larger of 0.10 mg/L and 15 % of the grab (EPA Method 334.0, second-hand). The error is a gain. The zero on
dechlorinated water is judged apart, where it was read.

The uncertainty is that of the bench meter's certificate, of both last digits and of how the pair repeats; one grab
alone has none, for it does not show how it repeats, and the zero has none, for no standard stands behind it.
"""

from __future__ import annotations

from calibration.compute.asked import asks_of, reader_of
from calibration.compute.doubts import coarse_standards, no_hold, reminder, unfit_standards
from calibration.compute.grabs import mean_of, missing_grabs, moved_away
from calibration.compute.method import RECALLED, Method, Recalled
from calibration.compute.methods.chlorine.asks import LIMITS, SETTINGS, Chlorine
from calibration.compute.methods.chlorine.catches import (
    adjusted_inside,
    bleached,
    combined_as_free,
    dirty_cell,
    gain_wrong_way,
    other_water,
    over_range,
    pair_apart,
    reagent_level,
    reagents,
    too_late,
    total_below_free,
)
from calibration.compute.methods.chlorine.working import budget, work

__all__ = ["METHOD", "mean_of"]

METHOD: Method[Chlorine] = Method(
    code="chlorine",
    name="Chlorine, against grab samples",
    version="1.1",
    quantity="chlorine",
    standards=("bench meter",),
    asks=asks_of(Chlorine),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Reagents stain and irritate: gloves and goggles. Reagent waste goes where the site's rules say.",
        "Put what this signal paces on hold or in manual, and watch the residual by hand until it is back.",
        "Never acid near hypochlorite.",
    ),
    work=work,
    budget=budget,
    catches=(
        missing_grabs, unfit_standards, coarse_standards, no_hold, pair_apart, other_water, over_range, too_late,
        bleached, dirty_cell, combined_as_free, total_below_free, reagents, reagent_level, adjusted_inside, moved_away,
        gain_wrong_way,
        reminder("blank", "blank", "Blank with the same water; manganese and colour count as chlorine otherwise."),
    ),
    read=reader_of(Chlorine),
    carried=("gain",),
    recalls=(*RECALLED, Recalled(name="mean_grab", figure="mean_grab", of_this_check=True)),
    legends={"grab": "Grab"},
    words={"grab": "A sample taken by hand from the analyzer's own line at the time it reads that water."},
)  # fmt: skip
