"""UV intensity: the ratio to one reference and to several, high is unsafe, dark is dead; its uncertainty; catches."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.method import Answer, Band
from calibration.compute.methods import uv_intensity
from calibration.compute.standards import Standard
from calibration.compute.verdict import Outcome
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured


def sensor(key: str, **facts: Any) -> Standard:
    return make_standard(key, "UV sensor", "0", "W/m²", is_lot=False, opened=None, **facts)


SENSORS = [sensor(key) for key in "UVW"]
STATED = [sensor(key, uncertainty=Fraction(6), k=Fraction(2)) for key in "UVW"]
GOOD = {
    "hold": "on",
    "duty": "110",
    "reference1_standard": "U",
    "reference1_shown": "100",
    "same_power": "yes",
    "wiped": "no",
    "hours": "5000",
}
TWO = {"reference2_standard": "V", "reference2_shown": "104"}
THREE = TWO | {"reference3_standard": "W", "reference3_shown": "99"}


def tried(checked: Checked, changes: dict[str, str], sensors: list[Standard] = SENSORS, **facts: Any) -> Outcome:
    typed = {name: text for name, text in (GOOD | changes).items() if text}
    return checked(uv_intensity.METHOD, typed, *sensors, **facts)


@pytest.mark.parametrize("changes", [{}, TWO, THREE, {"duty": "37"}])
def test_every_line_can_be_worked_out_by_hand(checked: Checked, changes: dict[str, str]) -> None:
    lines = figured(tried(checked, changes))
    assert lines
    for line in lines:
        assert_agrees(line)


def test_the_ratio_is_to_the_mean_of_the_references(checked: Checked) -> None:
    outcome = tried(checked, THREE)
    assert outcome.worked.figure("ratio") == 110 / Fraction(303, 3)
    assert outcome.worked.model.points == ((Fraction(101), Fraction(110)),)
    assert tried(checked, {}).worked.figure("ratio") == Fraction("1.1")


@pytest.mark.parametrize(
    ("duty", "would_be"),
    [
        ("120", "pass"),
        ("120.1", "fail"),
        ("100", "pass"),
        ("79", "pass"),
        ("20", "pass"),
        ("19.9", "fail"),
        ("0", "fail"),
    ],
)
def test_high_fails_low_is_advised_and_dark_fails(checked: Checked, duty: str, would_be: str) -> None:
    """At most 1.20: from memory. Advice under 0.80 and a fail under 0.20: own judgement."""
    outcome = tried(checked, {"duty": duty})
    assert outcome.would_be == would_be
    assert bool(outcome.worked.advice) is (Fraction(duty) < 80)


def test_a_dead_sensor_fails_beside_three_references_too_and_without_a_question(checked: Checked) -> None:
    outcome = tried(checked, THREE | {"duty": "0"})
    assert outcome.verdict == "fail"
    assert {one.name: verdict for one, verdict in outcome.judged} == {"ratio": "pass", "alive": "fail"}
    assert next(one for one, _ in outcome.judged if one.name == "alive").tag == "own judgement"


def test_the_advice_begins_under_eight_tenths(checked: Checked) -> None:
    assert not tried(checked, {"duty": "80"}).worked.advice
    assert tried(checked, {"duty": "79.9"}).worked.advice


@pytest.mark.parametrize("row", [1, 2, 3])
def test_a_reference_in_the_dark_compares_nothing(checked: Checked, row: int) -> None:
    outcome = tried(checked, THREE | {f"reference{row}_shown": "0"})
    assert caught(outcome, f"dark-{row}") == ["not valid"]
    assert outcome.verdict is None


def test_references_all_in_the_dark_give_no_ratio_and_no_verdict(checked: Checked) -> None:
    for several in ({}, TWO | {"reference2_shown": "0"}):
        outcome = tried(checked, several | {"reference1_shown": "0"})
        assert outcome.worked.figure("ratio") is None
        assert (outcome.validity, outcome.verdict) == ("not valid", None)
    # Nor does a duty sensor as dark as its reference agree with it.
    assert tried(checked, {"duty": "0", "reference1_shown": "0"}).verdict is None


@pytest.mark.parametrize("row", [2, 3])
def test_one_sensor_written_twice_is_one(checked: Checked, row: int) -> None:
    """Three rows of one sensor would else settle that three references agree."""
    outcome = tried(checked, THREE | {f"reference{row}_standard": "U"})
    assert caught(outcome, f"twice-{row}") == ["refuse"]
    assert not caught(tried(checked, THREE), f"twice-{row}")


def test_a_failing_ratio_beside_one_sensor_thrice_is_beside_one(checked: Checked) -> None:
    thrice = THREE | {"reference2_standard": "U", "reference3_standard": "U", "duty": "130"}
    assert caught(tried(checked, thrice), "one-reference") == ["ask"]
    assert not caught(tried(checked, THREE | {"duty": "130"}), "one-reference")


def test_the_limit_of_the_site_decides_when_more_references_are_asked_for(checked: Checked) -> None:
    own = Band(low=None, high=Fraction("1.05"), unit="", source="site", tag="site setting")
    assert caught(tried(checked, {}, limits={"ratio": own}), "one-reference")
    assert not caught(tried(checked, {}), "one-reference")
    assert not caught(tried(checked, {"duty": "120"}), "one-reference")


CATCHES: list[tuple[str, dict[str, str], dict[str, Any], str]] = [
    ("power", {"same_power": "no"}, {}, "not valid"),
    ("wiped", {"wiped": "yes"}, {}, "not valid"),
    ("apart-2", {"reference2_standard": "V", "reference2_shown": "160"}, {}, "asked"),
    ("apart-1", {"reference2_standard": "V", "reference2_shown": "160"}, {}, "asked"),
    ("itself-1", {}, {"unit_key": "U"}, "incomplete"),
    ("hours", {"hours": "12"}, {"last": {"hours": Fraction(5000)}}, "asked"),
    ("hours", {"hours": "4999"}, {"last": {"hours": Fraction(5000)}}, "asked"),
    ("hours-go-on", {"lamp_changed": "yes"}, {"last": {"hours": Fraction(4900)}}, "asked"),
    ("missing-reference1_shown", {"reference1_shown": ""}, {}, "incomplete"),
    ("missing-reference2_standard", {"reference2_shown": "101"}, {}, "incomplete"),
    ("missing-reference2_shown", {"reference3_standard": "W", "reference3_shown": "99"}, {}, "incomplete"),
    ("no-hold", {"hold": "off"}, {"uses": ("sets the dose",)}, "asked"),
]


@pytest.mark.parametrize(("key", "bad", "facts", "validity"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], facts: dict[str, Any], validity: str
) -> None:
    outcome = tried(checked, bad, **facts)
    assert caught(outcome, key)
    assert outcome.validity == validity
    assert not caught(tried(checked, THREE), key)


@pytest.mark.parametrize(("second", "asked"), [("150", False), ("150.1", True)])
def test_a_fifth_from_the_mean_is_not_yet_apart(checked: Checked, second: str, asked: bool) -> None:
    """100 and 150: the mean is 125, and each lies exactly a fifth of it away."""
    outcome = tried(checked, TWO | {"reference2_shown": second})
    assert bool(caught(outcome, "apart-2")) is asked
    assert bool(caught(outcome, "apart-1")) is asked


def test_new_lamps_begin_anew_and_an_old_lamp_goes_on(checked: Checked) -> None:
    last = {"hours": Fraction(5000)}
    assert tried(checked, {"hours": "12", "lamp_changed": "yes"}, last=last).verdict == "pass"
    assert tried(checked, {"hours": "5000", "lamp_changed": "no"}, last=last).verdict == "pass"
    answers = {"hours": Answer(choice="counter", reason="new board")}
    assert tried(checked, {"hours": "12"}, last=last, answers=answers).verdict == "pass"


def test_a_sensor_of_another_quantity_is_refused(checked: Checked) -> None:
    dose = make_standard("U", "UV sensor", "0", "mJ/cm²", is_lot=False, opened=None)
    assert caught(tried(checked, {}, [dose]), "other-unit-1") == ["refuse"]
    small = make_standard("U", "UV sensor", "0", "mW/cm²", is_lot=False, opened=None)
    assert not caught(tried(checked, {}, [small]), "other-unit-1")


def test_the_certificate_s_correction_counts_in_its_own_unit(checked: Checked) -> None:
    """The reference reads 10 W/m² low, which is 1 mW/cm²: 110 beside 90 is 110 beside 100."""
    for unit, correction in (("W/m²", "10"), ("mW/cm²", "1")):
        known = make_standard(
            "U", "UV sensor", "0", unit, is_lot=False, opened=None, corrections=((Fraction(9), Fraction(correction)),)
        )
        outcome = tried(checked, {"reference1_shown": "90"}, [known])
        assert outcome.worked.figure("ratio") == Fraction("1.1")
        for line in figured(outcome):
            assert_agrees(line)


def test_the_uncertainty_beside_one_reference_by_hand(checked: Checked) -> None:
    """Ratio d/r with d = 110 and r = 100: 1/r for the duty sensor's digit, d/r² for U / 2 = 3 and the other digit."""
    per_duty, per_reference, digit = 1 / 100, 110 / 100**2, 1 / math.sqrt(12)
    u = math.sqrt((per_duty * digit) ** 2 + (per_reference * 3) ** 2 + (per_reference * digit) ** 2)
    budgets = tried(checked, {}, STATED).budgets
    assert {name: float(one.expanded) for name, one in budgets.items()} == pytest.approx(
        {"ratio": 2 * u, "alive": 2 * u}, rel=1e-9
    )


def test_the_uncertainty_beside_three_references_by_hand(checked: Checked) -> None:
    """Their mean is 101; each counts a third: d / (3 x 101²)."""
    per_duty, each, digit = 1 / 101, 110 / (3 * 101**2), 1 / math.sqrt(12)
    u = math.sqrt((per_duty * digit) ** 2 + 3 * (each * 3) ** 2 + 3 * (each * digit) ** 2)
    three = tried(checked, THREE, STATED).budgets["ratio"]
    assert float(three.expanded) == pytest.approx(2 * u, rel=1e-9)
    assert three.expanded < tried(checked, {}, STATED).budgets["ratio"].expanded


def test_one_reference_that_states_none_leaves_the_ratio_without(checked: Checked) -> None:
    assert tried(checked, THREE, [STATED[0], STATED[1], SENSORS[2]]).budgets == {}
    assert tried(checked, {"reference1_shown": "0"}, STATED).budgets == {}


def test_guarded_a_ratio_near_its_limit_is_conditional(checked: Checked) -> None:
    near = THREE | {"duty": "121"}  # 1.198 with 0.04
    assert tried(checked, near, STATED, guarded=True).verdict == "conditional pass"
    assert tried(checked, near, STATED).verdict == "pass"
