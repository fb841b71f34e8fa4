"""Turbidity: drift, fouling and both together, the low standard, blocks, NTU against FNU, and what it is unsure by."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from math import sqrt
from typing import Any

import pytest

from calibration.compute.asked import as_left_unchanged
from calibration.compute.method import Band, Known
from calibration.compute.methods import turbidity
from calibration.compute.standards import Assigned, Standard
from calibration.compute.typed import fields_for, read_fields
from calibration.compute.verdict import judge
from tests.calibration.compute.methods.conftest import DAY, Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured

HALF = make_standard("half", "turbidity standard", "0.50", "NTU")
FIVE = make_standard("five", "turbidity standard", "5.00", "NTU")
TWENTY = make_standard("twenty", "turbidity standard", "20.0", "NTU")
GIVEN = Assigned(unit_key="asset-9", value=Fraction("0.48"), text="0.48", on=date(2026, 10, 1))
BLOCK = make_standard("block", "turbidity block", "0.52", "NTU", assigned=(GIVEN,))
GOOD = {"hold": "on", "way": "primary", "standard": "half", "shown": "0.52"}
WATER = {"dirty": "0.08", "cleaned": "0.06"}
IN_BLOCK = {"way": "block", "standard": "block", "shown": "0.50"}
HIGH = {"standard": "twenty", "shown": "20.1"}
LOW = {"low_standard": "half", "low_shown": "0.51"}


def judged(
    checked: Checked,
    *changes: dict[str, str],
    standards: tuple[Standard, ...] = (HALF, FIVE, TWENTY, BLOCK),
    **facts: Any,
) -> Any:
    typed: dict[str, str] = dict(GOOD)
    for one in changes:
        typed |= one
    return checked(turbidity.METHOD, typed, *standards, **facts)


def keys(outcome: Any) -> set[str]:
    return {one.key for one in outcome.found if one.weight != "remind"}


def names(outcome: Any) -> set[str]:
    return {one.name for one, _ in outcome.judged}


# ---------------------------------------------------------------------------------------------------------- the working


@pytest.mark.parametrize(
    "changes", [WATER, WATER | HIGH | LOW, {"shown": "0.4501", "dirty": "0.0600001", "cleaned": "0.06"}]
)
def test_every_line_can_be_worked_out_by_hand(checked: Checked, changes: dict[str, str]) -> None:
    lines = figured(judged(checked, changes))
    assert len(lines) >= 4
    for line in lines:
        assert_agrees(line)


@pytest.mark.parametrize(
    ("standard", "shown", "verdict"),
    [
        ("half", "0.55", "pass"), ("half", "0.45", "pass"), ("half", "0.551", "fail"), ("half", "0.449", "fail"),
        ("five", "5.5", "pass"), ("five", "4.5", "pass"), ("five", "5.501", "fail"), ("five", "4.499", "fail"),
    ],
)  # fmt: skip
def test_the_larger_of_a_twentieth_and_a_tenth_passes_itself(
    checked: Checked, standard: str, shown: str, verdict: str
) -> None:
    assert judged(checked, {"standard": standard, "shown": shown}).verdict == verdict


# ---------------------------------------------------------------------------------------------------- fouling and drift


@pytest.mark.parametrize(
    ("shown", "dirty", "cleaned", "verdict", "worst"),
    [
        ("0.50", "0.11", "0.06", "pass", ""),  # fouling 0.05, its limit
        ("0.49", "0.111", "0.06", "fail", "fouling"),
        ("0.50", "0.01", "0.06", "pass", ""),
        ("0.51", "0.009", "0.06", "fail", "fouling"),
        ("0.50", "2.2", "2.0", "fail", "total"),  # fouling 0.2, a tenth of the water; 0.2 in 0.5 NTU is too much
        ("0.53", "0.08", "0.06", "pass", ""),  # 0.03 + 0.02 = 0.05 in 0.50 NTU
        ("0.53", "0.081", "0.06", "fail", "total"),
        ("0.44", "0.10", "0.06", "fail", "error"),  # the dirt hides the drift: -0.06 + 0.04 = -0.02
        ("0.46", "0.12", "0.06", "fail", "fouling"),  # and the drift the dirt: 0.06 - 0.04 = 0.02
    ],
)
def test_as_found_drift_fouling_and_both_are_judged_and_the_worst_decides(
    checked: Checked, shown: str, dirty: str, cleaned: str, verdict: str, worst: str
) -> None:
    outcome = judged(checked, {"shown": shown, "dirty": dirty, "cleaned": cleaned})
    assert outcome.verdict == verdict
    assert {one.name for one, word in outcome.judged if word == "fail"} == ({worst} if worst else set())


def test_the_limit_of_fouling_grows_with_the_water_and_that_of_both_with_the_standard(checked: Checked) -> None:
    """By hand: 10 % of 2.0 NTU is 0.2, of the standard's 5.00 it is 0.5."""
    water = {"standard": "five", "shown": "5.3", "cleaned": "2.0"}
    assert judged(checked, water, {"dirty": "2.2"}).verdict == "pass"  # 0.2 and 0.3 + 0.2
    assert judged(checked, water, {"dirty": "2.201"}).verdict == "fail"
    assert judged(checked, water, {"dirty": "2.2", "shown": "5.301"}).verdict == "fail"


