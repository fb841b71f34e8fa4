"""What people read at each instrument: figures as typed, so made that the errors are those the story asks for."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import TypeAlias

from calibration.compute.methods.orp import reference_at
from calibration.models import Lot
from calibration.reads.standards import lot_in_use
from spanwell.demo.plant import Plant
from spanwell.demo.probes import typed
from spanwell.demo.references import reference_key
from spanwell.demo.shelf import DILUTIONS, jar_in_use, jar_lot

Fields: TypeAlias = dict[str, str]
Read: TypeAlias = Callable[[Plant, int], Fields]
"""What is typed at a turn of a round; turn 0 is the first of the half-year that is told in figures, earlier ones are
negative and made up around the usual value."""

ELECTRODE = "agcl-3.5"
PERCENT_A_DEGREE = "2.0"

# Errors in the redox solution, mV. The first eleven are the baseline; the last one lies outside its limits and far
# inside ±15 mV.
REDOX = ("-1.0", "0.5", "-2.0", "-0.4", "1.2", "-1.5", "0.3", "-1.1", "1.4", "-0.6", "-1.6", "-0.2", "8.5")
# Errors in the conductivity solution, %. The two of the withdrawn lot stand out together.
CONDUCTIVITY = ("0.4", "0.7", "0.5", "0.9", "-1.6", "-1.4", "0.8", "1.0")
# Pairs of analyzer and grab, mg/L; the fifth fails.
CHLORINE = (
    (("0.84", "0.82"), ("0.85", "0.84")),
    (("0.80", "0.82"), ("0.81", "0.82")),
    (("0.88", "0.85"), ("0.87", "0.85")),
    (("0.86", "0.80"), ("0.86", "0.81")),
    (("0.99", "0.81"), ("0.98", "0.80")),
    (("0.83", "0.84"), ("0.84", "0.84")),
    (("0.86", "0.84"), ("0.85", "0.82")),
)
CHLORINE_AS_LEFT = (("0.82", "0.81"), ("0.81", "0.80"))
# Block on the turbidity meter, NTU, and what it showed on the water before and after cleaning.
TURBIDITY = (
    ("5.06", "0.07", "0.06"),
    ("0.49", "0.08", "0.06"),
    ("0.50", "0.07", "0.07"),
    ("0.49", "0.09", "0.07"),
    ("0.50", "0.08", "0.07"),
    ("0.51", "0.07", "0.06"),
    ("5.11", "0.09", "0.07"),
    ("0.51", "0.08", "0.07"),
    ("0.50", "0.07", "0.06"),
    ("0.52", "0.08", "0.06"),
    ("0.51", "0.08", "0.07"),
    ("0.53", "0.08", "0.07"),
    ("0.52", "0.08", "0.06"),
)
# Errors of the filtered water meter, % of the portable one: it drifts.
FLOW = ("0.3", "0.6", "1.0", "1.2", "1.6", "1.9")
# What the column of the feed pump falls to in a minute from 500 mL, three runs.
DRAWDOWN = (
    ("460.0", "460.5", "460.0"),
    ("460.5", "460.5", "461.0"),
    ("461.0", "460.5", "460.5"),
    ("461.0", "461.5", "461.0"),
    ("461.0", "461.0", "461.5"),
    ("461.5", "462.0", "461.5"),
    ("462.5", "462.5", "463.0"),
)
GAS_SHOWN = ("4.9", "4.8", "4.8", "4.7", "4.7", "4.9", "4.8")
GAS_CALIBRATED = 5
"""The gas detector is calibrated at each fifth turn; the others are bumps."""

COLOUR_SHOWN = ("1.01", "1.02", "1.01", "1.00", "1.02", "1.02", "1.03")
PRESSURE = (
    ("0.4", "250.6", "500.6", "750.4", "1000.8", "501.2", "0.6"),
    ("0.8", "251.2", "501.4", "751.4", "1001.6", "502.0", "1.0"),
)
LEVELS = (("2.62", "2.63", "5.05", "5.06"), ("2.55", "2.57", "4.98", "5.00"), ("2.70", "2.73", "5.10", "5.12"))


def wandered(of: str, turn: int, usual: float, stray: float, places: int) -> str:
    """A figure as typed that strays around the usual one, the same each time it is asked for."""
    chance = random.Random(f"{of} {turn}")  # noqa: S311 - an invented figure, no secret
    return typed(usual + chance.uniform(-stray, stray), places)


def _told(table: tuple[str, ...], of: str, turn: int, usual: float, stray: float) -> str:
    places = len(table[0].partition(".")[2])
    return table[turn] if turn >= 0 else wandered(of, turn, usual, stray, places)


def _true_at(lot: Lot, celsius: str) -> Fraction:
    standard = lot_in_use(lot)
    assert standard is not None
    return standard.at(Fraction(celsius))


def redox(plant: Plant, turn: int) -> Fields:
    """Read the redox probe in the solution."""
    lot = jar_in_use(plant, "zobell")
    celsius = f"{19 + turn % 4}.{turn % 3}"
    electrode = reference_at(ELECTRODE, Fraction(celsius))
    assert electrode is not None
    error = _told(REDOX, "redox", turn, 0.2, 1.8)
    shown = _true_at(lot, celsius) - electrode + Fraction(error)
    return {"standard": str(lot.pk), "temperature": celsius, "shown": typed(float(shown), 1), "minutes": "2"}


def conductivity(plant: Plant, turn: int) -> Fields:
    """Read the conductivity cell in the solution and dry; the display is brought to 25 degC."""
    lot = jar_in_use(plant, "kcl")
    celsius = f"{20 + turn % 3}.{(3 * turn) % 7}"
    factor = 1 + Fraction(PERCENT_A_DEGREE) / 100 * (Fraction(celsius) - 25)
    error = _told(CONDUCTIVITY, "conductivity", turn, 0.5, 0.4)
    shown = _true_at(lot, celsius) / factor * (1 + Fraction(error) / 100)
    return {
        "standard": str(lot.pk),
        "temperature": celsius,
        "shown": typed(float(shown), 0),
        "shown_temperature": typed(float(Fraction(celsius)) + 0.1, 1),
        "dry": "0.2",
        "bubbles": "yes",
    }


def _grabs(plant: Plant, pairs: tuple[tuple[str, str], ...]) -> Fields:
    fields = {
        "meter": reference_key(plant, "B-1120"),
        "own_line": "yes",
        "lag": "yes",
        "flow": "yes",
        "blank": "yes",
        "clean_cell": "yes",
    }
    for number, (shown, bench) in enumerate(pairs, 1):
        fields |= {f"grab{number}_shown": shown, f"grab{number}_bench": bench, f"grab{number}_minutes": "1"}
    return fields


def chlorine(plant: Plant, turn: int) -> Fields:
    """Read the analyzer beside two grabs from its own line."""
    if turn >= 0:
        return _grabs(plant, CHLORINE[turn])
    bench = [wandered("grab", 2 * turn + n, 0.83, 0.03, 2) for n in (0, 1)]
    shown = [typed(float(one) + float(wandered("analyzer", turn, 0.005, 0.02, 3)), 2) for one in bench]
    return _grabs(plant, ((shown[0], bench[0]), (shown[1], bench[1])))


def chlorine_as_left(plant: Plant) -> Fields:
    """Read the analyzer again after it was adjusted."""
    return _grabs(plant, CHLORINE_AS_LEFT)


def turbidity(plant: Plant, turn: int) -> Fields:
    """Read the turbidity meter in its block, at two turns in diluted formazin and in a low standard."""
    number = DILUTIONS.get(plant.days_back)
    usual = ("5.05", 0.05) if number else ("0.50", 0.012)
    older = (wandered("block", turn, float(usual[0]), usual[1], 2), "0.08", wandered("vial", turn, 0.065, 0.005, 2))
    shown, dirty, cleaned = TURBIDITY[turn] if turn >= 0 else older
    fields = {"shown": shown, "dirty": dirty, "cleaned": cleaned, "vial": "yes", "flow": "500"}
    if number is None:
        return fields | {"way": "block", "standard": str(jar_lot(plant, "block").pk)}
    return fields | {
        "way": "primary",
        "standard": str(jar_lot(plant, number).pk),
        "low_standard": str(jar_in_use(plant, "low").pk),
        "low_shown": "0.51",
    }


def flow(plant: Plant, turn: int) -> Fields:
    """Read the meter in L/s beside the portable one in m3/h at two flows."""
    fields = {"standard": reference_key(plant, "PF-0088"), "same_water": "yes", "straight": "yes", "direction": "yes"}
    error = 1 + Fraction(_told(FLOW, "flow", turn, 0.2, 0.2)) / 100
    # The portable meter's certificate adds this at these two flows.
    for number, (where, read, adds) in enumerate((("mid", "140.0", "0.38"), ("min", "72.0", "0.244")), 1):
        shown = (Fraction(read) + Fraction(adds)) / Fraction("3.6") * error
        fields |= {
            f"point{number}_where": where,
            f"point{number}_reference": read,
            f"point{number}_shown": typed(float(shown), 2),
            f"point{number}_shown_unit": "L/s",
        }
    return fields


def tank_volume(plant: Plant, turn: int) -> Fields:
    """Fill the measured tank for an hour with all else shut."""
    return {
        "tank": reference_key(plant, "TK-0015"),
        "way": "up",
        "first": "2.900",
        "last": "3.900",
        "seconds": "3600",
        "indicated": "39.5",
        "indicated_unit": "L/s",
        "shut": "yes",
        "leak": "0.001",
        "full": "yes",
        "total_first": "184210.0",
        "total_last": "184352.0",
        "zero": "0",
    }


def level(plant: Plant, turn: int) -> Fields:
    """Let a tape down at two levels of the tank."""
    low, low_shown, high, high_shown = LEVELS[turn % len(LEVELS)]
    fields = {"way": "level", "foam": "no", "floats": "yes"}
    for number, (tape, shown) in enumerate(((low, low_shown), (high, high_shown)), 1):
        again = typed(float(tape) + 0.004, 3)
        fields |= {f"point{number}_tape": tape, f"point{number}_again": again, f"point{number}_shown": shown}
    return fields


def loop(plant: Plant, turn: int) -> Fields:
    """Inject currents into the loop of the level and read PLC and HMI."""
    fields = {"standard": reference_key(plant, "CS-0331"), "opened": "alarm", "clamped": "no", "supply": "24.1"}
    faces = (("4", "0.00", "0.00"), ("8", "1.50", "1.51"), ("12", "3.00", "3.01"), ("16", "4.51", "4.51"))
    for number, (current, plc, hmi) in enumerate((*faces, ("20", "6.01", "6.02")), 1):
        fields |= {f"point{number}_current": current, f"point{number}_plc": plc, f"point{number}_hmi": hmi}
    return fields


def pressure(plant: Plant, turn: int) -> Fields:
    """Press the transmitter up and down beside the reference gauge."""
    fields = {"standard": reference_key(plant, "RG-0210"), "vented": "yes", "snubber": "yes"}
    ways = (("up", "0"), ("up", "250"), ("up", "500"), ("up", "750"), ("up", "1000"), ("down", "500"), ("down", "0"))
    for number, ((way, read), shown) in enumerate(zip(ways, PRESSURE[max(turn, 0)], strict=True), 1):
        fields |= {f"point{number}_way": way, f"point{number}_reference": read, f"point{number}_shown": shown}
    return fields


def temperature(plant: Plant, turn: int) -> Fields:
    """Hold both thermometers into one bucket."""
    read, shown = (("11.42", "11.5"), ("14.86", "15.0"))[turn % 2]
    return {
        "standard": reference_key(plant, "RT-0055"),
        "point1_reference": read,
        "point1_shown": shown,
        "steady": "yes",
        "immersed": "yes",
    }


def transmittance(plant: Plant, turn: int) -> Fields:
    """Read a sample on the bench as absorbance while the analyzer sees the same water."""
    bench, shown = (("0.058", "87.9"), ("0.066", "86.4"), ("0.061", "87.6"))[turn % 3]
    return {
        "meter": reference_key(plant, "B-1302"),
        "read_as": "absorbance",
        "bench": bench,
        "path": "1",
        "shown": shown,
        "filtered": "as is",
        "same": "yes",
    }


def drawdown(plant: Plant, turn: int) -> Fields:
    """Draw three runs from the column, commanded 40 mL a minute."""
    fields = {"setting": "40", "commanded": "40.0", "pressure": "yes", "off_run": "0"}
    lasts = DRAWDOWN[turn] if turn >= 0 else [wandered("column", 3 * turn + n, 460.2, 0.6, 1) for n in range(3)]
    for number, last in enumerate(lasts, 1):
        fields |= {f"run{number}_first": "500.0", f"run{number}_last": last, f"run{number}_seconds": "60"}
    return fields


def gas(plant: Plant, turn: int) -> Fields:
    """Give the detector gas: a bump, at each fifth turn a calibration with zero."""
    fields = {
        "way": "calibration" if turn % GAS_CALIBRATED == 0 else "bump",
        "gas": str(jar_in_use(plant, "gas").pk),
        "clean_air": "yes",
        "shown": _told(GAS_SHOWN, "gas", turn, 4.85, 0.1),
        "seconds": str(24 + turn % 8),
        "horn": "yes",
        "fan": "yes",
        "regulator": "yes",
    }
    return fields | ({"zero": "0.0"} if turn % GAS_CALIBRATED == 0 else {})


def colour(plant: Plant, turn: int) -> Fields:
    """Read the blank and the sealed colour cell on the bench chlorine meter."""
    return {
        "way": "daily",
        "blank": "0.00",
        "point1_standard": str(jar_lot(plant, "colour").pk),
        "point1_shown": COLOUR_SHOWN[turn],
        "cell_clean": "yes",
    }


ANSWERS: Mapping[str, Mapping[str, Mapping[str, str]]] = {
    "gas-detector": {"other-gas": {"choice": "same", "reason": "chlorine stands on the bottle", "asked": ""}},
}
"""What is asked at each turn of a method, and the answer."""
