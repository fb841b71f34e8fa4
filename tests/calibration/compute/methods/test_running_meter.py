"""An hour meter by the clock and a totalizer by a known volume: what was counted, rollover, and what is caught."""

from __future__ import annotations

from fractions import Fraction

import pytest

from calibration.compute.methods import running_meter
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured

GOOD = {"way": "hours", "first": "1204.2", "last": "1205.2", "true": "1", "running": "yes"}
MODULUS = {"modulus": "100000"}


def test_an_hour_is_an_hour(checked: Checked) -> None:
    outcome = checked(running_meter.METHOD, GOOD)
    assert outcome.verdict == "pass"
    assert outcome.worked.figure("counted") == 1
    assert outcome.worked.model.points == ((Fraction(1), Fraction(1)),)
    lines = figured(outcome)
    assert len(lines) == 2
    for line in lines:
        assert_agrees(line)


@pytest.mark.parametrize(
    ("last", "verdict"), [("1010.1", "pass"), ("1009.9", "pass"), ("1010.11", "fail"), ("1009.89", "fail")]
)
def test_one_per_cent_itself_passes(checked: Checked, last: str, verdict: str) -> None:
    typed = GOOD | {"way": "volume", "first": "1000", "last": last, "true": "10"}
    assert checked(running_meter.METHOD, typed).verdict == verdict


@pytest.mark.parametrize("first", ["0", "50000", "99998.5", "99999.9"])
def test_a_meter_that_began_anew_counts_as_one_that_did_not(checked: Checked, first: str) -> None:
    last = (Fraction(first) + 10) % 100000
    typed = GOOD | {"first": first, "last": str(float(last)), "true": "10", "rolled": "yes"}
    outcome = checked(running_meter.METHOD, typed, settings=MODULUS)
    assert outcome.worked.figure("counted") == 10
    assert outcome.verdict == "pass"


def test_a_meter_that_stood_still_while_the_machine_ran_fails(checked: Checked) -> None:
    assert checked(running_meter.METHOD, GOOD | {"last": "1204.2"}).verdict == "fail"


def test_a_clock_that_is_registered_may_be_named(checked: Checked) -> None:
    clock = make_standard("C", "clock", "0", "s", is_lot=False)
    assert checked(running_meter.METHOD, GOOD | {"standard": "C"}, clock).verdict == "pass"


CATCHES = [
    ("down", {"last": "1203.2"}, "not valid"),
    ("no-modulus", {"rolled": "yes", "last": "0.2"}, "incomplete"),
    ("tenths", {"last": "1214.2"}, "asked"),
    ("tenths", {"true": "10"}, "asked"),
    ("stood", {"running": "no"}, "not valid"),
    ("power", {"power_only": "yes"}, "asked"),
    ("missing-true", {"true": ""}, "incomplete"),
    ("unread-true", {"true": "0"}, "incomplete"),
]


@pytest.mark.parametrize(("key", "bad", "validity"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], validity: str
) -> None:
    outcome = checked(running_meter.METHOD, GOOD | bad)
    assert caught(outcome, key)
    assert outcome.validity == validity
    assert not caught(checked(running_meter.METHOD, GOOD), key)


def test_a_meter_whose_number_is_written_is_not_asked_for_it(checked: Checked) -> None:
    assert not caught(
        checked(running_meter.METHOD, GOOD | {"first": "99999.5", "last": "0.5", "rolled": "yes"}, settings=MODULUS),
        "no-modulus",
    )