def test_a_limit_the_site_sets_for_the_error_counts_for_both_together(checked: Checked) -> None:
    def limits(edge: str, name: str) -> dict[str, Band]:
        band = Band(low=-Fraction(edge), high=Fraction(edge), unit="NTU", source="site", tag="site setting")
        return {name: band}

    assert judged(checked, WATER, limits=limits("0.04", "error")).verdict == "pass"  # 0.02 + 0.02
    assert judged(checked, WATER, limits=limits("0.039", "error")).verdict == "fail"
    both = limits("0.039", "error") | limits("0.04", "total")
    assert judged(checked, WATER, limits=both).verdict == "pass"


def test_as_left_neither_asks_for_fouling_nor_judges_it(checked: Checked) -> None:
    asked = {one.name for one in fields_for(turbidity.METHOD, "as left")}
    assert not {"dirty", "cleaned"} & asked
    assert names(judged(checked, {"dirty": "9", "cleaned": "0.06"}, kind="as left")) == {"error"}
    assert names(judged(checked, WATER)) == {"error", "fouling", "total"}


def test_a_history_is_of_the_drift_whether_the_water_was_read_or_not(checked: Checked) -> None:
    with_water, without = judged(checked, WATER), judged(checked)
    assert with_water.worked.next_value == without.worked.next_value == {"error": Fraction("0.02")}
    assert turbidity.METHOD.headline == with_water.judged[0][0].name == "error"


def test_as_left_that_is_as_found_judges_the_drift_alone(checked: Checked) -> None:
    entered = read_fields(fields_for(turbidity.METHOD, "as found"), GOOD | WATER | {"dirty": "0.5"})
    inputs = turbidity.METHOD.read(entered, "as found", {})
    known = Known(day=DAY, standards={"half": HALF})
    assert judge(turbidity.METHOD, inputs, known).verdict == "fail"
    assert names(judge(turbidity.METHOD, as_left_unchanged(inputs), known)) == {"error"}


def test_dirty_water_alone_is_refused_and_cleaned_alone_is_said(checked: Checked) -> None:
    assert caught(judged(checked, {"dirty": "0.30"}), "half-fouling") == ["refuse"]
    assert caught(judged(checked, {"cleaned": "0.06"}), "cleaned-first") == ["remind"]
    assert not {"half-fouling", "cleaned-first"} & {one.key for one in judged(checked, WATER).found}


