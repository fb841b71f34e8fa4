"""What counters counted, by hand, against pandas, and by what must always hold."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import pandas
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.readings import series
from assets.compute.readings.facts import Span
from assets.compute.readings.series import Broken, Count
from assets.compute.units import convert
from tests.assets.compute.readings.moments import PROPERTY, count, hour, read

RUNS = st.lists(
    st.tuples(st.fractions(0, 24, max_denominator=10), st.integers(1, 72)), min_size=1, max_size=12
)  # what was counted, and the hours it took


def whole(start: float, end: float) -> Span:
    return Span(start=hour(start), end=hour(end))


def counter(runs: list[tuple[Fraction, int]], start: Fraction, modulus: Fraction | None = None) -> list[Count]:
    """The readings of a counter that counted so; with a modulus it begins anew, and somebody says so."""
    readings, value, after = [count(start % modulus if modulus else start, 0)], start, 0
    for counted, hours in runs:
        before, value, after = value, value + counted, after + hours
        turned = modulus is not None and value // modulus > before // modulus
        why = Broken(kind="rolled over", modulus=modulus) if turned else None
        readings.append(count(value % modulus if modulus else value, after, broken=why))
    return readings


@PROPERTY
@given(RUNS, st.fractions(0, 900, max_denominator=10))
def test_a_total_through_rollovers_is_the_total_without(runs: list[tuple[Fraction, int]], start: Fraction) -> None:
    # A modulus above any single step: several rollovers in a series, at most one in a step.
    plain, turning = counter(runs, start), counter(runs, start, Fraction(1000, 7) if start < 100 else Fraction(1000))
    end = sum(hours for _, hours in runs)
    for found in (series.total_over(one, whole(0, end)) for one in (plain, turning)):
        assert found.value == sum(counted for counted, _ in runs)
        assert found.whole and found.unsettled == ()


@PROPERTY
@given(RUNS, st.fractions(0, 900, max_denominator=10), st.integers(0, 11), st.fractions(0, 50, max_denominator=10))
def test_a_counter_exchanged_inside_counts_like_one_that_was_not(
    runs: list[tuple[Fraction, int]], start: Fraction, where: int, new_first: Fraction
) -> None:
    kept = counter(runs, start)
    at = min(where, len(runs) - 1) + 1
    old_last = kept[at].value - runs[at - 1][0] / 2  # exchanged in the middle of what was counted
    shift = new_first - old_last
    swapped = kept[:at] + [
        count(
            one.value + shift, (one.at - hour(0)).total_seconds() / 3600,
            broken=Broken(kind="replaced", old_last=old_last, new_first=new_first) if n == 0 else None,
        )
        for n, one in enumerate(kept[at:])
    ]  # fmt: skip
    assert [one.total for one in series.totals(swapped).known] == [one.total for one in series.totals(kept).known]
    assert [one.shown for one in series.totals(swapped).known[at:]] == [one.value + shift for one in kept[at:]]


@PROPERTY
@given(RUNS, st.randoms())
def test_the_order_of_entry_does_not_matter(runs: list[tuple[Fraction, int]], random: object) -> None:
    readings = counter(runs, Fraction(5), Fraction(50))
    shuffled = [*readings, readings[0]]
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert series.steps(shuffled) == series.steps(readings)
    assert series.totals(shuffled) == series.totals(readings)


@PROPERTY
@given(RUNS)
def test_differences_and_rates_are_those_of_pandas(runs: list[tuple[Fraction, int]]) -> None:
    readings = counter(runs, Fraction(5))
    table = pandas.Series([float(one.value) for one in readings], index=[one.at.astimezone(dt.UTC) for one in readings])
    hours = table.index.to_series().diff().dt.total_seconds() / 3600
    assert [float(one.counted) for one in series.steps(readings)] == pytest.approx(list(table.diff()[1:]), abs=1e-9)
    assert [float(one) for one in series.rates(readings)] == pytest.approx(list((table.diff() / hours)[1:]), abs=1e-9)
    assert float(series.usual_rate(readings)) == pytest.approx((table.diff() / hours).median(), abs=1e-9)


@PROPERTY
@given(RUNS, st.integers(0, 400))
def test_stretches_that_meet_add_up(runs: list[tuple[Fraction, int]], cut: int) -> None:
    readings = counter(runs, Fraction(5))
    end = sum(hours for _, hours in runs)
    cut = min(cut, end)
    parts = [series.total_over(readings, one, share_out=True) for one in (whole(0, cut), whole(cut, end))]
    assert sum(one.value or 0 for one in parts) == readings[-1].value - 5
    assert sum(one.covered_hours for one in parts) == end


@PROPERTY
@given(RUNS)
def test_another_unit_changes_nothing(runs: list[tuple[Fraction, int]]) -> None:
    metres = counter(runs, Fraction(5), Fraction(50))
    litres = [
        count(convert(one.value, "m³", "L"), (one.at - hour(0)).total_seconds() / 3600,
              broken=one.broken and Broken(kind="rolled over", modulus=Fraction(50000)))
        for one in metres
    ]  # fmt: skip
    span = whole(-1, 2000)
    assert series.total_over(litres, span).value == series.total_over(metres, span).value * 1000


def test_by_hand_a_day_with_an_exchange_and_a_rollover() -> None:
    # 99 990 -> 5 through 100 000: 15. 5 -> 20: 15. Exchange: old one ends at 24 (4), new one from 7 to 9 (2).
    readings = [
        count(99990, 0),
        count(5, 24, broken=Broken(kind="rolled over", modulus=Fraction(100000))),
        count(20, 48),
        count(9, 72, broken=Broken(kind="replaced", old_last=Fraction(24), new_first=Fraction(7))),
    ]
    assert [one.counted for one in series.steps(readings)] == [15, 15, 6]
    assert [one.total for one in series.totals(readings).known] == [99990, 100005, 100020, 100026]


def test_only_whole_steps_count_unless_they_are_shared_out() -> None:
    readings = [count(0, -6), count(24, 18), count(48, 42)]  # a reading each morning at six hours before the edge
    left_out = series.total_over(readings, whole(0, 24))
    assert (left_out.value, left_out.covered_hours, left_out.says) == (None, 0, "No readings cover this time.")
    shared = series.total_over(readings, whole(0, 24), share_out=True)
    assert (shared.value, shared.covered_hours) == (24, 24)  # 18 of 24 + 6 of 24 hours, one an hour
    assert "those over an edge shared out by time; covers the whole time." in shared.says


def test_partial_cover_is_said() -> None:
    found = series.total_over([count(0, 1), count(12, 21)], whole(0, 24))
    assert (found.value, found.covered_hours, found.of_hours, found.whole) == (12, 20, 24, False)
    assert found.says == "From 1 step between readings; covers 20 of 24 h."


def test_a_fall_nobody_explained_is_left_out_and_ends_the_running_total() -> None:
    readings = [count(10, 0), count(16, 24), count(3, 48), count(9, 72)]
    found = series.total_over(readings, whole(0, 72))
    assert (found.value, found.covered_hours) == (12, 48)
    assert found.unsettled == ("It fell from 16 to 3, and nobody said why.",)
    running = series.totals(readings)
    assert [one.total for one in running.known] == [10, 16]
    assert running.stopped is not None and running.stopped.end.value == 3


def test_two_numbers_at_one_moment_are_no_count() -> None:
    (step,) = series.steps([count(10, 0), count(12, 0)])
    assert step.counted is None and "one of them is a slip" in step.why
    assert series.steps([count(10, 0), count(10, 0)]) == ()


def test_the_last_of_the_old_and_the_first_of_the_new_may_be_read_in_one_moment() -> None:
    swap = Broken(kind="replaced", old_last=Fraction(18403), new_first=Fraction(0))
    readings = [count(0, 24, broken=swap), count(18403, 24), count(18400, 0), count(5, 48)]
    assert [one.counted for one in series.steps(readings)] == [3, 0, 5]
    halves = [series.total_over(readings, one).value for one in (whole(0, 24), whole(24, 48))]
    assert halves == [3, 5]


def test_what_an_exchange_adds_in_its_moment_is_counted_in_one_stretch_only() -> None:
    swap = Broken(kind="replaced", old_last=Fraction(18404), new_first=Fraction(0))
    readings = [count(18400, 0), count(18403, 24), count(0, 24, broken=swap), count(5, 48)]
    halves = [series.total_over(readings, one).value for one in (whole(0, 24), whole(24, 48))]
    assert halves == [4, 5]


def test_a_whole_turn_that_was_said_counts() -> None:
    readings = [count(100, 0), count(120, 24, broken=Broken(kind="rolled over", modulus=Fraction(1000)))]
    assert series.steps(readings)[0].counted == 1020


@pytest.mark.parametrize(
    ("why", "said"),
    [
        (Broken(kind="rolled over"), "is needed"),
        (Broken(kind="rolled over", modulus=Fraction(100)), "cannot show 100"),
        (Broken(kind="replaced", old_last=Fraction(99), new_first=Fraction(0)), "Neither can have fallen"),
        (Broken(kind="replaced", old_last=Fraction(101), new_first=Fraction(4)), "Neither can have fallen"),
        (Broken(kind="replaced", old_last=Fraction(101)), "needs the last number"),
    ],
)
def test_an_explanation_that_does_not_fit_explains_nothing(why: Broken, said: str) -> None:
    (step,) = series.steps([count(100, 0), count(3, 24, broken=why)])
    assert step.counted is None and said in step.why


def test_a_break_kept_as_text_is_read_in_the_unit_of_the_series() -> None:
    found = series.broken("replaced", numbers=("", "1,5", "0"), unit="m³", into="L")
    assert (found.old_last, found.new_first, found.modulus) == (1500, 0, None)
    assert series.with_break(read("2", "m³", 0, into="L"), found).value == 2000


# When a total is known, and when a mark was known to be reached


def test_a_total_is_known_when_its_reading_is_written_down_and_the_breaks_before_it() -> None:
    swap = Broken(kind="replaced", old_last=Fraction(30), new_first=Fraction(0))
    readings = [count(10, 0), count(20, 24, late=100), count(5, 48, broken=swap, late=60), count(9, 72)]
    known = series.totals(readings).known
    # 20 was written down late but the third reading does not need it; the exchange was said at 108.
    assert [one.known_at for one in known] == [hour(0), hour(124), hour(108), hour(108)]
    assert [one.total for one in known] == [10, 20, 35, 39]


def test_a_mark_is_known_to_be_reached_from_the_first_reading_written_down_over_it() -> None:
    readings = [count(10, 0), count(50, 24, late=96), count(60, 72)]
    found = series.first_reached(series.totals(readings), Fraction(50))
    assert found is not None and (found.at, found.known_at) == (hour(72), hour(72))
    alone = series.first_reached(series.totals(readings[:2]), Fraction(50))
    assert alone is not None and (alone.at, alone.known_at) == (hour(24), hour(120))
    assert series.first_reached(series.totals(readings), Fraction("60.1")) is None
    assert series.first_reached(series.totals(readings), Fraction(60)) is not None


def test_as_known_on_a_day_leaves_out_what_was_written_down_later() -> None:
    readings = [count(10, 0), count(50, 24, late=96), count(60, 72)]
    assert [one.value for one in series.known_by(readings, hour(80))] == [10, 60]
    assert [one.value for one in series.known_by(readings, hour(120))] == [10, 50, 60]


def test_the_total_at_a_moment_is_the_one_read_before_it() -> None:
    found = series.totals([count(10, 0), count(50, 24)])
    assert series.total_at(found, hour(-1)) is None
    assert [one.total for one in (series.total_at(found, hour(at)) for at in (0, 23, 24, 90)) if one] == [
        10,
        10,
        50,
        50,
    ]
    assert series.hours_old(found, hour(26)) == 2
    assert series.totals([]).last is None and series.hours_old(series.totals([]), hour(0)) is None
    assert [one.total for one in series.totals([count(7, 0)]).known] == [7]
