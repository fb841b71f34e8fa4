"""How sure a verdict is, against JCGM 106 and ILAC-G8; and the judge of every check agrees with the probabilities."""

from __future__ import annotations

import json
import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.compute.conformity import (
    GUARD_MULTIPLES,
    acceptance_limits,
    assurance,
    capability_index,
    conformance_probability,
    guard_band,
    guard_multiple_for,
    largest_false_acceptance,
    managed_factor,
    outcome,
    root_difference_fraction,
    uncertainty_ratio,
)
from calibration.compute.coverage import below, normal_quantile
from calibration.compute.method import Judged
from calibration.compute.verdict import verdict_of
from tests.published import FIXTURES, example

F = Fraction


def told(file: str, row: str) -> Any:
    """A figure that is a yes or no, as the file keeps it."""
    return next(one["value"] for one in json.loads((FIXTURES / file).read_text())["expected"] if one["name"] == row)


def test_probability_that_one_result_conforms(reproduced: Any) -> None:
    case = example("jcgm106_conformance_probability")
    zener, burst, oil, radar = (case.inputs[name] for name in ("zener", "burst", "oil", "radar"))
    for name, got in (
        ("pC_zener", conformance_probability(zener["y"], zener["u"], high=zener["TU"])),
        ("pC_burst", conformance_probability(burst["y"], burst["u"], low=burst["TL"])),
        ("pC_burst_4952", conformance_probability(495.2, burst["u"], low=burst["TL"])),
        ("pC_oil", conformance_probability(oil["y"], oil["u"], low=oil["TL"], high=oil["TU"])),
        ("radar_limit_kmh", radar["v0"] / (1 - radar["rel_u"] * normal_quantile(radar["p"]))),
    ):
        reproduced(got, case.figures[name])
    for name in ("z_080", "z_090", "z_095", "z_099", "z_0999"):
        reproduced(normal_quantile(float(f"0.{name[3:]}")), case.figures[name])


def test_the_radar_limit_is_where_speeding_is_sure_enough() -> None:
    """Read the other way round: at 107 km/h the car was faster than 100 with 99.9 %, at 106 it is not sure."""
    for shown, sure in ((107, True), (106, False)):
        assert (conformance_probability(shown, 0.02 * shown, low=100) >= 0.999) == sure


def test_multiples_of_the_guard_band_and_what_they_buy(reproduced: Any) -> None:
    case = example("ilac_g8_decision_rules")
    rules = case.inputs["guard_bands"]
    assert [float(one) for one in GUARD_MULTIPLES.values()] == [rule["r"] for rule in rules]
    for rule, multiple in zip(rules, GUARD_MULTIPLES.values(), strict=True):
        risk = largest_false_acceptance(multiple)
        reproduced(risk, case.figures[f"pfa_r_{rule['r']}"])
        row = f"below_bound_r_{rule['r']}"
        reproduced.word(str(risk <= rule["pfa_bound"]), str(told(case.file, row)), file=case.file, row=row)


def test_the_largest_risk_stands_at_the_acceptance_limit() -> None:
    """U = 2, limit 10: nothing that passes is less sure than a result exactly on 10 - r U."""
    for multiple in GUARD_MULTIPLES.values():
        edge = 10 - guard_band(F(2), multiple)
        found = assurance(conformance_probability(edge, 1.0, high=F(10)), accepted=True)
        assert found.false_acceptance == pytest.approx(largest_false_acceptance(multiple), rel=1e-6)
        assert found.false_rejection is None
    assert guard_multiple_for(0.05) == pytest.approx(0.822, abs=5e-4)  # ISO 14253-1 rounds it to 0.83
    assert largest_false_acceptance(guard_multiple_for(0.01)) == pytest.approx(0.01, rel=1e-12)


def test_four_outcomes(reproduced: Any) -> None:
    case = example("ilac_g8_decision_rules")
    i = case.inputs["four_outcome"]
    for y in i["y"]:
        found = outcome(F(str(y)), low=F(str(i["TL"])), high=F(str(i["TU"])), guard=F(str(i["w"])))
        reproduced.word(found, case.words[f"outcome_{y}"], file=case.file, row=f"outcome_{y}")


@given(
    st.fractions(min_value=-20, max_value=20, max_denominator=100),
    st.fractions(min_value=F(1, 100), max_value=5, max_denominator=100),
    st.sampled_from(sorted(GUARD_MULTIPLES.values())),
)
@settings(max_examples=150)
def test_the_judge_agrees_with_the_probabilities(value: Fraction, u: Fraction, multiple: Fraction) -> None:
    """One limit at 10, w = r U and U = 2 u: the outcome is told by the probability of conforming alone."""
    guard = guard_band(2 * u, multiple)
    judged = verdict_of(
        Judged(name="v", what="v", value=value, unit="", of="", low=None, high=F(10), uncertainty=guard or None)
    )
    assert judged == outcome(value, low=None, high=F(10), guard=guard)
    if abs(10 - value) in {0, guard}:
        return  # on an edge a probability decides by its last digit; the next test is about edges
    sure = conformance_probability(value, float(u), high=F(10))
    if multiple == 0:
        assert judged == ("pass" if sure > 0.5 else "fail")
        return
    if abs(abs(10 - value) - guard) < F(1, 10**6) * u or 1 - sure < 1e-15 or sure < 1e-15:
        return  # beyond eight standard uncertainties a probability is 0 or 1
    edge = below(2 * float(multiple))
    expected = "pass" if sure > edge else "conditional pass" if sure > 0.5 else None
    expected = expected or ("conditional fail" if sure > 1 - edge else "fail")
    assert judged == expected