def test_a_signal_at_its_end_dirty_and_cleaned_is_no_clean_meter(checked: Checked) -> None:
    flat = {"dirty": "5.00", "cleaned": "5.00"}
    outcome = judged(checked, flat, settings={"upper": "5"})
    assert {"clipped-dirty", "clipped-cleaned"} <= keys(outcome)
    assert outcome.verdict is None
    assert not keys(judged(checked, {"dirty": "4.99", "cleaned": "4.99"}, settings={"upper": "5"}))


# --------------------------------------------------------------------------------------------------------- low standard


@pytest.mark.parametrize(("low", "verdict"), [("0.55", "pass"), ("0.551", "fail"), ("0.45", "pass"), ("0.449", "fail")])
def test_a_low_standard_is_judged_like_the_other(checked: Checked, low: str, verdict: str) -> None:
    outcome = judged(checked, HIGH, LOW, {"low_shown": low})
    assert outcome.verdict == verdict
    assert outcome.worked.model.kind == "two-point"
    assert not caught(outcome, "zero-not-proved")


@pytest.mark.parametrize(
    ("low", "facts", "key"),
    [
        ({"low_shown": "3.0"}, {}, "half-low"),
        ({"low_standard": "half"}, {}, "half-low"),
        ({"low_standard": "block", "low_shown": "3.0"}, {}, "block-as-primary-low"),
        ({"low_standard": "block", "low_shown": "3.0"}, {"unit_key": "asset-9"}, "block-as-primary-low"),
        ({"low_standard": "twenty", "low_shown": "20.1"}, {}, "not-lower"),  # the same once more
        ({"low_standard": "again", "low_shown": "20.1"}, {}, "not-lower"),  # another lot, the same value
        ({"low_standard": "hundred", "low_shown": "100"}, {}, "not-lower"),
    ],
)
def test_no_low_standard_passes_unjudged_or_judged_for_nothing(
    checked: Checked, low: dict[str, str], facts: dict[str, Any], key: str
) -> None:
    more = (replace(TWENTY, id="again"), make_standard("hundred", "turbidity standard", "100", "NTU"))
    outcome = judged(checked, HIGH, low, standards=(HALF, TWENTY, BLOCK, *more), **facts)
    assert caught(outcome, key)
    assert outcome.verdict is None
    assert not keys(judged(checked, HIGH, LOW))


def test_a_low_block_counts_with_the_value_of_this_meter_alone(checked: Checked) -> None:
    tall = replace(BLOCK, id="tall", assigned=(replace(GIVEN, value=Fraction(20), text="20.0"),))
    typed = {"way": "block", "standard": "tall", "shown": "20.1", "low_standard": "block"}

    def read(low: str, unit_key: str) -> Any:
        return judged(checked, typed, {"low_shown": low}, standards=(tall, BLOCK), unit_key=unit_key)

    assert read("0.53", "asset-9").verdict == "pass"  # assigned 0.48, not 0.52 as on its label
    assert read("0.531", "asset-9").verdict == "fail"
    other = read("3.0", "asset-3")
    assert keys(other) == {"block-unassigned", "block-unassigned-low"}
    assert other.validity == "not valid"


def test_the_zero_is_proved_by_what_was_judged_low_not_by_what_was_typed(checked: Checked) -> None:
    usual: dict[str, Any] = {"settings": {"working_value": "0.07"}}
    assert caught(judged(checked, HIGH, **usual), "zero-not-proved")
    for unjudged in ({"low_shown": "3.0"}, {"low_standard": "block", "low_shown": "3.0"}):
        assert caught(judged(checked, HIGH, unjudged, **usual), "zero-not-proved")
    assert caught(judged(checked, HIGH, {"low_standard": "five", "low_shown": "5.0"}, **usual), "zero-not-proved")
    assert not caught(judged(checked, HIGH, LOW, **usual), "zero-not-proved")
    assert not caught(judged(checked, HIGH, settings={"working_value": "20"}), "zero-not-proved")


def test_two_equal_points_are_no_line(checked: Checked) -> None:
    again = replace(TWENTY, id="again")
    outcome = judged(checked, HIGH, {"low_standard": "again", "low_shown": "20.3"}, standards=(TWENTY, again))
    assert outcome.worked.model.kind == "gain"
    assert outcome.worked.model.points == ((Fraction(20), Fraction("20.1")),)


