"""Particle counter: flow, zero, what a drifted flow does to its counts, channels, uncertainty of the flow; catches."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.methods import particle_counter
from calibration.compute.standards import Standard
from calibration.compute.verdict import Outcome
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured

CYLINDER = make_standard("P", "column", "0", "mL", is_lot=False, opened=None)
STATED = make_standard("P", "column", "0", "mL", is_lot=False, uncertainty=Fraction("0.5"), k=Fraction(2))
GOOD = {"hold": "on", "column": "P", "volume": "104", "seconds": "60", "zero": "4"}
CHANNELS = {
    "channel1_size": "2",
    "channel1_counts": "58",
    "channel2_size": "5",
    "channel2_counts": "21",
    "channel3_size": "15",
    "channel3_counts": "3",
}
SETTINGS = {"rated_flow": "100", "coincidence": "10000"}


def tried(checked: Checked, changes: dict[str, str], column: Standard = CYLINDER, **facts: Any) -> Outcome:
    typed = {name: text for name, text in (GOOD | changes).items() if text}
    return checked(particle_counter.METHOD, typed, column, **{"settings": SETTINGS, **facts})


@pytest.mark.parametrize("changes", [{}, CHANNELS, CHANNELS | {"counts": "61", "seconds": "59"}, {"volume": "97.3"}])
def test_every_line_can_be_worked_out_by_hand(checked: Checked, changes: dict[str, str]) -> None:
    outcome = tried(checked, changes)
    assert outcome.unanswered == ()
    assert len(figured(outcome)) >= 2
    for line in figured(outcome):
        assert_agrees(line)


@pytest.mark.parametrize(
    ("volume", "seconds", "verdict"),
    [
        ("105", "60", "pass"),
        ("95", "60", "pass"),
        ("105.1", "60", "fail"),
        ("94.9", "60", "fail"),
        ("52.5", "30", "pass"),  # the same flow in half the time
        ("52.6", "30", "fail"),
        ("0", "60", "fail"),
    ],
)
def test_five_per_cent_of_the_rated_flow_passes(checked: Checked, volume: str, seconds: str, verdict: str) -> None:
    """From memory: 5 % of the rated flow."""
    assert tried(checked, {"volume": volume, "seconds": seconds}).verdict == verdict


@pytest.mark.parametrize(("zero", "verdict"), [("10", "pass"), ("10.1", "fail"), ("0", "pass")])
def test_ten_counts_of_particle_free_water_pass(checked: Checked, zero: str, verdict: str) -> None:
    """From memory: 10 counts a millilitre."""
    assert tried(checked, {"zero": zero}).verdict == verdict


def test_a_flow_that_is_off_makes_the_counts_as_much_wrong(checked: Checked) -> None:
    """At 104 mL/min a counter told 100 shows 52 where 50 are: as much too high as its flow."""
    outcome = tried(checked, CHANNELS | {"counts": "52"})
    true = outcome.worked.figure("counts")
    assert true == 50
    assert 100 * (52 - Fraction(true)) / Fraction(true) == outcome.worked.figure("flow") == 4
    assert outcome.worked.figure("channel_2") == Fraction(21 * 100, 104)
    assert outcome.worked.model.kind == "gain"
    ((told, flowed),) = outcome.worked.model.points
    assert 52 / (flowed / told) == true  # carried back as a gain it comes to the same


def test_the_counts_are_never_judged(checked: Checked) -> None:
    outcome = tried(checked, CHANNELS | {"counts": "9000"})
    assert {one.name for one, _ in outcome.judged} == {"flow", "zero"}


CATCHES: list[tuple[str, dict[str, str], dict[str, Any], str]] = [
    ("no-rated-flow", {}, {"settings": {}}, "incomplete"),
    ("bubbles", {"bubbles": "yes"}, {}, "not valid"),
    ("laser", {"laser": "no"}, {}, "asked"),
    ("coincidence", {"counts": "10001"}, {}, "asked"),
    ("coincidence", CHANNELS | {"channel1_counts": "10001"}, {}, "asked"),
    ("zero-over", {"counts": "3"}, {}, "asked"),
    ("rising-2", CHANNELS | {"channel2_counts": "59"}, {}, "asked"),
    ("rising-3", CHANNELS | {"channel3_counts": "22"}, {}, "asked"),
    ("same-size-2", CHANNELS | {"channel2_size": "2.0"}, {}, "incomplete"),
    ("half-channel-2", CHANNELS | {"channel2_counts": ""}, {}, "incomplete"),
    ("half-channel-1", {"channel1_counts": "58"}, {}, "incomplete"),
    ("minutes", {"seconds": "1"}, {}, "asked"),
    ("minutes", {"volume": "285", "seconds": "3"}, {}, "asked"),
    ("litres", {"volume": "0.104"}, {}, "asked"),
    ("unread-serviced", {"serviced": "last spring"}, {}, "incomplete"),
    ("service-to-come", {"serviced": "2026-11-25"}, {}, "incomplete"),
    ("service-over", {"serviced": "2025-11-22"}, {}, "valid"),
    ("missing-zero", {"zero": ""}, {}, "incomplete"),
    ("missing-volume", {"volume": ""}, {}, "incomplete"),
    ("unread-seconds", {"seconds": "0"}, {}, "incomplete"),
]


@pytest.mark.parametrize(("key", "bad", "facts", "validity"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], facts: dict[str, Any], validity: str
) -> None:
    outcome = tried(checked, bad, **facts)
    assert caught(outcome, key)
    assert outcome.validity == validity
    assert not caught(tried(checked, CHANNELS | {"counts": "10000", "serviced": "2025-11-23"}), key)


def test_equal_counts_of_two_sizes_do_not_rise(checked: Checked) -> None:
    assert tried(checked, CHANNELS | {"channel2_counts": "58"}).verdict == "pass"


@pytest.mark.parametrize("order", list(itertools.permutations((1, 2, 3))))
@pytest.mark.parametrize(("middle", "asked"), [("21", False), ("59", True)])
def test_the_order_of_the_channels_changes_nothing(
    checked: Checked, order: tuple[int, ...], middle: str, asked: bool
) -> None:
    typed = CHANNELS | {"channel2_counts": middle}
    moved = {f"channel{new}_{name}": typed[f"channel{old}_{name}"] for old, new in zip((1, 2, 3), order, strict=True)
             for name in ("size", "counts")}  # fmt: skip
    rising = [one for one in tried(checked, moved).found if one.key.startswith("rising")]
    assert bool(rising) is asked


def test_a_channel_between_two_that_is_empty_is_passed_over(checked: Checked) -> None:
    assert tried(checked, CHANNELS | {"channel2_size": "", "channel2_counts": ""}).verdict == "pass"


def test_the_correction_of_the_cylinder_counts_in_its_own_unit(checked: Checked) -> None:
    """It reads 2 mL too much: 107 are 105, which is exactly on the limit."""
    for unit, at, added in (("mL", "107", "-2"), ("L", "0.107", "-0.002")):
        pairs = ((Fraction(at), Fraction(added)),)
        known = make_standard("P", "column", "0", unit, is_lot=False, opened=None, corrections=pairs)
        outcome = tried(checked, {"volume": "107"}, known)
        assert outcome.worked.figure("flow") == 5
        assert outcome.verdict == "pass"
        for line in figured(outcome):
            assert_agrees(line)
    assert tried(checked, {"volume": "107"}).verdict == "fail"


def test_a_cylinder_given_in_another_quantity_is_refused(checked: Checked) -> None:
    wrong = make_standard("P", "column", "0", "kPa", is_lot=False, opened=None)
    assert caught(tried(checked, {}, wrong), "other-unit-column") == ["refuse"]
    assert not caught(tried(checked, {}), "other-unit-column")


def test_the_uncertainty_by_hand(checked: Checked) -> None:
    """100 x (60 v / t - r) / r: 1 % for each mL of 104 in 60 s, 104 / 60 % for each second."""
    per_volume, per_second = 6000 / (60 * 100), 6000 * 104 / (60**2 * 100)
    u = math.sqrt((per_volume * 0.25) ** 2 + per_volume**2 / 12 + per_second**2 / 12)
    assert float(tried(checked, {}, STATED).budgets["flow"].expanded) == pytest.approx(2 * u, rel=1e-9)


def test_tenths_of_a_second_make_it_surer_and_no_certificate_leaves_none(checked: Checked) -> None:
    finer, plain = (tried(checked, {"seconds": text}, STATED).budgets["flow"] for text in ("60.0", "60"))
    assert finer.expanded < plain.expanded
    assert tried(checked, {}).budgets == {}
    assert tried(checked, {"column": ""}, STATED).budgets == {}


def test_guarded_a_flow_near_its_limit_is_conditional(checked: Checked) -> None:
    assert tried(checked, {}, STATED, guarded=True).verdict == "conditional pass"  # 4 % of 5 with 1.3
    assert tried(checked, {"volume": "102"}, STATED, guarded=True).verdict == "pass"


def test_a_good_flow_alone_is_no_pass(checked: Checked) -> None:
    """Counts of the water itself do not take the place of those in water without particles."""
    for changes in ({"zero": ""}, CHANNELS | {"zero": "", "counts": "60"}):
        assert tried(checked, changes).verdict is None
    assert tried(checked, {"zero": "0"}).verdict == "pass"
