"""Good sets and mistakes at flow, level, pressure, signals, pumps, trips and detectors."""

from __future__ import annotations

from fractions import Fraction

from calibration.compute.methods import (
    current_loop,
    differential_pressure,
    feed_pump,
    flow_comparison,
    flow_volume,
    gas_detector,
    level,
    membrane_integrity,
    pressure,
    running_meter,
    trip_test,
    weigh_scale,
)
from tests.calibration.compute.methods.cases import MethodCase, known, typed
from tests.calibration.compute.methods.conftest import make_standard

TANK = make_standard("asset-2", "tank", "50", "m²", is_lot=False, opened=None)
FLOW = make_standard("asset-3", "flow meter", "0", "m³/h", is_lot=False, opened=None)
GAUGE = make_standard(
    "asset-4", "gauge", "0", "kPa", is_lot=False, opened=None, uncertainty=Fraction("0.2"), k=Fraction(2)
)
SOURCE = make_standard("asset-5", "source", "0", "mA", is_lot=False, opened=None)
MASSES = make_standard("asset-6", "mass", "20", "kg", is_lot=False, opened=None)
GAS = make_standard("G", "gas", "5.0", "ppm", label="chlorine 26-G")
PRESSED = {
    f"point{number}_{name}": text
    for number, (way, reference, shown) in enumerate(
        (("up", "0", "0.5"), ("up", "500", "501"), ("up", "1000", "1001"), ("down", "500", "502"), ("down", "0", "1")),
        1,
    )
    for name, text in (("way", way), ("reference", reference), ("shown", shown))
}
INJECTED = {
    f"point{number}_{name}": text
    for number, (current, shown) in enumerate((("4", "0.0"), ("12", "5.01"), ("20", "10.0")), 1)
    for name, text in (("current", current), ("hmi", shown))
}
RUNS = {
    f"run{number}_{name}": text
    for number, last in enumerate(("405", "404", "406"), 1)
    for name, text in (("first", "500"), ("last", last), ("seconds", "60"))
}