@pytest.mark.parametrize(("value", "caught_so"), [("0", True), ("0.05", True), ("0.051", False)])
def test_a_meter_that_shows_nothing_passes_in_no_standard(checked: Checked, value: str, caught_so: bool) -> None:
    """The limit is 0.05 NTU there: a dead meter would stand within it."""
    low = make_standard("half", "turbidity standard", value, "NTU")
    outcome = judged(checked, {"shown": "0.00"}, standards=(low,))
    assert bool(caught(outcome, "no-gain")) is caught_so
    assert outcome.verdict == (None if caught_so else "fail")


# --------------------------------------------------------------------------------------------------------------- blocks


@pytest.mark.parametrize(("last", "old"), [("2026-10-01", False), ("2026-10-02", True), ("", False)])
def test_a_block_is_assigned_anew_after_each_primary_calibration(checked: Checked, last: str, old: bool) -> None:
    facts: dict[str, Any] = {"unit_key": "asset-9", "settings": {"last_primary": last}}
    outcome = judged(checked, IN_BLOCK, **facts)
    assert bool(caught(outcome, "old-assignment")) is old
    assert outcome.verdict == (None if old else "pass")
    tall = replace(BLOCK, id="tall", assigned=(replace(GIVEN, value=Fraction(20), on=date(2026, 11, 1)),))
    typed = {"way": "block", "standard": "tall", "shown": "20.1", "low_standard": "block", "low_shown": "0.48"}
    low = judged(checked, typed, standards=(tall, BLOCK), **facts)
    assert bool(caught(low, "old-assignment-low")) is old
    assert not caught(low, "old-assignment")


def test_a_primary_standard_is_not_read_under_the_name_of_a_block(checked: Checked) -> None:
    """Or its day would not be known as that of a primary calibration, and old values of blocks would stand."""
    assert caught(judged(checked, {"way": "block"}), "primary-as-block") == ["refuse"]
    assert not keys(judged(checked, IN_BLOCK, unit_key="asset-9"))


# ------------------------------------------------------------------------------------------------- units, far standards


@pytest.mark.parametrize(
    ("unit", "shows", "weights"),
    [
        ("NTU", "", []), ("NTU", "ntu", []), ("FNU", "fnu", []), ("FNU", "", ["ask"]), ("FNU", "ntu", ["ask"]),
        ("NTU", "fnu", ["ask"]), ("", "fnu", []),
    ],
)  # fmt: skip
def test_ntu_and_fnu_are_asked_about_where_they_meet(
    checked: Checked, unit: str, shows: str, weights: list[str]
) -> None:
    settings = {"shows": shows}
    assert caught(judged(checked, standards=(replace(HALF, unit=unit),), settings=settings), "mixed-units") == weights
    low = judged(checked, HIGH, LOW, standards=(replace(HALF, unit=unit), replace(TWENTY, unit="")), settings=settings)
    assert caught(low, "mixed-units-low") == weights


def test_a_block_in_another_unit_cannot_be_called_formazin(checked: Checked) -> None:
    block = judged(checked, IN_BLOCK, standards=(replace(BLOCK, unit="FNU"),), unit_key="asset-9")
    formazin = judged(checked, standards=(replace(HALF, unit="FNU"),))
    choices = [{one.code for one in outcome.unanswered[0].choices} for outcome in (block, formazin)]
    assert choices == [{"other", "write again"}, {"formazin", "other", "write again"}]


def test_a_standard_in_no_unit_of_turbidity_is_refused_and_a_meter_in_fnu_is_judged_in_it(checked: Checked) -> None:
    assert caught(judged(checked, standards=(replace(HALF, unit="mg/L"),)), "other-unit") == ["refuse"]
    outcome = judged(checked, WATER, standards=(replace(HALF, unit="FNU"),), settings={"shows": "fnu"})
    assert {one.unit for one, _ in outcome.judged} == {"FNU"}


