"""Advice on intervals: published limits and paths, and that too little evidence changes nothing."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.compute.studies.intervals import (
    advise_from_share,
    exact_limits,
    exponential_interval,
    interval_test,
    mean_over_interval,
    rescaled,
)
from calibration.compute.studies.proposal import AsFound, AsLeft, Clamps
from calibration.compute.studies.staircase import (
    balancing_cut,
    incremental_path,
    incremental_response,
    simple_response,
    staircase,
)
from tests.published import Published, example

F = Fraction
WIDE = Clamps(shortest=F(1, 1000), longest=F(10_000))


def found(error: str, days: int = 90) -> AsFound:
    return AsFound(days=F(days), error=F(error), limit=F(1))


@pytest.mark.parametrize(
    ("error", "days", "clamped"),
    [
        ("0.8", 99, False),  # on 80 % of the limit is within it
        ("-0.8", 99, False),
        ("0.801", 90, False),
        ("1", 90, False),  # on the limit is inside
        ("-1.001", 63, False),
    ],
)
def test_the_staircase(error: str, days: int, clamped: bool) -> None:
    step = staircase([found("5"), found(error)], current=F(90), clamps=WIDE)
    assert step is not None
    assert (step.days, step.n, step.method, step.clamped) == (days, 2, "staircase", clamped)


def test_the_staircase_is_held_by_the_clamps_of_the_instrument() -> None:
    narrow = Clamps(shortest=F(80), longest=F(95))
    longer = staircase([found("0")], current=F(90), clamps=narrow)
    shorter = staircase([found("2")], current=F(90), clamps=narrow)
    assert longer is not None and (longer.days, longer.clamped) == (95, True)
    assert shorter is not None and (shorter.days, shorter.clamped) == (80, True)
    assert staircase([], current=F(90), clamps=narrow) is None
    with pytest.raises(ValueError, match="no longer than the longest"):
        Clamps(shortest=F(9), longest=F(8))


def test_as_left_results_are_refused_by_type() -> None:
    left: Any = AsLeft(days=F(90), error=F(0), limit=F(1))
    with pytest.raises(TypeError, match="as left results are refused"):
        staircase([found("0"), left], current=F(90), clamps=WIDE)
    with pytest.raises(TypeError, match="as left results are refused"):
        advise_from_share([found("0")] * 9 + [left], current=F(90), target=0.9, clamps=WIDE)


def test_simple_and_incremental_response(reproduced: Any) -> None:
    case = example("interval_simple_and_incremental")
    extension, target = F(str(case.inputs["a"])), F(str(case.inputs["R"]))
    reproduced(balancing_cut(extension=extension, target=target), case.figures["b_for_a01_R09"])
    given_ = case.inputs["A2"]
    results = [found("0" if one else "2") for one in given_["y"]]
    path = incremental_path(results, begin=F(given_["I0"]), target=F(str(given_["R"])), clamps=WIDE)
    for at, (got, kept) in enumerate(zip(path, json.loads(case.words["A2_path"]), strict=True), start=1):
        reproduced(got, Published(case.file, f"A2_path {at}", kept, 5e-6, case.source, "computed"))
    step = incremental_response(results, begin=F(given_["I0"]), target=F(str(given_["R"])), clamps=WIDE)
    assert (step.days, step.current, step.n, step.clamped) == (path[-1], path[-2], 6, False)


def test_a_first_failure_is_held_by_the_clamp() -> None:
    # Without the clamp: 12 (1 - 0.9) = 1.2.
    held = Clamps(shortest=F(6), longest=F(24))
    assert incremental_path([found("2")], begin=F(12), target=F(9, 10), clamps=held) == (6,)


def test_the_simple_response_balances_at_its_target() -> None:
    asked = {"current": F(12), "target": F(9, 10), "extension": F(1, 10)}
    longer = simple_response([found("2")] * 4 + [found("0")], clamps=WIDE, **asked)
    shorter = simple_response([found("0")] * 4 + [found("2")], clamps=WIDE, **asked)
    assert longer.days == F("13.2")
    # Nine steps up and one down, at the target of nine in ten, lead back to where they began.
    assert float(longer.days / 12) ** 9 * float(shorter.days or 0) == pytest.approx(12, rel=1e-12)
    held = simple_response([found("2")] * 5, clamps=Clamps(shortest=F(6), longest=F(24)), **asked)
    assert (held.days, held.clamped) == (6, True)


def test_responses_are_silent_below_five_results_and_refuse_as_left() -> None:
    few = incremental_response([found("2")], begin=F(12), target=F(9, 10), clamps=WIDE)
    also = simple_response([found("2")] * 4, current=F(12), target=F(9, 10), extension=F(1, 10), clamps=WIDE)
    assert few.days is None and few.why.endswith("only the staircase speaks; there is 1.")
    assert also.days is None and also.why.endswith("only the staircase speaks; there are 4.")
    left: Any = AsLeft(days=F(90), error=F(0), limit=F(1))
    with pytest.raises(TypeError, match="as left results are refused"):
        incremental_path([left], begin=F(12), target=F(9, 10), clamps=WIDE)
    with pytest.raises(TypeError, match="as left results are refused"):
        simple_response([left] * 5, current=F(12), target=F(9, 10), extension=F(1, 10), clamps=WIDE)


def test_binomial_limits_and_the_interval_test(reproduced: Any) -> None:
    case = example("interval_test_binomial")
    share = exact_limits(case.inputs["defects"], case.inputs["n"], confidence=case.inputs["level"])
    reproduced(share.low, case.figures["lower"])
    reproduced(share.high, case.figures["upper"])
    given_ = case.inputs["a3"]
    test = interval_test(given_["in_tol"], given_["n"], target=given_["target"], confidence=given_["level"])
    reproduced(test.share.low, case.figures["a3_lo"])
    reproduced(test.share.high, case.figures["a3_hi"])
    reproduced(test.rejected, case.figures["a3_reject_95_target"])
    reproduced(test.p, case.figures["a3_one_sided_p_vs_95"])
    assert test.says.startswith("Not enough evidence: 17 of 20")


def test_exponential_arithmetic(reproduced: Any) -> None:
    case = example("interval_exponential_target")
    rate, begin = case.inputs["lam_per_month"], case.inputs["R0"]
    reproduced(exponential_interval(rate=rate, target=0.85, at_start=begin), case.figures["t_85_months"])
    reproduced(exponential_interval(rate=rate, target=0.95, at_start=begin), case.figures["t_95_months"])
    reproduced(mean_over_interval(0.72), case.figures["R_avg_for_Rstar_072"])
    reproduced(rescaled(12, observed=0.9, target=0.95), case.figures["new_interval_12mo_obs_90_target_95"])


@pytest.mark.parametrize(("k", "n"), [(0, 5), (5, 5), (1, 12)])
def test_limits_against_another_program(k: int, n: int) -> None:
    from scipy.stats import binomtest

    other = binomtest(k, n).proportion_ci(0.95, method="exact")
    assert exact_limits(k, n).low == pytest.approx(other.low, abs=1e-12)
    assert exact_limits(k, n).high == pytest.approx(other.high, abs=1e-12)


def test_below_five_results_only_the_staircase_speaks() -> None:
    four = advise_from_share([found("3")] * 4, current=F(90), target=0.95, clamps=WIDE)
    assert four.days is None and four.n == 4
    assert four.why == "Not enough evidence: below 5 as found results only the staircase speaks; there are 4."


def test_evidence_or_none() -> None:
    good, bad = found("0"), found("2")
    quiet = advise_from_share([good] * 17 + [bad] * 3, current=F(90), target=0.95, clamps=WIDE)
    assert quiet.days is None and quiet.why.startswith("Not enough evidence")
    loud = advise_from_share([good] * 10 + [bad] * 10, current=F(90), target=0.95, clamps=WIDE)
    # By hand: 90 ln 0.95 / ln 0.5 = 90 (-0.0512932944) / (-0.6931471806).
    assert float(loud.days or 0) == pytest.approx(6.6600523, abs=1e-6)
    assert loud.low is not None and loud.high is not None and loud.low < float(loud.days or 0) < loud.high
    none = advise_from_share([bad] * 9, current=F(90), target=0.95, clamps=Clamps(shortest=F(30), longest=F(365)))
    assert (none.days, none.clamped) == (30, True)
    # All of 200 in tolerance is evidence that the target is beaten, but gives no rate.
    every = advise_from_share([good] * 200, current=F(90), target=0.95, clamps=WIDE)
    assert every.days is None and every.why.endswith("None failed, so there is no rate to lengthen the interval by.")


@given(st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_limits_hold_the_share_and_mirror(drawn: tuple[int, int]) -> None:
    k, n = drawn
    one, other = exact_limits(k, n), exact_limits(n - k, n)
    assert one.low <= k / n <= one.high
    assert one.low == pytest.approx(1 - other.high, abs=1e-12)
