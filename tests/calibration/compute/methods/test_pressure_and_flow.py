"""Pressure, flow, level and mass at their limits, and a published five-point table through the whole of a check."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from math import sqrt

import pytest

from tests.calibration.compute.methods.conftest import Checked, caught
from tests.calibration.compute.methods.test_catches import BY_METHOD, judged
from tests.calibration.compute.test_ph_working import assert_agrees, figured
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
    ("weigh-scale", {"zero": "0.75"}, {"zero": "0.750001"}),
    ("weigh-scale", {"zero": "-0.75"}, {"zero": "-0.750001"}),
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


def test_every_line_can_be_worked_out_by_hand(checked: Checked) -> None:
    for code, changes in (
        ("flow-comparison", {"hmi": "10.3", "zero": "-0.05"}),
        ("pressure", {"head": "1.8"}),
        ("weigh-scale", {"load2_mass": "100.0", "load2_shown": "99.8"}),
    ):
        case = BY_METHOD[code]
        bare = [replace(one, uncertainty=None, k=None) for one in case.standards]
        lines = figured(judged(checked, replace(case, standards=tuple(bare)), changes, {}))
        assert len(lines) >= 5
        for line in lines:
            assert_agrees(line)


@pytest.mark.parametrize(
    ("at", "beyond", "name", "face"),
    [
        ({"hmi": "10.5"}, {"hmi": "10.500001"}, "hmi", "HMI"),
        ({"zero": "0.1"}, {"zero": "0.100001"}, "zero", "display"),
        ({"zero": "-0.1"}, {"zero": "-0.100001"}, "zero", "display"),
    ],
)
def test_the_hmi_is_judged_at_the_last_flow_and_the_zero_by_the_least(
    checked: Checked, at: Mapping[str, str], beyond: Mapping[str, str], name: str, face: str
) -> None:
    """The last flow is the least, 10 m³/h: 5 % of it at the HMI, 1 % for the zero."""
    case = BY_METHOD["flow-comparison"]
    assert judged(checked, case, at, {}).verdict == "pass"
    outcome = judged(checked, case, beyond, {})
    assert [(one.name, one.face) for one, verdict in outcome.judged if verdict == "fail"] == [(name, face)]


def test_the_order_of_flows_changes_no_verdict(checked: Checked) -> None:
    case = BY_METHOD["flow-comparison"]
    turned = {
        f"point{3 - n}_{name}": case.good[f"point{n}_{name}"]
        for n in (1, 2)
        for name in ("where", "reference", "shown")
    }
    one, other = (judged(checked, case, {"zero": "0.1"} | changes, {}) for changes in ({}, turned))
    assert one.verdict == other.verdict == "pass"
    assert sorted(v.value for v, _ in one.judged) == sorted(v.value for v, _ in other.judged)


BORROWED: tuple[tuple[str, Mapping[str, str]], ...] = (
    ("wrong-place", {"point1_where": "min", "point2_where": "mid"}),
    ("wrong-place", {"point1_where": "mid", "point2_where": "max"}),
    ("wrong-place", {"point2_reference": "40.0", "point2_shown": "41.0"}),
    ("same-place", {"point2_where": "mid"}),
    ("no-usual", {"point1_where": "max"}),
    ("no-usual", {"point1_where": "min", "point2_where": "", "point2_reference": "", "point2_shown": ""}),
    ("no-flow", {"point2_reference": "0", "point2_shown": "0"}),
)


@pytest.mark.parametrize(("key", "changes"), BORROWED)
def test_the_wider_limit_of_least_flow_is_not_borrowed(checked: Checked, key: str, changes: Mapping[str, str]) -> None:
    case = BY_METHOD["flow-comparison"]
    outcome = judged(checked, case, changes, {})
    assert caught(outcome, key)
    assert outcome.verdict is None
    third = {"point3_where": "max", "point3_reference": "80.0", "point3_shown": "81.0"}
    for neighbour in ({}, third):
        right = judged(checked, case, neighbour, {})
        assert right.verdict == "pass"
        assert not caught(right, key)


def test_a_twin_in_litres_a_second_corrects_and_doubts_in_its_own_unit(checked: Checked) -> None:
    """0.1 L/s are 0.36 m³/h: of 40 m³/h 0.9 %. By hand in %: U, the last digit of both meters."""
    case = BY_METHOD["flow-comparison"]
    twin = replace(
        case.standards[0], unit="L/s", uncertainty=Fraction("0.1"), k=Fraction(2),
        corrections=((Fraction(10), Fraction("0.1")),),
    )  # fmt: skip
    outcome = judged(checked, replace(case, standards=(twin,)), {}, {})
    true = 40.36
    assert outcome.worked.figure("true_1") == Fraction("40.36")
    u = 100 * sqrt((41 / true**2) ** 2 * (0.18**2 + 0.01 / 12) + 0.01 / 12 / true**2)
    assert float(outcome.budgets["error_1"].expanded) == pytest.approx(2 * u, rel=1e-9)
    wrong = replace(twin, unit="m³")
    refused = judged(checked, replace(case, standards=(wrong,)), {}, {})
    assert caught(refused, "other-unit-standard") == ["refuse"]
    assert not caught(outcome, "other-unit-standard")


def test_a_forced_value_keeps_the_hmi_out_and_nothing_else(checked: Checked) -> None:
    case = BY_METHOD["flow-comparison"]
    outcome = judged(checked, case, {"hmi": "99"}, {"forced": ("forced to 99",)})
    assert caught(outcome, "forced")
    assert outcome.verdict == "pass"
    assert judged(checked, case, {"hmi": "99"}, {}).verdict == "fail"


def test_pressures_that_are_nearly_one_input_give_the_hysteresis_of_equal_ones(checked: Checked) -> None:
    """Errors, not readings, are compared: 520 going down is 2 % of span above 500 going up and 20 kPa above in both."""
    case = BY_METHOD["pressure"]
    equal = judged(checked, case, {}, {}).worked
    assert equal.figure("hysteresis") == Fraction("0.1")  # 502 against 501 at 500, 1 against 0.5 at 0, of 1000
    near = judged(checked, case, {"point4_reference": "520", "point4_shown": "522"}, {}).worked
    assert near.figure("hysteresis") == Fraction("0.1")
    far = {"point4_reference": "520.1", "point4_shown": "523.1", "point5_reference": "30", "point5_shown": "31"}
    assert judged(checked, case, far, {}).worked.figure("hysteresis") is None


def test_the_largest_of_all_pairs_at_one_input_counts_whatever_their_order(checked: Checked) -> None:
    case = BY_METHOD["pressure"]
    again = {"point6_way": "up", "point6_reference": "500", "point6_shown": "499"}
    first = {"point2_shown": "499", "point6_way": "up", "point6_reference": "500", "point6_shown": "501"}
    for changes in (again, first):
        assert judged(checked, case, changes, {}).worked.figure("hysteresis") == Fraction("0.3")


def test_a_curve_through_nearly_equal_inputs_is_their_mean(checked: Checked) -> None:
    """Errors 0.75 at nought (0.5 and 1), 1.5 near 500 and 1 at 1000: 1.5 - 0.875 = 0.625 of 1000, by hand."""
    case = BY_METHOD["pressure"]
    assert judged(checked, case, {}, {}).worked.figure("non_linearity") == Fraction("0.0625")
    moved = judged(checked, case, {"point4_reference": "510", "point4_shown": "512"}, {}).worked
    at = 505  # the mean of both inputs, 2.5 per mille further along the line
    by_hand = Fraction("1.5") - (Fraction("0.75") + Fraction("0.25") * at / 1000)
    assert moved.figure("non_linearity") == by_hand / 10


NARROW: tuple[Mapping[str, str], ...] = (
    {f"point{n}_{name}": "0" for n in range(1, 6) for name in ("reference", "shown")},
    {f"point{n}_{name}": "500" for n in range(1, 6) for name in ("reference", "shown")},
    {"point3_reference": "749.9", "point3_shown": "750"},
    {"point2_reference": "1000", "point2_shown": "1000", "point4_reference": "1000", "point4_shown": "1000"},
)


@pytest.mark.parametrize("changes", NARROW)
def test_pressures_that_leave_most_of_the_span_unseen_are_asked_about(
    checked: Checked, changes: Mapping[str, str]
) -> None:
    case = BY_METHOD["pressure"]
    outcome = judged(checked, case, changes, {})
    assert caught(outcome, "narrow")
    assert outcome.verdict is None
    assert not caught(judged(checked, case, {"point3_reference": "750", "point3_shown": "750"}, {}), "narrow")


@pytest.mark.parametrize("code", ["pressure", "differential-pressure", "level", "weigh-scale"])
@pytest.mark.parametrize("span", ["", "0", "-100"])
def test_a_share_of_a_span_that_is_none_is_refused(checked: Checked, code: str, span: str) -> None:
    case = BY_METHOD[code]
    name = "capacity" if code == "weigh-scale" else "span"
    outcome = judged(checked, case, {}, {"settings": {**case.settings, name: span}})
    assert caught(outcome, f"no-{name}") == ["refuse"]
    assert outcome.verdict is None


def test_a_class_of_nought_is_one_and_only_an_empty_one_becomes_half_a_per_cent(checked: Checked) -> None:
    case = BY_METHOD["pressure"]
    for stated, high in (("0", 0), ("1.6", Fraction("1.6")), ("", Fraction(1, 2))):
        outcome = judged(checked, case, {}, {"settings": {"span": "1000", "class": stated}})
        assert {one.high for one, _ in outcome.judged} == {high}


def test_a_gauge_in_bar_is_coarse_by_its_uncertainty_in_bar(checked: Checked) -> None:
    """0.2 bar are 20 kPa: the limit of 5 kPa is a quarter of it; 0.2 kPa would be fine."""
    case = BY_METHOD["pressure"]
    bar = replace(case.standards[0], unit="bar")
    outcome = judged(checked, replace(case, standards=(bar,)), {}, {})
    assert caught(outcome, "coarse")
    assert not caught(judged(checked, case, {}, {}), "coarse")
    u = sqrt(1 + 2 * 0.1**2 / 12)  # by hand in % of 1000 kPa: 20 kPa / 2, and one kPa read on both
    assert float(outcome.budgets["error_2"].expanded) == pytest.approx(2 * u, rel=1e-9)


def test_masses_in_pounds_and_their_corrections_count_in_kilograms(checked: Checked) -> None:
    case = BY_METHOD["weigh-scale"]
    pound = Fraction("0.45359237")
    masses = replace(
        case.standards[0], unit="lb", uncertainty=Fraction(1), k=Fraction(2),
        corrections=((Fraction(150), Fraction("-0.5")),),
    )  # fmt: skip
    outcome = judged(checked, replace(case, standards=(masses,)), {}, {})
    assert outcome.worked.figure("mass_1") == 68 - pound / 2
    u = 100 / 150 * sqrt((0.45359237 / 2) ** 2 + 0.1**2 / 12)
    assert float(outcome.budgets["error_1"].expanded) == pytest.approx(2 * u, rel=1e-9)


WEIGHED: tuple[tuple[str, Mapping[str, str]], ...] = (
    ("light", {"load1_mass": "0", "load1_shown": "0"}),
    ("light", {"load1_mass": "49.9", "load1_shown": "49.9"}),
    ("no-masses", {"standard": ""}),
    ("pounds", {"load1_shown": "149.9"}),
    ("pounds", {"load2_mass": "100.0", "load2_shown": "45.4"}),
)


@pytest.mark.parametrize(("key", "changes"), WEIGHED)
def test_a_scale_does_not_pass_by_its_zero_or_by_masses_nobody_named(
    checked: Checked, key: str, changes: Mapping[str, str]
) -> None:
    case = BY_METHOD["weigh-scale"]
    outcome = judged(checked, case, changes, {})
    assert caught(outcome, key)
    assert outcome.verdict is None
    for neighbour in ({}, {"load1_mass": "50", "load1_shown": "50"}, {"load2_mass": "10", "load2_shown": "10"}):
        assert not caught(judged(checked, case, neighbour, {}), key)


def test_no_log_removal_is_asked_for_that_nobody_can_prove() -> None:
    removal = next(one for one in BY_METHOD["membrane-integrity"].method.settings if one.name == "removal")
    assert removal.high == 12
