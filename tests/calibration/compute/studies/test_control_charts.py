"""Charts of single values against the NIST/SEMATECH e-Handbook; the cumulative sums against the recursion by hand."""

from __future__ import annotations

import random
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.compute.studies.baseline import Baseline, ChartPoint, NoLimits, baseline, watched
from calibration.compute.studies.control_charts import cusum, ewma, in_sds, individuals_limits
from calibration.compute.studies.run_rules import NELSON, WESTERN_ELECTRIC, signals
from tests.published import example

F = Fraction


def exact(values: Any) -> tuple[Fraction, ...]:
    return tuple(F(str(value)) for value in values)


def fixed(values: tuple[Fraction, ...]) -> Baseline:
    found = baseline([ChartPoint(value=value) for value in values], first=0, last=len(values) - 1)
    assert isinstance(found, Baseline)
    return found


def test_individuals_and_moving_range(reproduced: Any) -> None:
    case = example("nist_individuals_moving_range")
    limits = individuals_limits(fixed(exact(case.inputs["x"])))
    got = {
        "xbar": limits.centre,
        "MRbar": limits.mean_range,
        "UCL": limits.high,
        "LCL": limits.low,
        "MR_UCL": limits.range_high,
    }
    for name, value in got.items():
        reproduced(value, case.figures[name])
    # The constant of the printed tables, not the exact one: with that the upper limit is another figure.
    d2 = 2 / 3.141592653589793**0.5
    reproduced(d2, case.figures["d2_exact"])
    reproduced(float(limits.centre) + 3 * float(limits.mean_range) / d2, case.figures["UCL_with_exact_d2"])
    assert abs(float(limits.high) - case.figures["UCL_with_exact_d2"].value) > 0.001


def test_exponentially_weighted_mean(reproduced: Any) -> None:
    case = example("nist_ewma")
    given_ = case.inputs
    chart = ewma(
        given_["x"], target=given_["target"], sd=given_["s"], weight=given_["lam"], width=given_["k"], exact=False
    )
    reproduced(chart[0].high, case.figures["UCL"])
    reproduced(chart[0].low, case.figures["LCL"])
    for at, point in enumerate(chart, start=1):
        reproduced(point.value, case.figures[f"ewma_{at}"])
    reproduced(any(point.signal for point in chart), case.figures["any_signal"])


def test_exact_limits_widen_to_the_asymptotic_ones() -> None:
    chart = ewma([0.0] * 60, target=0, sd=1, weight=0.3)
    # At the first point z = w x, so its standard deviation is w sd.
    assert chart[0].high == pytest.approx(3 * 0.3)
    assert chart[-1].high == pytest.approx(3 * (0.3 / 1.7) ** 0.5, abs=1e-9)
    assert [one.high for one in chart] == sorted(one.high for one in chart)


# By hand from the recursion: target 10, slack 0.5, decision 4; a step of +1.5 adds 1.0 a check, a step of -2 adds 1.5.
@pytest.mark.parametrize(
    ("values", "restart", "high", "low", "signal"),
    [
        ("10 11.5 11.5 11.5 11.5 11.5", False, "0 1 2 3 4 5", "0 0 0 0 0 0", {5: "high"}),
        ("10 8 8 8", False, "0 0 0 0", "0 1.5 3 4.5", {3: "low"}),
        # A value far the other way takes the sum back to zero, and it begins again from there.
        ("11.5 11.5 7 11.5", False, "1 2 0 1", "0 0 2.5 0.5", {}),
        # After a signal both sums begin at zero.
        ("16 11.5 8", True, "5.5 1 0", "0 0 1.5", {0: "high"}),
        ("16 11.5 8", False, "5.5 6.5 4", "0 0 1.5", {0: "high", 1: "high"}),
    ],
)
def test_cumulative_sums_by_hand(values: str, restart: bool, high: str, low: str, signal: dict[int, str]) -> None:
    sums = cusum(exact(values.split()), target=F(10), slack=F(1, 2), decision=F(4), restart=restart)
    assert tuple(one.high for one in sums) == exact(high.split())
    assert tuple(one.low for one in sums) == exact(low.split())
    assert {at: one.signal for at, one in enumerate(sums) if one.signal} == signal


values = st.lists(st.fractions(min_value=-50, max_value=50, max_denominator=99), min_size=1, max_size=30)


@given(values)
def test_the_sums_are_mirrors_of_each_other(drawn: list[Fraction]) -> None:
    these = cusum(drawn, target=F(0), slack=F(1), decision=F(5))
    others = cusum([-x for x in drawn], target=F(0), slack=F(1), decision=F(5))
    assert [(one.high, one.low) for one in these] == [(one.low, one.high) for one in others]


