"""How an uncertainty is written, against JCGM 100:2008 7.2.6 and by what may never happen to it."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.compute.coverage import coverage_factor
from calibration.compute.reporting import (
    MAY_LOWER_EA,
    kept,
    reported,
    rounded_uncertainty,
    shown_up,
    significant,
)
from tests.published import example

F = Fraction


def test_published_roundings(reproduced: Any) -> None:
    case = example("gum_7_2_6_rounding")
    up, down, ohm, mass = case.inputs["cases"]
    reproduced(rounded_uncertainty(F(str(up["u"])))[0], case.figures["u1_round_up"])
    reproduced(rounded_uncertainty(F(str(down["u"])))[0], case.figures["u2_round_down"])
    value, u = reported(F(str(ohm["y"])), F(str(ohm["u"])))
    reproduced(F(value), case.figures["y_rounded"])
    assert u == "0.027"
    k = coverage_factor(0.95, mass["nu"])
    reproduced(k, case.figures["k"])
    reproduced(k * mass["u"], case.figures["U_t95_9"])
    assert reported(mass["y"], k * mass["u"]) == ("100.02147", "0.00079")


def test_the_accreditation_rule_lets_four_and_a_half_percent_go() -> None:
    """EA-4/02 6.3, from memory: up only where rounding would take more than 5 %; 10.47 -> 10 takes 4.5 %."""
    assert rounded_uncertainty(F("10.47"), may_lower=MAY_LOWER_EA)[0] == 10
    assert rounded_uncertainty(F("0.01049"), may_lower=MAY_LOWER_EA)[0] == F("0.010")  # 4.7 %
    assert rounded_uncertainty(F("0.01049"))[0] == F("0.011")


@pytest.mark.parametrize(
    ("value", "u", "texts"),
    [
        ("-7.004999", "0.0200", ("−7.005", "0.020")),
        ("12345", "996", ("12300", "1000")),
        ("12344.9", "151", ("12340", "150")),
        ("-12345", "150", ("−12350", "150")),
        ("0.5", "9.96", ("1", "10")),
        ("7.0249", "0.0996", ("7.02", "0.10")),
    ],
)
def test_the_result_goes_to_the_last_place_of_u(value: str, u: str, texts: tuple[str, str]) -> None:
    assert reported(F(value), F(u)) == texts


@pytest.mark.parametrize(
    ("u", "text"),
    [
        ("0.0201", "0.021"),
        ("0.02", "0.020"),
        ("0.0991", "0.10"),
        ("1001", "1100"),
        ("3", "3.0"),
        ("0.00012", "0.00012"),
    ],
)
def test_on_a_page_u_only_goes_up(u: str, text: str) -> None:
    assert shown_up(F(u)) == text


def test_a_float_that_means_a_tenth_stays_a_tenth() -> None:
    assert shown_up(0.1) == "0.10" and shown_up(2 * 0.05) == "0.10" and shown_up(0.1 + 0.2) == "0.30"


@given(st.fractions(min_value=F(1, 10**9), max_value=10**9, max_denominator=10**9))
def test_what_is_shown_is_never_less_than_u_nor_a_tenth_more(u: Fraction) -> None:
    shown = F(shown_up(u))
    assert u <= shown <= u * F(11, 10)
    assert abs(F(kept(u)) - u) <= u * F(5, 10**6)
    near, _ = rounded_uncertainty(u)
    assert u - near <= u / 100 and shown_up(near).rstrip("0").rstrip(".")


def test_six_digits_are_kept_and_three_shown_in_a_working() -> None:
    assert kept(F("0.123456789")) == "0.123457"
    assert kept(F(2)) == "2.00000"
    assert significant(F("-0.0028867")) == "−0.00289"
    assert significant(0.0) == "0" and significant(F("123456")) == "123000"


@pytest.mark.parametrize("u", [F(0), F(-1)])
def test_no_uncertainty_is_not_written_as_one(u: Fraction) -> None:
    for write in (shown_up, kept, rounded_uncertainty):
        with pytest.raises(ValueError, match="above 0"):
            write(u)
