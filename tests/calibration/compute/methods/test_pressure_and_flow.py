"""Pressure, flow, level and mass at their limits, and a published five-point table through the whole of a check."""

from __future__ import annotations

import json
from collections.abc import Mapping
from fractions import Fraction

import pytest

from tests.calibration.compute.methods.conftest import Checked, caught
from tests.calibration.compute.methods.test_catches import BY_METHOD, judged
from tests.published import Reproduced, of_row, rows

FILE = "worked/plant_figures.csv"
ROWS = {row["id"]: row for row in rows(FILE)}

EDGES = (
    ("flow-volume", {"indicated": "51.5"}, {"indicated": "51.500001"}),
    ("flow-volume", {"indicated": "48.5"}, {"indicated": "48.499999"}),
    ("flow-comparison", {"point1_shown": "41.2"}, {"point1_shown": "41.200001"}),
    ("flow-comparison", {"point2_shown": "10.5"}, {"point2_shown": "10.500001"}),
    ("level", {"point1_shown": "1.533"}, {"point1_shown": "1.533001"}),
    ("pressure", {"point2_shown": "505"}, {"point2_shown": "505.000001"}),
    ("differential-pressure", {"point1_shown": "50.5"}, {"point1_shown": "50.500001"}),
    ("weigh-scale", {"load1_shown": "67.25"}, {"load1_shown": "67.249999"}),
)


@pytest.mark.parametrize(("code", "at", "beyond"), EDGES)
def test_the_limit_itself_passes_and_a_millionth_more_fails(
    checked: Checked, code: str, at: Mapping[str, str], beyond: Mapping[str, str]
) -> None:
    assert judged(checked, BY_METHOD[code], at, {}).verdict == "pass"
    assert judged(checked, BY_METHOD[code], beyond, {}).would_be == "fail"


def test_a_published_five_point_table_through_the_check(checked: Checked, reproduced: Reproduced) -> None:
    """Output in mA read as a display of 0 to 100 kPa: 0.16 mA are one kPa."""
    case, given = BY_METHOD["pressure"], json.loads(ROWS["T04"]["inputs"])
    typed = dict.fromkeys((name for name in case.good if name.startswith("point")), "")
    runs = [("up", given["up_mA"]), ("down", given["down_mA"])]
    read = [(way, p, mA) for way, run in runs for p, mA in zip(given["input_psi"], run, strict=True)]
    for count, (way, pressure, current) in enumerate(read, 1):
        display = (Fraction(str(current)) - 4) * Fraction("6.25")
        typed |= {f"point{count}_way": way, f"point{count}_reference": str(pressure)}
        typed |= {f"point{count}_shown": f"{float(display):.4f}"}
    worked = judged(checked, case, typed, {"settings": {"span": "100"}}).worked
    got = {
        "T04": max(abs(one.value) for one in worked.judged),
        "T05": worked.figure("hysteresis"),
        "T06": worked.figure("non_linearity"),
    }
    for key, value in got.items():
        row = ROWS[key]
        reproduced(value, of_row(FILE, row, key="id", value="expected", tolerance=row["tolerance"]))


def test_a_scale_off_by_0_4_kg_is_off_in_two_ways(checked: Checked) -> None:
    """67.6 on 68.0 kg is -0.59 % of the load and -0.27 % of a capacity of 150 kg: worked by hand."""
    worked = judged(checked, BY_METHOD["weigh-scale"], {}, {}).worked
    assert round(float(worked.figure("of_load_1")), 2) == -0.59
    assert round(float(worked.figure("error_1")), 2) == -0.27


def test_a_reference_above_the_gauge_has_the_head_put_back_by_a_line(checked: Checked) -> None:
    """1.8 m of water at 15 degC are 17.6 kPa (9.80 kPa/m)."""
    worked = judged(checked, BY_METHOD["pressure"], {"head": "1.8"}, {}).worked
    assert worked.figure("true_2") == 500 + Fraction("17.64")
    assert "true_2" not in [one.name for one in judged(checked, BY_METHOD["pressure"], {}, {}).worked.figures]


def test_a_strainer_is_called_dirty_at_five_psi_over_clean_itself(checked: Checked) -> None:
    case = BY_METHOD["differential-pressure"]
    settings = {"reference_flow": "100", "span": "100", "clean": "0"}
    for across, said in (("5", True), ("4.999", False)):
        outcome = judged(checked, case, {"across": across, "across_unit": "psi"}, {"settings": settings})
        assert bool(caught(outcome, "dirty")) is said


def test_no_log_removal_is_asked_for_that_nobody_can_prove() -> None:
    removal = next(one for one in BY_METHOD["membrane-integrity"].method.settings if one.name == "removal")
    assert removal.high == 12
