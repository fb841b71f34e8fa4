"""Flow by a volume: a measured tank is drawn down or filled through the meter, with a leak test before.

The error is given in % of the true flow; in % of the meter beside it, as some commissions divide. Totalizer, HMI and
the zero with the valve shut are judged apart from the rate. The volume follows from two levels and the area of the
tank, or, where a tank has a table of level and volume, from the volumes it gives for both levels.

The uncertainty rests on the tank's certificate, on how well a level is read (a setting of the tag) and on the digits
of time and meter; that of the leak is not in it, for nothing in a check states one.
"""

from __future__ import annotations

from calibration.compute.asked import asks_of, reader_of
from calibration.compute.doubts import AT_A_SIGNAL, reminder
from calibration.compute.method import Method
from calibration.compute.methods.flow_volume.asks import LIMITS, SETTINGS, Volume
from calibration.compute.methods.flow_volume.catches import (
    damped,
    half_a_total,
    no_area,
    not_a_test,
    short_drop,
    table_otherwise,
    unit_slip,
)
from calibration.compute.methods.flow_volume.uncertainty import budget
from calibration.compute.methods.flow_volume.working import work
from calibration.compute.standard_units import other_quantity

METHOD: Method[Volume] = Method(
    code="flow-volume",
    name="Flow meter, against a measured tank",
    version="1.1",
    quantity="flow",
    standards=("tank",),
    asks=asks_of(Volume),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "A tank is a confined space: read from outside; entry only by permit and with a watch outside.",
        "Watch the level: keep water for fire and supply, and never let it run over or the pumps run dry.",
        "A self-check of the meter's electronics proves no flow.",
    ),
    work=work,
    budget=budget,
    budget_since="1.1",
    catches=(
        *AT_A_SIGNAL, not_a_test, no_area, table_otherwise, short_drop, damped, unit_slip, half_a_total,
        other_quantity("tank", "m²", "m³"),
        reminder("total_first", "totalizer", "Read the totalizer at both ends too: rate and total fail apart."),
        reminder("zero", "zero", "With the valve shut the meter shows nought; write what it shows."),
        reminder("full", "pipe", "A meter in a pipe that is not full reads air. Say whether it was full."),
        reminder("steady_constant", "forced", "A steady reading may be forced or frozen. Look whether it ever moves."),
    ),
    read=reader_of(Volume),
    stages=("as found",),
)  # fmt: skip
