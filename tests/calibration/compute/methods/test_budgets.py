"""The uncertainty of an error at each method that has a budget: by hand, and four outcomes only where it is guarded."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import log, sqrt

import pytest

from tests.calibration.compute.methods.cases import MethodCase
from tests.calibration.compute.methods.conftest import Checked, caught
from tests.calibration.compute.methods.test_catches import BY_METHOD, judged

# By hand: standard uncertainty of the standard (U / 2) and of the last digit (step / sqrt(12)), each times how much the
# judged value changes with it; k = 2. U of the standard in its own unit, sensitivities from the good set.
BUDGETS = {
    "turbidity": ("0.02", "error", (1, 1), "0.01"),
    "conductivity": ("6", "error", (100 * 1268 / 1273.03**2, 100 / 1273.03), "1"),
    "weigh-scale": ("0.1", "error_1", (100 / 150, 100 / 150), "0.1"),
    "gas-detector": ("0.25", "error", (1, 1), "0.1"),
    # Two last digits: 0.001 of the bench's absorbance, each worth ln 10 x 87.1 points of %, beside 0.1 of the analyzer.
    "uv-transmittance": ("0.4", "error", (1, sqrt(1 + (log(10) * 10**-0.06 * 100 * 0.001 / 0.1) ** 2)), "0.1"),
    # 110 beside 100: d / r² for the reference and its digit, 1 / r for the duty sensor's.
    "uv-intensity": ("6", "ratio", (110 / 100**2, sqrt((110 / 100**2) ** 2 + (1 / 100) ** 2)), "1"),
    # 104 mL in 60 s beside 100 mL/min: 1 % for each mL, 104 / 60 % for each second.
    "particle-counter": ("0.5", "flow", (1, sqrt(1 + (104 / 60) ** 2)), "1"),
    "current-loop": ("0.01", "error_2_hmi", (100 / 16, 10), "0.01"),
}


def with_uncertainty(case: MethodCase, expanded: str | None) -> MethodCase:
    u = None if expanded is None else Fraction(expanded)
    k = None if expanded is None else Fraction(2)
    return replace(case, standards=tuple(replace(one, uncertainty=u, k=k) for one in case.standards))


@pytest.mark.parametrize("code", BUDGETS)
def test_the_budget_is_the_root_of_the_sum_of_squares(checked: Checked, code: str) -> None:
    expanded, name, (per_standard, per_read), step = BUDGETS[code]
    case = with_uncertainty(BY_METHOD[code], expanded)
    outcome = judged(checked, case, {}, {})
    u = sqrt((per_standard * float(expanded) / 2) ** 2 + (per_read * float(step) / sqrt(12)) ** 2)
    assert float(outcome.budgets[name].expanded) == pytest.approx(2 * u, rel=1e-9)
    assert not outcome.uncertainty_stated


@pytest.mark.parametrize("code", BUDGETS)
def test_without_the_uncertainty_of_the_standard_there_is_none(checked: Checked, code: str) -> None:
    assert judged(checked, with_uncertainty(BY_METHOD[code], None), {}, {}).budgets == {}


def test_guarded_a_result_nearer_to_the_limit_than_its_uncertainty_is_conditional(checked: Checked) -> None:
    case = with_uncertainty(BY_METHOD["temperature"], "0.3")
    near = {"point1_shown": "12.4"}  # 12.4 - (12.3 - 0.3) = 0.4 of 0.5
    assert judged(checked, case, near, {"guarded": True}).verdict == "conditional pass"
    assert judged(checked, case, near, {}).verdict == "pass"
    assert judged(checked, case, {"point1_shown": "12.6"}, {"guarded": True}).verdict == "conditional fail"


def test_a_pair_of_grabs_adds_how_it_repeats(checked: Checked) -> None:
    case = with_uncertainty(BY_METHOD["chlorine"], "0.05")
    apart = {"grab1_bench": "1.02", "grab2_bench": "0.98"}
    same, other = (judged(checked, case, changes, {}).budgets["error"] for changes in ({}, apart))
    assert other.expanded > same.expanded


def test_a_limit_under_four_times_the_uncertainty_of_its_standard_is_pointed_at(checked: Checked) -> None:
    coarse, fine = (with_uncertainty(BY_METHOD["temperature"], u) for u in ("0.13", "0.12"))
    assert caught(judged(checked, coarse, {}, {}), "coarse-standard") == ["remind"]
    assert not caught(judged(checked, fine, {}, {}), "coarse-standard")


def test_the_standard_is_pointed_at_whatever_unit_it_is_registered_in(checked: Checked) -> None:
    """Limit 0.5 °C; U 0.234 °F is 0.130 °C, a ratio of 3.85; U 0.216 °F is 0.120 °C, 4.17."""
    case = BY_METHOD["temperature"]
    for expanded, said in (("0.234", ["remind"]), ("0.216", [])):
        there = tuple(
            replace(one, unit="°F", uncertainty=Fraction(expanded), k=Fraction(2), corrections=())
            for one in case.standards
        )
        assert caught(judged(checked, replace(case, standards=there), {}, {}), "coarse-standard") == said
