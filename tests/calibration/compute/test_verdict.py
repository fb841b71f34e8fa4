"""Four outcomes: ILAC-G8:09/2019. The limit itself counts as inside: our choice, the guide leaves it open."""

from __future__ import annotations

from fractions import Fraction

import pytest

from calibration.compute.method import Judged, Verdict
from calibration.compute.verdict import verdict_of, worst


def judged(value: str | bool, *, u: str | None = None, low: str | None = "-0.10", high: str | None = "0.10") -> Judged:
    return Judged(
        name="error",
        what="error",
        value=value if isinstance(value, bool) else Fraction(value),
        unit="pH",
        of="",
        low=None if low is None else Fraction(low),
        high=None if high is None else Fraction(high),
        uncertainty=None if u is None else Fraction(u),
    )


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        ("0.07", "pass"),
        ("0.0700001", "conditional pass"),
        ("0.10", "conditional pass"),
        ("0.1000001", "conditional fail"),
        ("0.13", "conditional fail"),
        ("0.1300001", "fail"),
    ],
)
@pytest.mark.parametrize("sign", [1, -1])
def test_edges_with_an_uncertainty_of_003(value: str, verdict: Verdict, sign: int) -> None:
    assert verdict_of(judged(str(sign * Fraction(value)), u="0.03")) == verdict


@pytest.mark.parametrize("u", [None, "0"])
@pytest.mark.parametrize(("value", "verdict"), [("0.10", "pass"), ("-0.10", "pass"), ("0.1000001", "fail")])
def test_without_an_uncertainty_there_are_two_outcomes(u: str | None, value: str, verdict: Verdict) -> None:
    assert verdict_of(judged(value, u=u)) == verdict


def test_040_less_030_meets_010() -> None:
    # In binary floats abs(0.40 - 0.30) <= 0.10 is False.
    assert not abs(0.40 - 0.30) <= 0.10
    assert verdict_of(judged(str(Fraction("0.40") - Fraction("0.30")))) == "pass"


@pytest.mark.parametrize(("value", "verdict"), [("91.9", "fail"), ("92", "pass"), ("200", "pass")])
def test_a_limit_may_have_one_side(value: str, verdict: Verdict) -> None:
    assert verdict_of(judged(value, low="92", high=None)) == verdict


@pytest.mark.parametrize(("value", "verdict"), [(True, "pass"), (False, "fail")])
def test_what_can_only_be_so_or_not(value: bool, verdict: Verdict) -> None:
    assert verdict_of(judged(value)) == verdict


def test_an_uncertainty_cannot_be_negative() -> None:
    with pytest.raises(ValueError, match="cannot be negative"):
        verdict_of(judged("0", u="-0.01"))


def test_the_worst_decides() -> None:
    assert worst(("pass", "conditional fail", "conditional pass")) == "conditional fail"
    assert worst(()) is None
