"""The uncertainty of a chlorine check: of the bench meter, both last digits and how a pair repeats."""

from __future__ import annotations

from fractions import Fraction
from math import sqrt

import pytest

from calibration.compute.methods import chlorine
from tests.calibration.compute.methods.conftest import Checked, make_standard
from tests.calibration.compute.methods.test_chlorine import FREE, GOOD, METER

CERTIFIED = make_standard("M", "bench meter", "0", "mg/L", is_lot=False, opened=None, uncertainty=Fraction("0.06"),
                          k=Fraction(2), certificate="check of the bench meter")  # fmt: skip


def test_the_uncertainty_is_of_the_meter_both_digits_and_the_pair(checked: Checked) -> None:
    """By hand: 0.06 / 2; 0.01 / sqrt(12), twice; differences -0.16 and -0.14: s / sqrt(2) = 0.01."""
    typed = GOOD | {"grab1_shown": "0.84"}
    outcome = checked(chlorine.METHOD, typed, CERTIFIED, settings=FREE)
    combined = outcome.budgets["error"].combined
    assert combined is not None
    assert combined.u_c == pytest.approx(sqrt(0.03**2 + 2 * 0.01**2 / 12 + 0.01**2), rel=1e-9)
    assert set(outcome.budgets) == {"error"}


def test_the_coarser_digit_counts_in_whatever_row_it_stands(checked: Checked) -> None:
    rows = (("0.9", "1.0"), ("0.88", "1.02"))
    expanded = set()
    for one, two in (rows, rows[::-1]):
        typed = GOOD | {"grab1_shown": one[0], "grab1_bench": one[1], "grab2_shown": two[0], "grab2_bench": two[1]}
        expanded.add(checked(chlorine.METHOD, typed, CERTIFIED, settings=FREE).budgets["error"].expanded)
    assert len(expanded) == 1


def test_one_grab_and_a_meter_without_a_certificate_leave_it_not_stated(checked: Checked) -> None:
    one = {name: text for name, text in GOOD.items() if not name.startswith("grab2_")}
    settings = FREE | {"one_grab": "yes"}
    assert checked(chlorine.METHOD, one, CERTIFIED, settings=settings, guarded=True).budgets == {}
    assert not checked(chlorine.METHOD, one, CERTIFIED, settings=settings, guarded=True).uncertainty_stated
    assert checked(chlorine.METHOD, GOOD, METER, settings=FREE, guarded=True).budgets == {}


@pytest.mark.parametrize(
    ("shown", "verdict"),
    [("1.00", "pass"), ("0.86", "conditional pass"), ("0.84", "conditional fail"), ("0.70", "fail")],
)
def test_guarded_it_counts(checked: Checked, shown: str, verdict: str) -> None:
    typed = GOOD | {f"grab{n}_{name}": text for n in (1, 2) for name, text in (("shown", shown), ("bench", "1.00"))}
    assert checked(chlorine.METHOD, typed, CERTIFIED, settings=FREE, guarded=True).verdict == verdict
