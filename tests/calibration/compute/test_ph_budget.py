"""The uncertainty of a pH error at the process value: worked by hand, and none where a lot states none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from math import sqrt

import pytest

from calibration.compute.budget import Budget
from calibration.compute.method import Known
from calibration.compute.methods.ph.budget import weights_at
from calibration.compute.verdict import Outcome
from tests.calibration.compute.conftest import THIRD

Check = Callable[..., Outcome]
FIXED = {"process_shown": None, "point1_temperature": "25", "point2_temperature": "25"}
"""Nothing read in the process: judged at the working pH. At 25 degC the buffers are worth pH 7.000 and 10.012."""


@pytest.fixture
def stated(known: Known) -> dict[str, object]:
    """Lots of which each states U = 0.02 with k = 2 on a certificate of its own."""
    return {
        key: replace(one, uncertainty=Fraction("0.02"), k=Fraction(2), certificate=f"BR-{key}")
        for key, one in known.standards.items()
    }


def drawn(outcome: Outcome) -> Budget:
    assert set(outcome.budgets) == {"error"}
    return outcome.budgets["error"]


def buffers_of(outcome: Outcome) -> tuple[Fraction, Fraction]:
    first, second = (outcome.worked.figure(f"true_{n}") for n in (1, 2))
    assert isinstance(first, Fraction) and isinstance(second, Fraction)
    return first, second


def test_between_the_buffers_by_hand(check: Check, stated: dict[str, object]) -> None:
    # Weights at the process: x1 = 7.0475, x2 = 10.1485, x = 7.7748: w2 = 0.7273 / 3.101 = 0.23453, w1 = 0.76547.
    # Each buffer u = 0.02 / 2 = 0.01, each last digit u = 0.01 / sqrt(12) = 0.0028868.
    # u_c = sqrt((0.76547^2 + 0.23453^2) x (0.01^2 + 0.0028868^2)) = 0.80059 x 0.0104083 = 0.0083328; U = 0.016666.
    outcome = check(standards=stated)
    budget = drawn(outcome)
    assert float(budget.expanded) == pytest.approx(0.016666, abs=2e-6)
    assert budget.k == 2 and budget.name == "error at the process value" and budget.unit == "pH"
    assert outcome.verdict == "pass" and not outcome.uncertainty_stated
    said = [line.text for line in outcome.worked.lines]
    assert "Error there; limit ±0.10 pH, uncertainty below" in said
    assert any(text.startswith("Not counted: the temperature of the buffers") for text in said)
    assert outcome.worked.lines[-1].value == "0.017"


def test_at_a_buffer_that_buffer_alone_counts(check: Check, stated: dict[str, object]) -> None:
    # w1 = 1, w2 = 0: u_c = sqrt(0.01^2 + 0.01^2 / 12) = 0.0104083; U = 0.0208167.
    first, _ = buffers_of(check(FIXED, standards=stated, settings={"working_ph": "8"}))
    budget = drawn(check(FIXED, standards=stated, settings={"working_ph": str(float(first))}))
    assert float(budget.expanded) == pytest.approx(2 * sqrt(0.01**2 + 0.01**2 / 12), abs=1e-6)


@pytest.mark.parametrize("missing", ["7", "10", "both"])
def test_no_uncertainty_stated_gives_no_budget(
    check: Check, stated: dict[str, object], known: Known, missing: str
) -> None:
    bare = {key: one for key, one in known.standards.items() if missing in (key, "both")}
    outcome = check(standards={**stated, **bare})
    assert outcome.budgets == {}
    assert "uncertainty not stated" in " ".join(line.text for line in outcome.worked.lines)


def test_one_buffer_gives_no_budget(check: Check, stated: dict[str, object]) -> None:
    second = {f"point2_{name}": None for name in ("lot", "temperature", "mv", "shown", "seconds", "steady")}
    outcome = check(second, standards=stated, settings={"points": "1"})
    assert outcome.budgets == {} and outcome.worked.figure("error") is not None


def test_lots_of_one_certificate_are_taken_as_one(check: Check, stated: dict[str, object]) -> None:
    # r = 1: the buffers add up to (0.76547 + 0.23453) x 0.01 = 0.01; the last digits stay 0.80059 x 0.0028868.
    # u_c = sqrt(0.01^2 + 0.0023111^2) = 0.0102636; U = 0.020527.
    same = {key: replace(one, certificate="BR-1") for key, one in stated.items()}  # type: ignore[type-var]
    outcome = check(standards=same)
    assert float(drawn(outcome).expanded) == pytest.approx(0.020527, abs=2e-6)
    assert any("fully correlated (r = 1)" in line.text for line in outcome.worked.lines)


def test_beyond_the_buffers_nothing_cancels(check: Check, stated: dict[str, object]) -> None:
    same = {key: replace(one, certificate="BR-1") for key, one in stated.items()}  # type: ignore[type-var]
    one, other = (check(FIXED, standards=lots, settings={"working_ph": "6"}) for lots in (stated, same))
    assert drawn(one).expanded == drawn(other).expanded > Fraction("0.0208")


def test_guarded_the_budget_counts(check: Check, stated: dict[str, object]) -> None:
    # Shown 7.11 in the first buffer: the error is about 0.05; with U near 0.017 that is a pass, with U = 0.17 not.
    wide = {key: replace(one, uncertainty=Fraction("0.2")) for key, one in stated.items()}  # type: ignore[type-var]
    assert check(standards=stated, guarded=True).verdict == "pass"
    assert check(standards=wide, guarded=True).verdict == "conditional pass"
    assert check(standards=wide).verdict == "pass"


def test_three_buffers_weigh_by_least_squares(check: Check, stated: dict[str, object]) -> None:
    at = Fraction("7.5")
    assert weights_at((Fraction(7), Fraction(10)), at) == (Fraction(5, 6), Fraction(1, 6))
    three = weights_at((Fraction(4), Fraction(7), Fraction(10)), at)
    assert sum(three) == 1 and three[1] == Fraction(1, 3)
    third = {name.replace("third_", "point3_"): text for name, text in THIRD.items()}
    assert len(drawn(check(third, standards=stated)).components) == 6