@pytest.mark.parametrize(
    ("usual", "standard", "far"),
    [
        ("4", "twenty", False), ("3.99", "twenty", True), ("25", "five", False), ("25.1", "five", True),
        ("0.07", "half", False), ("0.01", "half", False), ("0.07", "five", True), ("2.5", "half", False),
        ("2.6", "half", True),
    ],
)  # fmt: skip
def test_a_standard_more_than_five_times_the_water_or_less_than_a_fifth_is_asked_about(
    checked: Checked, usual: str, standard: str, far: bool
) -> None:
    """Below 0.5 NTU the limit is a fixed one, and how many times smaller the water is says nothing."""
    shown = {"half": "0.5", "five": "5", "twenty": "20"}[standard]
    outcome = judged(checked, {"standard": standard, "shown": shown}, settings={"working_value": usual})
    assert bool(caught(outcome, "far-from-process")) is far


def test_two_standards_around_the_water_are_near_enough(checked: Checked) -> None:
    far: dict[str, Any] = {"settings": {"working_value": "3"}}
    assert caught(judged(checked, HIGH, **far), "far-from-process")
    assert not caught(judged(checked, HIGH, LOW, **far), "far-from-process")


# ---------------------------------------------------------------------------------------------------------- uncertainty

STATED: dict[str, Any] = {"uncertainty": Fraction("0.02"), "k": Fraction(2), "certificate": "certificate of the bottle"}


def u_c(outcome: Any, name: str) -> float:
    combined = outcome.budgets[name].combined
    assert combined is not None
    return float(combined.u_c)


def test_each_error_has_its_own_uncertainty_by_hand(checked: Checked) -> None:
    """Digits of 0.1 in the high standard, 0.01 in the low one and on the water; U / 2 of each standard."""
    high = replace(TWENTY, **{**STATED, "uncertainty": Fraction(1)})
    outcome = judged(checked, WATER, HIGH, LOW, standards=(replace(HALF, **STATED), high))
    assert u_c(outcome, "error") == pytest.approx(sqrt(0.5**2 + 0.1**2 / 12), rel=1e-9)
    assert u_c(outcome, "low") == pytest.approx(sqrt(0.01**2 + 0.01**2 / 12), rel=1e-9)
    assert u_c(outcome, "total") == pytest.approx(sqrt(0.5**2 + 0.1**2 / 12 + 2 * 0.01**2 / 12), rel=1e-9)
    assert set(outcome.budgets) == {"error", "low", "total"}


def test_guarded_both_together_are_conditional_near_their_limit(checked: Checked) -> None:
    """U = 2 x sqrt(0.01^2 + 3 x 0.01^2 / 12) = 0.0224 around 0.05."""
    standards = (replace(HALF, **STATED),)
    facts: dict[str, Any] = {"standards": standards, "guarded": True}
    assert judged(checked, WATER, {"shown": "0.50"}, **facts).verdict == "pass"  # 0.02
    assert judged(checked, WATER, {"shown": "0.51"}, **facts).verdict == "conditional pass"  # 0.03
    assert judged(checked, WATER, {"shown": "0.55"}, **facts).verdict == "conditional fail"  # 0.07
    assert judged(checked, WATER, {"shown": "0.56"}, **facts).verdict == "fail"


@pytest.mark.parametrize("facts", [{"uncertainty": None}, {"k": None}, {"uncertainty": Fraction(0)}])
def test_a_standard_that_states_none_and_a_block_leave_it_not_stated(checked: Checked, facts: dict[str, Any]) -> None:
    assert judged(checked, WATER, standards=(replace(HALF, **{**STATED, **facts}),), guarded=True).budgets == {}
    block = judged(checked, IN_BLOCK, standards=(replace(BLOCK, **STATED),), unit_key="asset-9", guarded=True)
    assert block.budgets == {}
    assert not block.uncertainty_stated
