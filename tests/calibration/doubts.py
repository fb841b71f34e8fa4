"""Every doubt about a pH check that a record shows: an input that raises it, and a neighbour that does not."""

from __future__ import annotations

# Each row: what is changed in the cold check (12.5 degC, process 11.0), the field where the sentence stands, words of
# the sentence, and a neighbouring good input that is not spoken to.
CATCHES: list[tuple[str, dict[str, str], str, str, dict[str, str]]] = [
    ("minus sign lost", {"point2_mv": "178.6"}, "point1_mv", "look swapped", {"point2_mv": "-178.6"}),
    ("same cup twice or cracked glass", {"point2_mv": "-5.0"}, "point2_mv", "cracked glass", {"point2_mv": "-60"}),
    (
        "display stands still",
        {"point1_mv": "", "point2_mv": "", "point2_shown": "7.10"},
        "point2_shown",
        "nearly the same",
        {"point1_mv": "", "point2_mv": "", "point2_shown": "8.00"},
    ),
    (
        "display falls",
        {"point1_mv": "", "point2_mv": "", "point1_shown": "10.15", "point2_shown": "7.08"},
        "point1_shown",
        "falls where pH rises",
        {"point1_mv": "", "point2_mv": ""},
    ),
    (
        "no temperature",
        {"point2_temperature": ""},
        "point2_temperature",
        "no temperature is written",
        {"point2_temperature": "12.6"},
    ),
    (
        "25.0 in every buffer",
        {"point1_temperature": "25.0", "point2_temperature": "25.0", "process_temperature": "20"},
        "point1_temperature",
        "when nobody measures",
        {"point1_temperature": "25.0", "point2_temperature": "24.9", "process_temperature": "20"},
    ),
    ("degrees Fahrenheit", {"point1_temperature": "54.5"}, "point1_temperature", "°F", {"point1_temperature": "12.5"}),
    (
        "outside the table",
        {"point1_temperature": "99"},
        "point1_temperature",
        "outside the table",
        {"point1_temperature": "12.5"},
    ),
    (
        "buffers apart in temperature",
        {"point2_temperature": "15.0"},
        "point2_temperature",
        "2.5 °C apart",
        {"point2_temperature": "14.5"},
    ),
    (
        "buffer and process apart",
        {"process_temperature": "1.0"},
        "point1_temperature",
        "more than 10 °C apart",
        {"process_temperature": "2.5"},
    ),
    (
        "not around the process",
        {"process_shown": "6.20"},
        "process_shown",
        "lies below all buffers",
        {"process_shown": "7.40"},
    ),
    ("not steady", {"point1_steady": "no"}, "point1_steady", "did not stand still", {"point1_steady": "yes"}),
    ("6.86 against 7.00", {"point1_shown": "6.92"}, "point1_lot", "the 6.86 buffer is worth", {"point1_shown": "7.00"}),
    (
        "one point as two",
        {"point2_temperature": "", "point2_mv": "", "point2_shown": "", "point2_seconds": "", "point2_steady": ""},
        "point2_shown",
        "no two-point check",
        {},
    ),
    ("millivolts in one buffer only", {"point2_mv": ""}, "point2_mv", "in every buffer, or in none", {}),
    ("unreadable", {"point1_shown": "7.0.8"}, "point1_shown", "is not a number", {"point1_shown": "7,08"}),
    (
        "thousands or decimals",
        {"point1_seconds": "1,234"},
        "point1_seconds",
        "can mean two numbers",
        {"point1_seconds": "1234"},
    ),
    (
        "no instrument shows this",
        {"point1_shown": "70.8"},
        "point1_shown",
        "outside what such an instrument shows",
        {"point1_shown": "7.08"},
    ),
    (
        "millivolts beyond the instrument",
        {"point2_mv": "-1786"},
        "point2_mv",
        "outside what such an instrument shows",
        {},
    ),
    ("time of the hold", {"hold_on_at": "25:10"}, "hold_on_at", "no time of day", {"hold_on_at": "06:10"}),
    ("day of the hold", {"hold_on_at": "2026-11-31 06:10"}, "hold_on_at", "no time of day", {"hold_on_at": "06:10"}),
    ("hold ends before it begins", {"hold_off_at": "06:10"}, "hold_off_at", "before it was put on", {}),
    (
        "hold over midnight",
        {"hold_on_at": "23:40"},
        "hold_on_at",
        "has not come yet",
        {"hold_on_at": "2026-11-24 23:40"},
    ),
    ("hold taken off in time to come", {"hold_off_at": "23:59"}, "hold_off_at", "has not come yet", {}),
    ("hold taken off but never on", {"hold": "off"}, "hold", "Say that it was on hold", {}),
]


AS_LEFT_CATCHES: list[tuple[str, dict[str, str], str, str, dict[str, str]]] = [
    (
        "all as left equal to the label",
        {"point1_shown": "7.00", "point2_shown": "10.01"},
        "point1_shown",
        "exactly the label",
        {"point1_shown": "7.05", "point2_shown": "10.15"},
    ),
    (
        "mV/pH in the % box",
        {"own_slope": "57.2", "own_slope_unit": "%"},
        "own_slope_unit",
        "looks like",
        {"own_slope": "97.2", "own_slope_unit": "%"},
    ),
    (
        "% in the mV/pH box",
        {"own_slope": "97.2", "own_slope_unit": "mV/pH"},
        "own_slope_unit",
        "looks like",
        {"own_slope": "57.2", "own_slope_unit": "mV/pH"},
    ),
    (
        "factory reset",
        {"own_slope": "100.0", "own_slope_unit": "%", "own_zero": "0.0", "own_zero_unit": "mV"},
        "own_slope",
        "when it comes from the factory",
        {"own_slope": "99.9", "own_slope_unit": "%", "own_zero": "0.0", "own_zero_unit": "mV"},
    ),
]
