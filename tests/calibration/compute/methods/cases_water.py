"""Good sets and mistakes at instruments of water quality."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

from calibration.compute.methods import (
    bench_meter,
    chlorine,
    comparison,
    conductivity,
    oxygen,
    particle_counter,
    streaming_current,
    temperature,
    turbidity,
    uv_intensity,
    uv_transmittance,
)
from calibration.compute.standards import Assigned
from calibration.compute.temperature_tables import table_from_rows
from tests.calibration.compute.methods.cases import MethodCase, known, typed
from tests.calibration.compute.methods.conftest import make_standard

METER = make_standard("asset-1", "bench meter", "0", "mg/L", is_lot=False, opened=None, label="Bench meter BM-2")
# Rows of potassium chloride, 0.01 mol/kg: Pratt 2001 as in tables/kcl_conductivity.csv.
KCL = make_standard(
    "K", "conductivity solution", "1408", "µS/cm",
    table=table_from_rows(
        code="kcl", name="KCl 0.01", rows=[("10", "1013.95"), ("15", "1141.45"), ("20", "1273.03"), ("25", "1408.23")],
        source="Pratt 2001",
    ),
)  # fmt: skip
FORMAZIN = make_standard("F", "turbidity standard", "0.50", "NTU")
HIGH = make_standard("H", "turbidity standard", "20.0", "NTU")
BLOCK = make_standard(
    "B", "turbidity block", "0.52", "NTU",
    assigned=(Assigned(unit_key="asset-9", value=Fraction("0.48"), text="0.48", on=date(2026, 10, 1)),),
)  # fmt: skip
INFRARED = make_standard("N", "turbidity standard", "5.00", "FNU", kind_name="Beads, infrared")
MASS = make_standard("M", "turbidity standard", "0.50", "mg/L", kind_name="Kaolin")
LOWEST = make_standard("L", "turbidity standard", "0.05", "NTU")
PHOTOMETER = replace(METER, unit="%", label="Bench photometer BP-1")
LAMP = make_standard("U", "UV sensor", "0", "W/m²", is_lot=False, opened=None)
CYLINDER = make_standard("P", "column", "0", "mL", is_lot=False, opened=None)
THERMOMETER = make_standard(
    "T", "thermometer", "0", "°C", is_lot=False, opened=None,
    corrections=((Fraction(0), Fraction("-0.3")), (Fraction(20), Fraction("-0.3"))),
)  # fmt: skip
SEVEN = make_standard(
    "7", "buffer", "7.00", "pH",
    table=table_from_rows(
        code="seven", name="Buffer 7", rows=[("10", "7.06"), ("20", "7.02"), ("30", "6.99")], source="invented"
    ),
)  # fmt: skip
CHLORINE = make_standard("C", "chlorine standard", "1.00", "mg/L")

CASES = (
    MethodCase(
        method=conductivity.METHOD,
        good={"hold": "on", "standard": "K", "temperature": "20", "shown": "1268", "bubbles": "yes"},
        standards=(KCL,),
        settings={"compensation": "off"},
        failing={"shown": "1320"},
        catches={
            "no-compensation": known(settings={}),
            "outside-table": typed(temperature="27"),
            "outside-compensation": known(
                {"temperature": "15"}, settings={"compensation": "linear", "coefficient": "10"}
            ),
            "bubbles": typed(bubbles="no"),
            "unit-slip": typed(shown="1268", shown_unit="mS/cm"),
            "other-compensation": typed(shown="1431"),  # 1273.03 / (1 - 0.022 x 5) = 1430.4
            "far-from-process": known(settings={"compensation": "off", "working_value": "200"}),
            "missing-shown": typed(shown=""),
        },
    ),
    MethodCase(
        method=oxygen.METHOD,
        good={"hold": "on", "way": "air", "temperature": "15", "pressure": "700", "shown": "9.30"},
        settings={"height": "690"},
        failing={"shown": "9.70"},
        catches={
            "sea-level": typed(pressure="760"),
            "percent": typed(shown="38"),
            "percent-beside": typed(way="beside", shown="38", beside="38"),
            "percent-otherwise": typed(percent="93"),
            "too-little": typed(way="beside", shown="0.2", beside="0.2"),
            "old-cap": typed(cap="731"),
            "outside-pressure": typed(pressure="379"),
            "no-height": known(settings={}),
            "stale-zero": typed(zero="0.6", zero_minutes="2"),
            "salt": typed(salinity="35"),
            "outside-formula": typed(temperature="45"),
            "missing-pressure": known({"pressure": ""}, settings={}),
            "missing-beside": typed(way="beside"),
        },
    ),
    MethodCase(
        method=chlorine.METHOD,
        good={
            "hold": "on",
            "meter": "asset-1",
            "grab1_shown": "0.86",
            "grab1_bench": "1.00",
            "grab2_shown": "0.86",
            "grab2_bench": "1.00",
            "own_line": "yes",
            "lag": "yes",
            "flow": "yes",
        },
        standards=(METER,),
        settings={"species": "free", "low_range": "2"},
        failing={"grab1_shown": "0.80", "grab2_shown": "0.80"},
        catches={
            "pair": typed(grab2_bench="1.20"),
            "own_line": typed(own_line="no"),
            "lag": typed(lag="no"),
            "flow": typed(flow="no"),
            "flashing": typed(flashing="yes"),
            "low-range": typed(scale="low", grab1_bench="2.20", grab2_bench="2.20"),
            "minutes-1": typed(grab1_minutes="4"),
            "bleached-1": typed(grab1_bench="0.05", grab1_shown="1.80"),
            "second-grab": typed(grab2_shown="", grab2_bench=""),
            "cell": typed(clean_cell="no"),
            "no-blank": typed(blank="no"),
            "other-species": typed(bench_read="total"),
            "not-own-species": typed(free="0.60"),
            "combined": known({"total": "1.04"}, settings={"species": "free", "combined": "yes"}),
            "expired-reagent": typed(reagent_expires="2026-11-23"),
            "unread-reagent_expires": typed(reagent_expires="next year"),
            "expired-in-analyzer": typed(analyzer_expires="2026-10"),
            "low": typed(level="low"),
            "empty": typed(level="empty"),
            "wrong-way": known(
                {"grab1_shown": "0.82", "grab2_shown": "0.82"}, kind="as left", last={"error": Fraction("-0.14")}
            ),
            "gain-wrong-way": known(
                {"gain": "1.00", "new_gain": "0.90"}, kind="as left", last={"error": Fraction("-0.14")}
            ),
            "total-below-free": typed(total="0.80", free="1.00"),
            "adjusted-inside": known(kind="as left", last={"error": Fraction("-0.14")}),
        },
    ),  # fmt: skip
    MethodCase(
        method=turbidity.METHOD,
        good={"hold": "on", "way": "primary", "standard": "F", "shown": "0.54", "dirty": "0.06", "cleaned": "0.06"},
        standards=(FORMAZIN, HIGH, BLOCK, INFRARED, MASS, LOWEST),
        settings={"flow_low": "200", "flow_high": "750", "upper": "5.00"},
        failing={"shown": "0.56"},
        catches={
            "block-as-primary": typed(standard="B"),
            "block-unassigned": known({"way": "block", "standard": "B"}, unit_key="asset-3"),
            "old-assignment": known(
                {"way": "block", "standard": "B"}, unit_key="asset-9", settings={"last_primary": "2026-11-01"}
            ),
            "zero-not-proved": typed(standard="H", shown="20.1"),
            "block-as-primary-low": typed(standard="H", shown="20.1", low_standard="B", low_shown="0.50"),
            "block-unassigned-low": known(
                {"way": "block", "standard": "B", "low_standard": "B", "low_shown": "0.5"}, unit_key="asset-3"
            ),
            "old-assignment-low": known(
                {"way": "block", "standard": "B", "low_standard": "B", "low_shown": "0.5"},
                unit_key="asset-9",
                settings={"last_primary": "2026-11-01"},
            ),
            "primary-as-block": typed(way="block"),
            "half-low": typed(low_shown="0.5"),
            "half-fouling": typed(cleaned=""),
            "not-lower": typed(low_standard="H", low_shown="20.1"),
            "no-gain": typed(standard="L", shown="0.00"),
            "mixed-units": typed(standard="N", shown="5.00"),
            "mixed-units-low": typed(standard="H", shown="20.1", low_standard="N", low_shown="5.00"),
            "other-unit": typed(standard="M", shown="0.50"),
            "far-from-process": known({}, settings={"working_value": "5"}),
            "clipped-dirty": typed(dirty="5.00"),
            "bubbles": typed(rising="yes"),
            "dilution": typed(diluted="yes"),
            "vial": typed(vial="no"),
            "flow": typed(flow="900"),
            "clipped": typed(shown="5.00"),
            "cleaned-first": typed(dirty=""),
        },
    ),
    MethodCase(
        method=uv_transmittance.METHOD,
        good={
            "hold": "on",
            "meter": "asset-1",
            "read_as": "absorbance",
            "bench": "0.060",
            "path": "1",
            "shown": "88.0",
            "same": "yes",
        },
        standards=(PHOTOMETER,),
        failing={"shown": "90.0"},
        catches={
            "absorbance": typed(read_as="percent"),
            "percent": typed(bench="87.1"),
            "black": typed(bench="3.5"),
            "another-way": typed(bench="0.240"),
            "dark": typed(shown="0"),
            "over": typed(shown="100.5"),
            "blanked": typed(bench="0.000", shown="100"),
            "long-cell": typed(read_as="percent", bench="88", path="4"),
            "other-sample": typed(same="no"),
            "filtered": typed(filtered="filtered"),
        },
    ),  # fmt: skip
    MethodCase(
        method=uv_intensity.METHOD,
        good={
            "hold": "on",
            "duty": "110",
            "reference1_standard": "U",
            "reference1_shown": "100",
            "same_power": "yes",
            "wiped": "no",
            "hours": "5000",
        },
        standards=(LAMP,),
        failing={"duty": "121"},
        catches={
            "power": typed(same_power="no"),
            "wiped": typed(wiped="yes"),
            "dark-1": typed(reference1_shown="0"),
            "apart-2": typed(reference2_standard="U", reference2_shown="170"),
            "twice-2": typed(reference2_standard="U", reference2_shown="101"),
            "itself-1": known(unit_key="U"),
            "one-reference": typed(duty="125"),
            "hours": known({"hours": "12"}, last={"hours": Fraction(5000)}),
            "hours-go-on": known({"lamp_changed": "yes"}, last={"hours": Fraction(4000)}),
        },
    ),  # fmt: skip
    MethodCase(
        method=particle_counter.METHOD,
        good={"hold": "on", "column": "P", "volume": "104", "seconds": "60", "zero": "4"},
        standards=(CYLINDER,),
        settings={"rated_flow": "100", "coincidence": "10000"},
        failing={"volume": "106"},
        catches={
            "no-rated-flow": known(settings={}),
            "bubbles": typed(bubbles="yes"),
            "laser": typed(laser="no"),
            "coincidence": typed(counts="20000"),
            "zero-over": typed(counts="3"),
            "half-channel-1": typed(channel1_size="2"),
            "same-size-2": typed(channel1_size="2", channel1_counts="58", channel2_size="2.0", channel2_counts="21"),
            "rising-2": typed(channel1_size="2", channel1_counts="58", channel2_size="5", channel2_counts="59"),
            "minutes": typed(seconds="1"),
            "litres": typed(volume="0.104"),
            "unread-serviced": typed(serviced="last spring"),
            "service-to-come": typed(serviced="2027-11-01"),
            "service-over": typed(serviced="2025-06-01"),
            "missing-zero": typed(zero=""),
        },
    ),
    MethodCase(
        method=streaming_current.METHOD,
        good={
            "hold": "on",
            "before": "-12.0",
            "after": "-9.5",
            "step": "10",
            "minutes": "6",
            "cleaned": "no",
            "flow": "yes",
        },
        failing={"after": "-13.0"},
        catches={
            "flow": typed(flow="no"),
            "ph": typed(ph_moved="yes"),
            "at-once": typed(minutes="0"),
            "blind": typed(off="-12.0"),
            "carried": typed(cleaned="yes", why="no"),
            "no-reason": typed(set_point="-8.0"),
            "moved-or-not": typed(set_point="-8.0", why="no"),
            "no-set-point": typed(why="jar"),
            "wrong-way": typed(after="-13.0"),
        },
    ),  # fmt: skip
    MethodCase(
        method=bench_meter.METHOD,
        good={"way": "daily", "blank": "0.00", "point1_standard": "C", "point1_shown": "1.04"},
        standards=(CHLORINE, replace(BLOCK, id="B"), SEVEN),
        settings={"percent": "5", "blank_limit": "0.02"},
        failing={"point1_shown": "1.06"},
        catches={
            "levels": typed(way="primary"),
            "secondary-1": typed(way="primary", point1_standard="B"),
            "unassigned-1": typed(point1_standard="B"),
            "missing-blank": typed(blank=""),
            "no-temperature-1": typed(point1_standard="7", point1_shown="7.05"),
            "outside-table-1": typed(point1_standard="7", point1_shown="7.05", point1_temperature="31"),
            "mixed-units-2": typed(point2_standard="7", point2_shown="7.05", point2_temperature="10"),
            "cells": typed(cell_clean="no"),
        },
    ),
    MethodCase(
        method=temperature.METHOD,
        good={"hold": "on", "standard": "T", "point1_reference": "12.3", "point1_shown": "12.4", "steady": "yes"},
        standards=(THERMOMETER,),
        settings={"element": "pt100"},
        failing={"point1_shown": "12.6"},
        catches={
            "not-steady": typed(steady="no"),
            "not-deep": typed(immersed="no"),
            "below-ice-1": typed(point1_reference="12.3", point1_reference_unit="°F"),
            "alike": typed(point2_reference="15.1", point2_shown="15.1"),
            "beyond-1": typed(point1_reference="20.1"),
            "element-1": typed(point1_ohm="1047.9"),
            "correction": typed(),
        },
    ),
    MethodCase(
        method=comparison.METHOD,
        good={
            "hold": "on",
            "meter": "asset-1",
            "grab1_shown": "0.72",
            "grab1_bench": "0.70",
            "grab2_shown": "0.72",
            "grab2_bench": "0.71",
            "own_line": "yes",
        },
        standards=(METER,),
        failing={"grab1_shown": "0.80", "grab2_shown": "0.80"},
        catches={
            "second-grab": typed(grab2_bench="", grab2_shown=""),
            "apart": typed(grab2_bench="0.90"),
            "wrong-way": known(
                {"grab1_shown": "0.76", "grab2_shown": "0.76"}, kind="as left", last={"error": Fraction(100, 47)}
            ),
            "other-tap": typed(own_line="no"),
            "nothing": typed(grab1_bench="0", grab2_bench="0"),
        },
    ),  # fmt: skip
)
