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
    rolled = "yes" if last < Fraction(first) else "no"
    typed = GOOD | {"first": first, "last": str(float(last)), "true": "10", "rolled": rolled}
    outcome = checked(running_meter.METHOD, typed, settings=MODULUS)
    assert outcome.worked.figure("counted") == 10
    assert outcome.verdict == "pass"


def test_a_meter_that_stood_still_while_the_machine_ran_fails(checked: Checked) -> None:
    assert checked(running_meter.METHOD, GOOD | {"last": "1204.2"}).verdict == "fail"


CLOCK = make_standard("C", "clock", "0", "s", is_lot=False, uncertainty=Fraction("7.2"), k=Fraction(2))


def test_a_clock_that_is_named_gives_the_uncertainty_with_the_digits_read(checked: Checked) -> None:
    """By hand in % of 10 h: the clock 3.6 s = 0.001 h, read to 0.01 h, the meter twice to 0.1 h; it counted 10.1."""
    typed = GOOD | {"standard": "C", "last": "1214.3", "true": "10.00"}
    outcome = checked(running_meter.METHOD, typed, CLOCK)
    digits = [0.01**2 / 12 * 1.01**2, 0.1**2 / 12, 0.1**2 / 12]
    u = 100 / 10 * (0.001**2 * 1.01**2 + sum(digits)) ** 0.5
    assert float(outcome.budgets["error"].expanded) == pytest.approx(2 * u, rel=1e-9)
    assert outcome.verdict == "pass"
    assert checked(running_meter.METHOD, typed | {"standard": ""}).budgets == {}


def test_a_totalizer_states_none_for_nobody_knows_its_unit(checked: Checked) -> None:
    tank = make_standard("C", "tank", "50", "m²", is_lot=False, uncertainty=Fraction("0.1"), k=Fraction(2))
    typed = GOOD | {"way": "volume", "standard": "C"}
    assert checked(running_meter.METHOD, typed, tank).budgets == {}
    assert checked(running_meter.METHOD, typed, tank).verdict == "pass"


@pytest.mark.parametrize(("last", "true", "said"), [("1205.2", "1", True), ("1244.2", "40", False)])
def test_a_step_that_is_much_of_the_run_is_pointed_at(checked: Checked, last: str, true: str, said: bool) -> None:
    """0.1 h is a tenth of an hour's run and 0.25 % of forty hours: a quarter of the limit."""
    assert bool(caught(checked(running_meter.METHOD, GOOD | {"last": last, "true": true}), "coarse")) is said


CATCHES = [
    ("down", {"last": "1203.2"}, "not valid"),
    ("no-modulus", {"rolled": "yes", "last": "0.2"}, "incomplete"),
    ("not-rolled", {"rolled": "yes"}, "incomplete"),
    ("beyond", {"rolled": "yes", "first": "100000.5"}, "incomplete"),
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
    settings = MODULUS if key in {"not-rolled", "beyond"} else {}
    outcome = checked(running_meter.METHOD, GOOD | bad, settings=settings)
    assert caught(outcome, key)
    assert outcome.validity == validity
    assert not caught(checked(running_meter.METHOD, GOOD, settings=settings), key)


def test_a_clock_given_in_another_quantity_is_refused(checked: Checked) -> None:
    wrong = make_standard("C", "clock", "0", "kPa", is_lot=False)
    assert caught(checked(running_meter.METHOD, GOOD | {"standard": "C"}, wrong), "other-unit-standard") == ["refuse"]
    assert not caught(checked(running_meter.METHOD, GOOD | {"standard": "C"}, CLOCK), "other-unit-standard")


def test_a_meter_whose_number_is_written_is_not_asked_for_it(checked: Checked) -> None:
    assert not caught(
        checked(running_meter.METHOD, GOOD | {"first": "99999.5", "last": "0.5", "rolled": "yes"}, settings=MODULUS),
        "no-modulus",
    )
