"""A gas detector: bump and calibration, in ppm, per cent and per cent of the explosive limit; what is caught."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.method import Band
from calibration.compute.methods import gas_detector
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured

CHLORINE = make_standard("chlorine", "gas", "5", "ppm")
WEAK = make_standard("chlorine", "gas", "1", "ppm")
OXYGEN = make_standard("oxygen", "gas", "20", "%")
METHANE = make_standard("methane", "gas", "50", "%")
GOOD = {
    "hold": "on",
    "way": "calibration",
    "gas": "chlorine",
    "zero": "0.0",
    "clean_air": "yes",
    "shown": "5.1",
    "seconds": "28",
    "horn": "yes",
    "fan": "yes",
    "regulator": "yes",
}
SETTINGS = {"target": "chlorine", "longest": "30"}


def test_a_good_calibration_passes_and_its_lines_can_be_worked_out_by_hand(checked: Checked) -> None:
    outcome = checked(gas_detector.METHOD, GOOD, CHLORINE, settings=SETTINGS)
    assert outcome.verdict == "pass"
    assert {one.name for one, _ in outcome.judged} == {"error", "zero", "seconds", "horn", "fan"}
    for line in figured(outcome):
        assert_agrees(line)


@pytest.mark.parametrize(
    ("gas", "shown", "verdict"),
    [
        (CHLORINE, "5.5", "pass"),
        (CHLORINE, "4.5", "pass"),
        (CHLORINE, "5.51", "fail"),
        (CHLORINE, "4.49", "fail"),
        (WEAK, "1.2", "pass"),
        (WEAK, "1.21", "fail"),
    ],
)
def test_the_larger_of_ten_per_cent_and_a_fifth_of_a_ppm_passes(
    checked: Checked, gas: Any, shown: str, verdict: str
) -> None:
    assert checked(gas_detector.METHOD, GOOD | {"shown": shown}, gas, settings=SETTINGS).verdict == verdict


@pytest.mark.parametrize(("zero", "verdict"), [("0.2", "pass"), ("-0.2", "pass"), ("0.21", "fail"), ("-0.3", "fail")])
def test_zero_is_judged_in_ppm(checked: Checked, zero: str, verdict: str) -> None:
    assert checked(gas_detector.METHOD, GOOD | {"zero": zero}, CHLORINE, settings=SETTINGS).verdict == verdict


def test_a_zero_limit_of_the_site_s_own_counts_in_any_unit(checked: Checked) -> None:
    own = Band(low=Fraction(-1), high=Fraction(1), unit="ppm", source="site", tag="site setting")
    typed = GOOD | {"zero": "0.9"}
    assert checked(gas_detector.METHOD, typed, CHLORINE, settings=SETTINGS).verdict == "fail"
    for name in ("zero", "error"):
        assert checked(gas_detector.METHOD, typed, CHLORINE, settings=SETTINGS, limits={name: own}).verdict == "pass"


@pytest.mark.parametrize(("zero", "verdict"), [("5", "pass"), ("-5", "pass"), ("5.1", "fail"), ("20", "fail")])
def test_a_zero_of_an_explosive_limit_is_judged_by_a_tenth_of_the_gas(
    checked: Checked, zero: str, verdict: str
) -> None:
    settings = {"unit": "lel", "target": "methane"}
    typed = GOOD | {"gas": "methane", "shown": "50", "zero": zero}
    outcome = checked(gas_detector.METHOD, typed, METHANE, settings=settings)
    assert outcome.verdict == verdict
    assert {one.unit for one, _ in outcome.judged if one.name == "zero"} == {"% LEL"}


@pytest.mark.parametrize(("shown", "verdict"), [("22", "pass"), ("18", "pass"), ("22.1", "fail")])
def test_per_cent_is_judged_by_ten_per_cent_alone_and_said_in_its_unit(
    checked: Checked, shown: str, verdict: str
) -> None:
    settings = {"unit": "%", "target": "oxygen"}
    outcome = checked(
        gas_detector.METHOD, GOOD | {"gas": "oxygen", "shown": shown, "zero": "0.3"}, OXYGEN, settings=settings
    )
    assert outcome.verdict == verdict
    assert {one.unit for one, _ in outcome.judged if one.name == "error"} == {"%"}
    assert all(line.unit in {"%", "s", ""} for line in outcome.worked.lines)


def test_a_fifth_of_a_per_cent_is_no_limit(checked: Checked) -> None:
    """The 0.2 of the rule is ppm; in per cent a tenth of the gas alone counts."""
    typed = GOOD | {"gas": "oxygen", "shown": "1.15", "zero": "0"}
    weak = make_standard("oxygen", "gas", "1", "%")
    assert checked(gas_detector.METHOD, typed, weak, settings={"unit": "%", "target": "oxygen"}).verdict == "fail"


def test_a_share_of_the_explosive_limit_is_said_as_such(checked: Checked) -> None:
    settings = {"unit": "lel", "target": "methane"}
    outcome = checked(gas_detector.METHOD, GOOD | {"gas": "methane", "shown": "52"}, METHANE, settings=settings)
    assert outcome.verdict == "pass"
    assert "±5 % LEL" in next(line.text for line in outcome.worked.lines if line.text.startswith("Error in the gas"))


@pytest.mark.parametrize(("seconds", "verdict"), [("30", "pass"), ("30.1", "fail")])
def test_the_longest_time_itself_passes(checked: Checked, seconds: str, verdict: str) -> None:
    assert checked(gas_detector.METHOD, GOOD | {"seconds": seconds}, CHLORINE, settings=SETTINGS).verdict == verdict


@pytest.mark.parametrize("way", ["bump", "calibration"])
@pytest.mark.parametrize("name", ["horn", "fan"])
def test_a_detector_that_warns_nobody_fails(checked: Checked, way: str, name: str) -> None:
    typed = GOOD | {"way": way, name: "no"}
    assert checked(gas_detector.METHOD, typed, CHLORINE, settings=SETTINGS).verdict == "fail"


def test_a_bump_needs_no_zero_and_is_not_judged_by_its_figure(checked: Checked) -> None:
    bump = GOOD | {"way": "bump", "zero": "", "shown": "3.9"}
    outcome = checked(gas_detector.METHOD, bump, CHLORINE, settings=SETTINGS)
    assert outcome.verdict == "pass"
    assert "error" not in {one.name for one, _ in outcome.judged}
    assert caught(checked(gas_detector.METHOD, bump | {"way": "calibration"}, CHLORINE, settings=SETTINGS), "no-zero")


def test_a_factor_makes_of_another_gas_what_the_detector_should_show(checked: Checked) -> None:
    settings = SETTINGS | {"target": "bromine"}
    outcome = checked(gas_detector.METHOD, GOOD | {"other_gas": "0.5", "shown": "2.6"}, CHLORINE, settings=settings)
    assert outcome.worked.figure("true") == Fraction("2.5")
    assert outcome.verdict == "pass"


CERTIFIED = make_standard(
    "chlorine", "gas", "5", "ppm", uncertainty=Fraction("0.25"), k=Fraction(2), certificate="certificate of the bottle"
)


def test_the_uncertainty_is_that_of_the_bottle_and_of_the_last_digit(checked: Checked) -> None:
    """U = 2 x sqrt((0.25 / 2)^2 + 0.1^2 / 12) = 0.2566: by the definition of a rectangular digit, JCGM 100 F.2.2.1."""
    outcome = checked(gas_detector.METHOD, GOOD, CERTIFIED, settings=SETTINGS)
    assert float(outcome.budgets["error"].expanded) == pytest.approx(0.25658, abs=5e-6)
    assert outcome.verdict == "pass"


@pytest.mark.parametrize(
    ("shown", "verdict"), [("5.2", "pass"), ("5.3", "conditional pass"), ("5.6", "conditional fail")]
)
def test_a_requirement_that_guards_counts_it(checked: Checked, shown: str, verdict: str) -> None:
    typed = GOOD | {"shown": shown}
    assert checked(gas_detector.METHOD, typed, CERTIFIED, settings=SETTINGS, guarded=True).verdict == verdict


@pytest.mark.parametrize("facts", [{"uncertainty": None}, {"k": None}, {"uncertainty": Fraction(0)}])
def test_a_bottle_that_states_none_leaves_it_not_stated(checked: Checked, facts: dict[str, Any]) -> None:
    bottle = replace(CERTIFIED, **facts)
    outcome = checked(gas_detector.METHOD, GOOD, bottle, settings=SETTINGS, guarded=True)
    assert outcome.budgets == {}
    assert not outcome.uncertainty_stated


def test_another_gas_carries_the_bottle_s_uncertainty_by_its_factor(checked: Checked) -> None:
    typed = GOOD | {"other_gas": "0.5", "shown": "2.5"}
    outcome = checked(gas_detector.METHOD, typed, CERTIFIED, settings=SETTINGS)
    assert float(outcome.budgets["error"].expanded) == pytest.approx(2 * (0.0625**2 + 0.01 / 12) ** 0.5, abs=1e-9)


def test_a_bump_has_no_uncertainty(checked: Checked) -> None:
    assert checked(gas_detector.METHOD, GOOD | {"way": "bump"}, CERTIFIED, settings=SETTINGS).budgets == {}


CATCHES: list[tuple[str, dict[str, str], dict[str, Any]]] = [
    ("no-zero", {"zero": ""}, {}),
    ("unit", {}, {"settings": {"unit": "%"}}),
    ("unit", {}, {"settings": {"unit": "lel"}}),
    ("clean-air", {"clean_air": "no"}, {}),
    ("regulator", {"regulator": "no"}, {}),
    ("bump", {"way": "bump"}, {"kind": "as left"}),
    ("other-gas", {}, {"settings": {"target": "ammonia"}}),
    ("sleeping", {"shown": "2.4"}, {}),
    ("no-gas", {"other_gas": "0", "shown": "0.1"}, {}),
    ("no-time", {"way": "bump", "seconds": ""}, {}),
    ("no-target", {}, {"settings": {"longest": "30"}}),
    ("other-gas", {"other_gas": "1"}, {"settings": {"target": "ammonia"}}),
    ("old", {"age": "1096"}, {}),
    ("no-hold", {"hold": "off"}, {}),
    ("missing-horn", {"horn": ""}, {}),
]


@pytest.mark.parametrize(("key", "bad", "facts"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], facts: dict[str, Any]
) -> None:
    usual = {"settings": SETTINGS, "uses": ("starts the fan",)}
    assert caught(checked(gas_detector.METHOD, GOOD | bad, CHLORINE, **{**usual, **facts}), key)
    assert not caught(checked(gas_detector.METHOD, GOOD | {"age": "1095"}, CHLORINE, **usual), key)


def test_a_zero_gas_is_no_test_gas_and_a_detector_that_shows_nothing_does_not_pass(checked: Checked) -> None:
    """By the other road: not a factor of nought but a bottle of it."""
    nothing = make_standard("chlorine", "gas", "0", "ppm", label="chlorine, zero gas")
    outcome = checked(gas_detector.METHOD, GOOD | {"shown": "0"}, nothing, settings=SETTINGS)
    assert outcome.validity == "not valid"
    assert caught(outcome, "no-gas")


@pytest.mark.parametrize(
    ("label", "target", "asked"),
    [
        ("chlorine 26-G", "chlorine", False),
        ("Chlorine", "CHLORINE", False),
        ("chlorine dioxide 26-D", "chlorine", True),
        ("chlorine-dioxide", "chlorine", True),
        ("chlorine dioxide 26-D", "chlorine dioxide", False),
        ("hydrogen sulfide", "hydrogen", True),
        ("deoxygenated", "oxygen", True),
    ],
)
def test_the_gas_of_a_bottle_is_known_by_its_whole_name(checked: Checked, label: str, target: str, asked: bool) -> None:
    bottle = make_standard("chlorine", "gas", "5", "ppm", label=label)
    outcome = checked(gas_detector.METHOD, GOOD, bottle, settings=SETTINGS | {"target": target})
    assert bool(caught(outcome, "other-gas")) is asked


@pytest.mark.parametrize(
    ("longest", "seconds", "verdict"), [("0", "0.1", "fail"), ("", "60", "pass"), ("", "61", "fail")]
)
def test_a_time_of_nought_is_one_and_only_an_empty_one_becomes_sixty(
    checked: Checked, longest: str, seconds: str, verdict: str
) -> None:
    settings = SETTINGS | {"longest": longest}
    assert checked(gas_detector.METHOD, GOOD | {"seconds": seconds}, CHLORINE, settings=settings).verdict == verdict


@pytest.mark.parametrize(("nominal", "asked"), [("2.5", True), ("9.9", True), ("10", False), ("50", False)])
def test_a_bottle_by_volume_is_asked_about_at_an_explosive_limit(checked: Checked, nominal: str, asked: bool) -> None:
    bottle = make_standard("methane", "gas", nominal, "%")
    typed = GOOD | {"gas": "methane", "shown": nominal}
    outcome = checked(gas_detector.METHOD, typed, bottle, settings={"unit": "lel", "target": "methane"})
    assert bool(caught(outcome, "by-volume")) == asked


def test_an_expired_bottle_is_not_valid(checked: Checked) -> None:
    old = make_standard("chlorine", "gas", "5", "ppm", expires=date(2026, 10, 1))
    assert checked(gas_detector.METHOD, GOOD, old, settings=SETTINGS).validity == "not valid"


def test_half_the_gas_is_not_yet_asleep(checked: Checked) -> None:
    assert not caught(checked(gas_detector.METHOD, GOOD | {"shown": "2.5"}, CHLORINE, settings=SETTINGS), "sleeping")