@pytest.mark.parametrize("number", range(1, 9))
def test_each_rule_fires_at_the_last_point_of_its_shortest_sequence(number: int, reproduced: Any) -> None:
    case = example("run_rules")
    sequence = exact(case.inputs["sequences"][f"rule{number}"])
    fired = signals(sequence, rules=[f"N{number}"])
    reproduced(bool(fired), case.figures[f"rule{number}_fires"])
    assert fired[-1].at == (2 if number == 1 else len(sequence) - 1)
    if number > 1:
        assert not signals(sequence[:-1], rules=[f"N{number}"])


@pytest.mark.parametrize(
    ("code", "distances", "at"),
    [
        ("WE1", "3 -3 3.01", [2]),  # on the limit is inside it
        ("WE2", "2.1 -2.1 0", []),  # two sides are not one
        ("WE2", "-2.1 -2.2", [1]),  # two in a row at the beginning of a chart
        ("WE2", "2.1 2.2 0.1", [1]),  # not again at a point that lies near
        ("WE3", "1.1 1.1 1.1 0 1.1", [4]),
        ("WE4", "1 1 1 1 0 1 1 1 1", []),  # a point on the centre ends the run
        ("WE4", "-1 -1 -1 -1 -1 -1 -1 -1", [7]),
        ("N3", "1 2 3 4 4 5", []),  # two equal ones are not a rise
        ("N7", "1 -1 1 -1 1 -1 1 -1 1 -1 1 -1 1 -1 1", [14]),
        ("N8", "1.1 1.1 1.1 1.1 1 1.1 1.1 1.1", []),
    ],
)
def test_rules_at_their_edges(code: str, distances: str, at: list[int]) -> None:
    assert [one.at for one in signals(exact(distances.split()), rules=[code])] == at


@given(values)
def test_rules_do_not_know_up_from_down(drawn: list[Fraction]) -> None:
    every = [rule.code for rule in (*WESTERN_ELECTRIC, *NELSON)]
    assert signals(drawn, rules=every) == signals([-z for z in drawn], rules=every)


def test_the_four_rules_together_cry_wolf_once_in_92_checks() -> None:
    # NIST/SEMATECH e-Handbook 6.3.2: 91.75 checks from one false alarm to the next, each time begun anew.
    chance, lengths = random.Random(7), []
    codes = [rule.code for rule in WESTERN_ELECTRIC]
    for _ in range(1500):
        window: list[float] = []
        length = 0
        while not (window and any(one.at == len(window) - 1 for one in signals(window, rules=codes))):  # type: ignore[arg-type]
            window = [*window[-7:], chance.gauss(0, 1)]
            length += 1
        lengths.append(length)
    mean = sum(lengths) / len(lengths)
    spread = (sum((one - mean) ** 2 for one in lengths) / len(lengths)) ** 0.5 / len(lengths) ** 0.5
    assert abs(mean - 91.75) < 3 * spread < 8


def test_no_limits_below_ten_good_checks() -> None:
    points = [ChartPoint(value=F(at)) for at in range(12)]
    short = baseline(points, first=0, last=8)
    assert isinstance(short, NoLimits) and short.n == 9
    assert short.says == "No limits until a baseline of at least 10 good checks; there are 9."
    bad = [ChartPoint(value=F(99), good=False), *points[:9]]
    assert isinstance(baseline(bad, first=0, last=9), NoLimits)
    assert isinstance(baseline(points, first=0, last=9), Baseline)
    with pytest.raises(ValueError, match="lie in the history"):
        baseline(points, first=3, last=12)


@pytest.mark.parametrize("change", ["adjusted", "swapped", "method changed"])
def test_a_change_ends_a_baseline_and_what_it_judges(change: Any) -> None:
    before, after = [ChartPoint(value=F(1))] * 12, [ChartPoint(value=F(2))] * 3
    history = [*before, *after, ChartPoint(value=F(9), change=change), *after]
    fixed_ = baseline(history, first=0, last=9)
    assert isinstance(fixed_, Baseline)
    assert watched(history, fixed_).values == (1, 1, 2, 2, 2)
    assert watched(history, fixed_).ended == change
    across = baseline(history, first=0, last=18)
    assert isinstance(across, NoLimits) and across.n == 4


def test_equal_checks_give_no_distances() -> None:
    with pytest.raises(ValueError, match="no spread"):
        in_sds([F(1)], individuals_limits(fixed((F(1),) * 10)))
    limits = individuals_limits(fixed(exact(range(10))))
    assert in_sds([limits.high], limits) == (3,)
