"""Several instruments without a reference, against the worked example of NASA RP-1342."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.intercomparison import Instrument, compared, mean_reliability
from tests.published import example

F = Fraction


def three(*, readings: tuple[int, ...] = (0, 6, 15), scale: int = 1) -> tuple[Instrument, ...]:
    i = example("rp1342_smpc_three_instruments").inputs
    share = mean_reliability(i["R_star"], i["R0"])
    return tuple(
        Instrument(reading=F(scale * one), tolerance=F(scale * i["tol"]), in_tolerance=share) for one in readings
    )


def test_three_like_instruments(reproduced: Any) -> None:
    case = example("rp1342_smpc_three_instruments")
    assert tuple(case.inputs["readings"]) == (0, 6, 15)
    reproduced(mean_reliability(case.inputs["R_star"], case.inputs["R0"]), case.figures["R_avg"])
    found = compared(three())
    for number, one in enumerate(found, start=1):
        reproduced(one.bias, case.figures[f"bias_{number}"])
        reproduced(one.in_tolerance, case.figures[f"P_in_{number}"])
    reproduced(found[1].in_tolerance, case.figures["P_in_2_full"])


def test_the_likely_error_is_the_mean_of_what_is_left_by_direct_weighing() -> None:
    """The same posterior by sums over a grid of true values, for three unlike instruments."""
    own = [
        Instrument(reading=F(0), tolerance=F(10), in_tolerance=0.9),
        Instrument(reading=F(6), tolerance=F(4), in_tolerance=0.95),
        Instrument(reading=F(15), tolerance=F(20), in_tolerance=0.8),
    ]
    truths = [n / 200 for n in range(-20000, 20000)]
    weights = [math.exp(-sum((float(one.reading) - t) ** 2 / (2 * one.spread**2) for one in own)) for t in truths]
    for one, seen in zip(own, compared(own), strict=True):
        errors = [float(one.reading) - t for t in truths]
        mean = sum(w * e for w, e in zip(weights, errors, strict=True)) / sum(weights)
        assert seen.bias == pytest.approx(mean, abs=1e-6)
        inside = sum(w for w, e in zip(weights, errors, strict=True) if abs(e) <= one.tolerance) / sum(weights)
        assert seen.in_tolerance == pytest.approx(inside, abs=2e-3)


def test_the_order_and_the_unit_change_nothing_and_agreement_shows_no_error() -> None:
    found = compared(three())
    assert compared(three(readings=(15, 0, 6))) == (found[2], found[0], found[1])
    scaled = compared(three(scale=1000))
    assert [one.bias for one in scaled] == pytest.approx([1000 * one.bias for one in found])
    assert [one.in_tolerance for one in scaled] == pytest.approx([one.in_tolerance for one in found])
    assert all(one.bias == 0 for one in compared(three(readings=(7, 7, 7))))


def test_two_say_nothing_about_each_other() -> None:
    with pytest.raises(ValueError, match="it takes three"):
        compared(three()[:2])
    wrong = Instrument(reading=F(0), tolerance=F(0), in_tolerance=0.9)
    with pytest.raises(ValueError, match="A tolerance"):
        compared((*three(), wrong))
    assert mean_reliability(0.8, 0.8) == 0.8
    for shares in ((0.9, 0.8), (0, 1), (0.5, 1.1)):
        with pytest.raises(ValueError, match="not the larger"):
            mean_reliability(*shares)