CASES = (
    MethodCase(
        method=flow_volume.METHOD,
        good={
            "hold": "on",
            "tank": "asset-2",
            "way": "down",
            "first": "4.000",
            "last": "3.000",
            "seconds": "3600",
            "indicated": "50.5",
            "shut": "yes",
            "leak": "0",
        },
        standards=(TANK,),
        settings={"level_step": "0.002"},
        failing={"indicated": "52"},
        catches={
            "shut": typed(shut="no"),
            "way": typed(last="4.500"),
            "full": typed(full="no"),
            "constant": typed(steady_constant="yes"),
            "no-area": known({"tank": ""}, settings={}),
            "short": typed(last="3.980"),
            "damped": typed(damping="600"),
            "unit": typed(indicated="13.9"),
            "leak": typed(leak="1.1"),
            "one-volume": typed(volume_first="300"),
            "volume": typed(volume_first="200", volume_last="250"),
            "table": typed(volume_first="250", volume_last="190"),
            "direction": typed(direction="no"),
            "unit-total": typed(total_first="1000", total_last="1500"),
            "one-total": typed(total_first="1000"),
            "total-down": typed(total_first="1050", total_last="1000"),
        },
    ),  # fmt: skip
    MethodCase(
        method=flow_comparison.METHOD,
        good={
            "hold": "on",
            "standard": "asset-3",
            "same_water": "yes",
            "point1_where": "mid",
            "point1_reference": "40.0",
            "point1_shown": "41.0",
            "point2_where": "min",
            "point2_reference": "10.0",
            "point2_shown": "10.4",
        },
        standards=(FLOW,),
        failing={"point1_shown": "41.3"},
        catches={
            "same_water": typed(same_water="no"),
            "self_check": typed(self_check="yes"),
            "direction": typed(direction="no"),
            "bends": typed(straight="no"),
            "same-place": typed(point2_where="mid"),
            "no-flow": typed(point1_reference="0"),
            "no-usual": typed(point1_where="max", point1_reference="80.0", point1_shown="81.0"),
            "wrong-place": typed(point1_reference="9.0", point1_shown="9.1"),
            "forced": known({"hmi": "41.0"}, forced=("forced to 40",)),
        },
    ),  # fmt: skip
    MethodCase(
        method=level.METHOD,
        good={
            "hold": "on",
            "way": "level",
            "point1_tape": "1.502",
            "point1_again": "1.504",
            "point1_shown": "1.510",
            "point2_tape": "4.010",
            "point2_again": "4.010",
            "point2_shown": "4.020",
        },
        settings={"span": "6", "mark": "6.5"},
        failing={"point1_shown": "1.534"},
        catches={
            "no-mark": known({"way": "ullage"}, settings={"span": "6"}),
            "tape-1": typed(point1_again="1.550"),
            "exchanged": typed(point1_tape="5.000", point1_again="5.000"),
            "near": typed(point2_tape="1.60", point2_again="1.60", point2_shown="1.60"),
            "no-span": known(settings={"mark": "6.5"}),
            "datum": typed(point1_shown="1.803", point2_shown="4.31"),
            "density": known(settings={"span": "6", "density": "1000", "liquid": "1330"}),
            "foam": typed(foam="yes"),
        },
    ),  # fmt: skip
    MethodCase(
        method=pressure.METHOD,
        good={"hold": "on", "standard": "asset-4", "vented": "yes", **PRESSED},
        standards=(GAUGE,),
        settings={"span": "1000"},
        failing={"point2_shown": "506"},
        catches={
            "vented": typed(vented="no"),
            "no-span": known(settings={}),
            "coarse": known(settings={"span": "1000", "class": "0.05"}),
            "absolute": typed(
                point1_shown="101", point2_shown="601", point3_shown="1101", point4_shown="602", point5_shown="101"
            ),
            "snubber": typed(snubber="no"),
            "narrow": typed(point3_reference="700", point3_shown="700"),
            "one-way": typed(point4_way="up", point5_way="up"),
        },
    ),
    MethodCase(
        method=differential_pressure.METHOD,
        good={
            "hold": "on",
            "standard": "asset-4",
            "way": "one",
            "zero": "0.1",
            "point1_reference": "50",
            "point1_shown": "50.2",
            "flow": "100",
            "across": "20",
        },
        standards=(GAUGE,),
        settings={"span": "100", "reference_flow": "100", "clean": "12"},
        failing={"point1_shown": "50.6"},
        catches={
            "no-span": known(settings={}),
            "two-gauges": typed(way="two"),
            "no-flow": typed(flow="0", across="0"),
            "nought": typed(across="0"),
            "root-twice": typed(root_at="transmitter", root_too="yes"),
            "root-where": typed(root_at="none", root_too="yes"),
            "root-second": typed(root_at="plc"),
            "rooted": typed(point1_shown="70.7"),
            "half": typed(flow=""),
            "no-clean": known(settings={"span": "100"}),
            "narrow": typed(point1_reference="49.9", point1_shown="50"),
            "dirty": typed(across="46.474"),
        },
    ),  # fmt: skip
    MethodCase(
        method=weigh_scale.METHOD,
        good={
            "hold": "on",
            "standard": "asset-6",
            "zero": "0.1",
            "load1_mass": "68.0",
            "load1_shown": "67.6",
            "free": "yes",
        },
        standards=(MASSES,),
        settings={"capacity": "150"},
        failing={"load1_shown": "67.2"},
        catches={
            "no-masses": typed(standard=""),
            "light": typed(load1_mass="49.9", load1_shown="49.9"),
            "held": typed(free="no"),
            "no-capacity": known(settings={}),
            "pounds": typed(load1_shown="149.9"),
            "gross": typed(tare="gross"),
            "container": typed(container="other"),
        },
    ),
    MethodCase(
        method=membrane_integrity.METHOD,
        good={"start": "100.0", "end": "97.6", "minutes": "5", "shut": "yes", "off_line": "yes"},
        settings={
            "removal": "4",
            "flow": "360",
            "ratio": "40",
            "air": "101.3",
            "volume": "180",
            "factor": "1.5",
            "least_start": "95",
            "least_minutes": "5",
        },
        failing={"end": "97.0"},
        catches={
            "no-constants": known(settings={}),
            "low-start": typed(start="90", end="88"),
            "short": typed(minutes="2"),
            "valves": typed(shut="no"),
            "rose": typed(end="101"),
            "still": typed(end="100.0"),
            "volume": typed(drained="120"),
            "on-line": typed(off_line="no"),
        },
    ),  # fmt: skip
    MethodCase(
        method=current_loop.METHOD,
        good={"hold": "on", "standard": "asset-5", "opened": "alarm", **INJECTED},
        standards=(SOURCE,),
        settings={"lower": "0", "upper": "10"},
        failing={"point2_hmi": "5.06"},
        catches={
            "no-range": known(settings={}),
            "scale-hmi": known(settings={"lower": "0", "upper": "10", "hmi_lower": "0", "hmi_upper": "12"}),
            "silent": known({"opened": "not"}, uses=("paces P-51",)),
            "not-tried": typed(opened="not"),
            "narrow": typed(point2_current="4.2", point2_hmi="0.12"),
            "clamped": typed(clamped="yes"),
            "zero-based": typed(point1_hmi="2.0"),
        },
    ),
    MethodCase(
        method=feed_pump.METHOD,
        good={"setting": "40", "commanded": "100", "pressure": "yes", "off_run": "0", **RUNS},
        settings={"fades": "yes"},
        failing={"commanded": "106"},
        catches={
            "spread": typed(run1_last="420"),
            "rose-1": typed(run1_last="520"),
            "air": typed(run1_last="500", run2_last="500", run3_last="500"),
            "pressure": typed(pressure="no"),
            "set-nought": typed(setting="0"),
            "siphon": typed(off_run="4"),
            "basis": typed(strength="12.5"),
            "gravity": typed(strength="12.5", basis="wt"),
            "aged": typed(strength="12.5", basis="trade", measured_on="2026-08-01"),
            "fades": known({"strength": "12.5", "basis": "trade"}, settings={}),
            "measured-on": typed(strength="12.5", basis="trade", measured_on="last week"),
            "forced": typed(water="1000", substituted="yes"),
        },
    ),
    MethodCase(
        method=running_meter.METHOD,
        good={"way": "hours", "first": "1204.0", "last": "1205.0", "true": "1.005", "running": "yes"},
        failing={"true": "1.02"},
        catches={
            "down": typed(last="1203.0"),
            "no-modulus": typed(rolled="yes", last="0.5"),
            "not-rolled": known({"rolled": "yes"}, settings={"modulus": "100000"}),
            "tenths": typed(last="1214.0"),
            "stood": typed(running="no"),
            "power": typed(power_only="yes"),
        },
    ),
    MethodCase(
        method=trip_test.METHOD,
        good={
            "how": "process",
            "set_point": "720",
            "tripped": "724",
            "delay": "2",
            "acted": "yes",
            "alarmed": "yes",
            "restored": "yes",
            "in_auto": "yes",
        },
        settings={"approved": "720", "span": "1000", "longest_delay": "5"},
        failing={"acted": "no"},
        catches={
            "no-approved": known(settings={}),
            "other": typed(set_point="740"),
            "button": typed(how="button"),
            "software": typed(how="software"),
            "hand": typed(in_auto="no"),
            "shelved": typed(shelved="yes"),
            "changed": typed(changed="yes"),
            "restored": typed(restored="no"),
            "same-reset": typed(reset="724"),
        },
    ),  # fmt: skip
    MethodCase(
        method=gas_detector.METHOD,
        good={
            "hold": "on",
            "way": "calibration",
            "gas": "G",
            "zero": "0.0",
            "clean_air": "yes",
            "shown": "4.6",
            "horn": "yes",
            "regulator": "yes",
        },
        standards=(GAS,),
        settings={"target": "chlorine", "longest": "60"},
        failing={"shown": "4.4"},
        catches={
            "clean-air": typed(clean_air="no"),
            "regulator": typed(regulator="no"),
            "bump": known({"way": "bump"}, kind="as left"),
            "other-gas": known(settings={"target": "ammonia"}),
            "sleeping": typed(shown="1.8"),
            "no-gas": typed(other_gas="0", shown="0"),
            "no-time": typed(way="bump"),
            "no-target": known(settings={}),
            "old": typed(age="1096"),
        },
    ),  # fmt: skip
)
