"""The electrode against published examples, worked examples, the theoretical slope and a statistics library."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants, stats

from calibration.compute.methods import ph
from calibration.compute.methods.ph.electrode import NERNST_MV_PER_PH_PER_K
from calibration.compute.straight_line import line_through
from calibration.compute.temperature_tables import TemperatureTable

WORKED = Path(__file__).parents[3] / "fixtures" / "worked"
EXAMPLES = json.loads((WORKED / "ph_calibration_examples.json").read_text(encoding="utf-8"))["examples"]
PUBLISHED = {
    row["id"]: row for row in csv.DictReader((WORKED / "ph_published.csv").read_text(encoding="utf-8").splitlines())
}
HALF_A_DIGIT = 5e-7  # of the six digits printed with each worked example


def exact(number: float) -> Fraction:
    return Fraction(str(number))


def probe_of(example: dict[str, Any]) -> ph.Electrode:
    inputs = example["inputs"]
    points = tuple((exact(point["ph"]), exact(point["mv"])) for point in inputs["points"])
    probe = ph.electrode(points, exact(inputs["temperature_c"]))
    assert probe is not None
    return probe


def limits_of(example: dict[str, Any]) -> ph.ElectrodeLimits:
    low, high = example["inputs"]["percent_slope_limits"]
    return ph.ElectrodeLimits(
        slope_low=Fraction(low), slope_high=Fraction(high), offset=Fraction(example["inputs"]["offset_limit_mv"])
    )


def results(example: dict[str, Any]) -> dict[str, Any]:
    """Return every result an example may state, by its name there."""
    probe = probe_of(example)
    line, slope = probe.line, probe.slope
    found: dict[str, Any] = {
        "nernst_mv_per_ph": probe.nernst,
        "slope_mv_per_ph": slope,
        "percent_slope": probe.percent,
        "intercept_mv": line.intercept,
        "offset_mv_at_ph7": probe.offset,
        "ph_at_0_mv": probe.zero_point,
        "residuals_mv": list(line.residuals),
        "residual_sd_mv": line.residual_sd,
        "se_slope_mv_per_ph": line.se_slope,
        "se_intercept_mv": line.se_intercept,
        "largest_residual_ph": max(abs(residual / slope) for residual in line.residuals),
        "verdict": "pass" if ph.electrode_within(probe, limits_of(example)) else "fail",
    }
    sample = example["inputs"].get("sample")
    if sample:
        mv, temperature = exact(sample["mv"]), exact(sample["temperature_c"])
        found["sample_ph_pivot_0mV"] = probe.sample_ph(mv, temperature, pivot="0 mV")
        found["sample_ph_pivot_pH7"] = probe.sample_ph(mv, temperature, pivot="pH 7")
    return found


CASES = [
    pytest.param(example, name, value, id=f"{example['id']} {name}")
    for example in EXAMPLES
    for name, value in example["expected"].items()
    if name != "r"  # the correlation coefficient is no result of ours: it is above 0.999 for any probe
]


@pytest.mark.parametrize(("example", "name", "value"), CASES)
def test_worked_examples_are_reproduced(example: dict[str, Any], name: str, value: Any) -> None:
    # Computed from the closed formulas and reproduced by independent code; see the file.
    found = results(example)[name]
    if isinstance(value, str):
        assert found == value
    elif isinstance(value, list):
        assert [float(one) for one in found] == pytest.approx(value, abs=HALF_A_DIGIT, rel=0)
    else:
        assert float(found) == pytest.approx(value, abs=HALF_A_DIGIT, rel=0)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example["id"])
def test_the_buffers_of_the_examples_come_from_the_table(
    example: dict[str, Any], tables: dict[str, TemperatureTable]
) -> None:
    for point in example["inputs"]["points"]:
        assert tables[point["buffer"]].value(exact(example["inputs"]["temperature_c"])) == exact(point["ph"])


def test_values_at_25_degc_typed_at_10_degc_fail_a_good_probe() -> None:
    # The note of the example: slope -57.388 mV/pH, 102.14 %.
    example = next(one for one in EXAMPLES if one["id"] == "PHC-2")
    mv = [exact(point["mv"]) for point in example["inputs"]["points"]]
    probe = ph.electrode(((Fraction("6.865"), mv[0]), (Fraction("10.012"), mv[1])), Fraction(10))
    assert probe is not None
    assert float(probe.slope) == pytest.approx(-57.387989, abs=HALF_A_DIGIT, rel=0)
    assert float(probe.percent) == pytest.approx(102.144705, abs=HALF_A_DIGIT, rel=0)
    assert not ph.electrode_within(probe, limits_of(example))


# Theoretical slopes computed from the exact constants of the 2019 SI, mV/pH, to four places.
NERNST = {
    0: 54.1988, 5: 55.1909, 10: 56.1830, 15: 57.1751, 20: 58.1672, 25: 59.1593,
    30: 60.1515, 35: 61.1436, 37: 61.5404, 40: 62.1357, 45: 63.1278, 50: 64.1199,
}  # fmt: skip


@pytest.mark.parametrize(("temperature", "slope"), NERNST.items())
def test_theoretical_slopes(temperature: int, slope: float) -> None:
    assert float(ph.nernst_slope(Fraction(temperature))) == pytest.approx(slope, abs=5e-5, rel=0)


def test_the_constant_is_that_of_codata() -> None:
    # scipy.constants, CODATA: ln 10 R / F in mV per pH and kelvin, to the ten digits used.
    codata = 1000 * math.log(10) * constants.R / constants.physical_constants["Faraday constant"][0]
    assert float(NERNST_MV_PER_PH_PER_K) == pytest.approx(codata, abs=5e-11, rel=0)


def published_v1() -> list[tuple[float, float, float]]:
    probe = ph.electrode(((Fraction("7.01"), Fraction(-15)), (Fraction("4.01"), Fraction(160))), Fraction(25))
    assert probe is not None
    span = probe.line.at(Fraction("4.01")) - probe.line.at(Fraction("7.01"))
    published = float(PUBLISHED["PH-V1"]["published_output"].split(";")[0].removeprefix("span "))
    own_verdict = 150 <= span <= 186 and abs(probe.line.at(Fraction("7.01"))) <= 30
    assert own_verdict == ("working properly" in PUBLISHED["PH-V1"]["published_output"])
    recomputed = [(float(abs(probe.slope)), 58.333, 0.01), (float(probe.percent), 98.60, 0.01)]
    return [(float(span), published, 0.01), *recomputed]


def published_v3() -> list[tuple[float, float, float]]:
    low, high = (100 * mv / 3 / float(ph.nernst_slope(Fraction(25))) for mv in (150, 186))
    return [(low, 85, 0.6), (high, 105, 0.6)]


def published_v5() -> list[tuple[float, float, float]]:
    at_25 = ph.electrode(((Fraction(7), Fraction(0)), (Fraction(4), Fraction(177))), Fraction("24.85"))
    assert at_25 is not None
    assert at_25.slope == -59  # 59 mV/pH at 298 K
    carried = (float(-at_25.slope_at(Fraction(kelvin) - Fraction("273.15"))) for kelvin in (313, 283))
    return [(found, published, 0.5) for found, published in zip(carried, (62, 56), strict=True)]


def published_slopes(row: str, temperatures: tuple[int, ...], tolerance: float) -> list[tuple[float, float, float]]:
    printed = [float(part) for part in PUBLISHED[row]["published_output"].split(";")]
    return [
        (float(ph.nernst_slope(Fraction(temperature))), value, tolerance)
        for temperature, value in zip(temperatures, printed, strict=True)
    ]


def published_v9() -> list[tuple[float, float, float]]:
    # The linear form of the pharmacopoeia chapter, V/pH, within 0.012 mV over 0 to 50 degC.
    linear = {t: 1000 * (0.05916 + 0.000198 * (t - 25)) for t in (0, 20, 50)}
    return [(float(ph.nernst_slope(Fraction(t))), value, 0.012) for t, value in linear.items()]


def published_v11() -> list[tuple[float, float, float]]:
    # A buffer of pH 6.840 at 37 degC, 33.5 mV further towards alkali; the source truncates.
    slope = Fraction("-61.5")
    probe = ph.electrode(((Fraction("6.840"), Fraction(0)), (Fraction("7.840"), slope)), Fraction(37))
    assert probe is not None
    sample = float(probe.sample_ph(Fraction("-33.5"), Fraction(37), pivot="0 mV"))
    return [(sample - 6.840, 0.544, 0.001), (sample, 7.384, 0.001)]


READERS: dict[str, Callable[[], list[tuple[float, float, float]]]] = {
    "PH-V1": published_v1,
    "PH-V3": published_v3,
    "PH-V5": published_v5,
    "PH-V6": lambda: published_slopes("PH-V6", (25,), 0.005),
    "PH-V7": lambda: published_slopes("PH-V7", (0, 50), 0.5),
    "PH-V8": lambda: published_slopes("PH-V8", (20, 25, 30), 0.5),
    "PH-V9": published_v9,
    "PH-V11": published_v11,
}


@pytest.mark.parametrize("row", PUBLISHED)
def test_published_figures_are_reproduced(row: str) -> None:
    # Each row of the file names its source and its tolerance.
    for found, published, tolerance in READERS[row]():
        assert found == pytest.approx(published, abs=tolerance, rel=0)


MV = st.decimals(min_value=-400, max_value=400, places=1).map(Fraction)
PH = st.decimals(min_value=1, max_value=13, places=3).map(Fraction)
POINTS = st.lists(st.tuples(PH, MV), min_size=3, max_size=3, unique_by=lambda point: point[0])


@given(POINTS)
def test_three_points_as_the_reference_library_draws_them(points: list[tuple[Fraction, Fraction]]) -> None:
    # scipy.stats.linregress, double precision.
    line = line_through(tuple(points))
    x, y = [float(ph_value) for ph_value, _ in points], [float(mv) for _, mv in points]
    reference = stats.linregress(x, y)
    spread = max(y) - min(y) + 1
    width = max(x) - min(x)
    assert line is not None
    assert float(line.slope) == pytest.approx(reference.slope, rel=1e-6, abs=1e-8 * spread / width)
    assert float(line.intercept) == pytest.approx(reference.intercept, rel=1e-6, abs=1e-6 * spread / width)
    assert line.se_slope == pytest.approx(reference.stderr, rel=1e-4, abs=1e-6 * spread / width)
    assert line.se_intercept == pytest.approx(reference.intercept_stderr, rel=1e-4, abs=1e-5 * spread / width)


@given(POINTS)
def test_residuals_of_least_squares_sum_to_nought_and_lean_nowhere(points: list[tuple[Fraction, Fraction]]) -> None:
    line = line_through(tuple(points))
    assert line is not None
    assert sum(line.residuals) == 0
    assert sum(r * x for r, (x, _) in zip(line.residuals, points, strict=True)) == 0


def test_two_points_have_no_residual_and_no_standard_error() -> None:
    line = line_through(((Fraction(7), Fraction(0)), (Fraction(4), Fraction(170))))
    assert line is not None
    assert line.residuals == (0, 0)
    assert line.residual_sd is line.se_slope is line.se_intercept is None


def test_one_buffer_twice_draws_no_line() -> None:
    assert ph.electrode(((Fraction(7), Fraction(1)), (Fraction(7), Fraction(2))), Fraction(25)) is None


@given(
    percent=st.decimals(min_value=50, max_value=110, places=2).map(Fraction),
    offset=st.decimals(min_value=-80, max_value=80, places=2).map(Fraction),
    temperature=st.decimals(min_value=0, max_value=50, places=1).map(Fraction),
    buffers=st.lists(PH, min_size=2, max_size=3, unique=True),
)
def test_a_perfect_probe_gives_back_its_slope_and_offset_exactly(
    percent: Fraction, offset: Fraction, temperature: Fraction, buffers: list[Fraction]
) -> None:
    slope = -percent / 100 * ph.nernst_slope(temperature)
    points = tuple((value, offset + slope * (value - 7)) for value in buffers)
    probe = ph.electrode(points, temperature)
    assert probe is not None
    assert (probe.percent, probe.offset, probe.slope) == (percent, offset, slope)
    assert probe.zero_point == 7 - offset / slope
    for value, mv in points:
        assert probe.sample_ph(mv, temperature, pivot="0 mV") == value
        assert probe.sample_ph(mv, temperature, pivot="pH 7") == value


def test_a_probe_that_counts_the_other_way_has_a_positive_slope_and_the_same_part_of_theory() -> None:
    points = ((Fraction(7), Fraction(2)), (Fraction(4), Fraction(-170)))
    probe = ph.electrode(points, Fraction(25), counts_up=True)
    usual = ph.electrode(tuple((value, -mv) for value, mv in points), Fraction(25))
    assert probe is not None
    assert usual is not None
    assert probe.slope == -usual.slope > 0
    assert (probe.percent, probe.zero_point) == (usual.percent, usual.zero_point)


@pytest.mark.parametrize(
    ("percent", "offset", "within"),
    [
        ("95", "30", True),
        ("102", "-30", True),
        ("94.999", "0", False),
        ("102.001", "0", False),
        ("98", "30.001", False),
    ],
)
def test_limits_of_the_electrode_are_included(percent: str, offset: str, *, within: bool) -> None:
    slope = -Fraction(percent) / 100 * ph.nernst_slope(Fraction(25))
    points = tuple((value, Fraction(offset) + slope * (value - 7)) for value in (Fraction(7), Fraction(4)))
    probe = ph.electrode(points, Fraction(25))
    limits = ph.ElectrodeLimits(slope_low=Fraction(95), slope_high=Fraction(102), offset=Fraction(30))
    assert probe is not None
    assert ph.electrode_within(probe, limits) == within