@pytest.mark.parametrize(
    ("value", "word"),
    [
        ("9.8", "pass"),
        ("9.8000001", "conditional pass"),
        ("10", "conditional pass"),
        ("10.0000001", "conditional fail"),
        ("10.2", "conditional fail"),
        ("10.2000001", "fail"),
        ("0.2", "pass"),
        ("0.1999999", "conditional pass"),
        ("0", "conditional pass"),
        ("-0.2", "conditional fail"),
        ("-0.2000001", "fail"),
    ],
)
def test_each_edge_belongs_to_the_better_side(value: str, word: str) -> None:
    assert outcome(F(value), low=F(0), high=F(10), guard=F("0.2")) == word


def test_acceptance_limits_are_the_edges_of_a_plain_pass() -> None:
    low, high = acceptance_limits(low=F(0), high=F(10), guard=F("0.2"))
    assert (low, high) == (F("0.2"), F("9.8"))
    assert acceptance_limits(low=None, high=F(10), guard=F(1)) == (None, F(9))
    assert acceptance_limits(low=F(0), high=F(2), guard=F(1)) == (F(1), F(1))
    with pytest.raises(ValueError, match="no result could pass"):
        acceptance_limits(low=F(0), high=F(2), guard=F("1.0001"))


def test_the_managed_guard_band(reproduced: Any) -> None:
    case = example("z540_3_managed_guard_band")
    for ratio in case.inputs["TUR"]:
        bare = managed_factor(ratio, clamped=False)
        reproduced(bare, case.figures[f"M_{ratio}"])
        assert managed_factor(ratio) == max(0.0, bare)
    assert managed_factor(4.58) > 0 and managed_factor(4.6) == managed_factor(100) == 0
    zero = math.exp((math.log(1.04) + 0.54) / 0.38)
    reproduced(zero, case.figures["M_zero_TUR"])
    assert managed_factor(zero, clamped=False) == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(("ratio", "fraction"), [(2, 0.8660), (3, 0.9428), (4, 0.9682)])
def test_the_guard_band_by_root_difference(ratio: float, fraction: float) -> None:
    """Computed figures of the formula sqrt(1 - 1/ratio^2), at four places."""
    assert root_difference_fraction(ratio) == pytest.approx(fraction, abs=5e-5)
    assert root_difference_fraction(1) == 0


def test_ratios_say_what_they_compare() -> None:
    assert uncertainty_ratio(F("0.10"), F("0.025")) == 4
    assert uncertainty_ratio(F("0.2"), F("0.1")) == 2
    # JCGM 106 7.6.3: of T = 2 x limit and U = 2 u the index is the ratio itself over 1: 0.2 / (4 x 0.0125) = 4.
    assert capability_index(F("-0.1"), F("0.1"), 0.0125) == pytest.approx(4)


def test_student_widens_where_the_uncertainty_is_known_from_few_readings() -> None:
    known, few = (conformance_probability(9.0, 1.0, high=10, dof=dof) for dof in (math.inf, 3))
    assert few < known
    # P(T <= 1) of 1 degree of freedom is 3/4: the Cauchy distribution.
    assert conformance_probability(9.0, 1.0, high=10, dof=1) == pytest.approx(0.75, rel=1e-12)


def test_without_uncertainty_a_value_is_inside_or_not() -> None:
    assert conformance_probability(10, 0, low=0, high=10) == 1
    assert conformance_probability(F("10.0001"), 0, low=0, high=10) == 0
    assert conformance_probability(5, 1) == 1


@given(st.floats(-30, 30), st.floats(0.01, 20), st.sampled_from([25.4, 1e-3]))
@settings(max_examples=60)
def test_units_and_sides_change_no_probability(value: float, u: float, scale: float) -> None:
    here = conformance_probability(value, u, low=-10, high=12)
    assert conformance_probability(-value, u, low=-12, high=10) == pytest.approx(here, abs=1e-12)
    there = conformance_probability(scale * value, scale * u, low=-10 * scale, high=12 * scale)
    assert there == pytest.approx(here, abs=1e-9) and 0 <= here <= 1


def test_what_cannot_be_is_refused() -> None:
    refused: tuple[tuple[Any, str], ...] = (
        (lambda: conformance_probability(1, -1, high=2), "negative"),
        (lambda: conformance_probability(1, 1, low=3, high=2), "above the upper"),
        (lambda: guard_band(F(-1)), "negative"),
        (lambda: guard_band(F(1), F(-1)), "negative"),
        (lambda: outcome(F(1), low=None, high=F(2), guard=F(-1)), "negative"),
        (lambda: guard_multiple_for(0.6), "at a half"),
        (lambda: guard_multiple_for(0), "at a half"),
        (lambda: uncertainty_ratio(F(1), F(0)), "above 0"),
        (lambda: uncertainty_ratio(F(0), F(1)), "above 0"),
        (lambda: capability_index(F(1), F(1), 0.1), "apart"),
        (lambda: capability_index(F(0), F(1), 0), "apart"),
        (lambda: managed_factor(0), "above 0"),
        (lambda: root_difference_fraction(0.99), "nothing can pass"),
    )
    for ask, sentence in refused:
        with pytest.raises(ValueError, match=sentence):
            ask()
    turned_away = assurance(0.3, accepted=False)
    assert turned_away.false_rejection == 0.3 and turned_away.false_acceptance is None
