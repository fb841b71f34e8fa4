"""When a mark is reached: by hand, against numpy and scipy, and what is said where nothing can be."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from itertools import pairwise

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from assets.compute.readings.facts import hours_between
from assets.compute.readings.forecast import age_of, forecast, middle_rate
from assets.compute.readings.series import Broken, Known, totals
from tests.assets.compute.readings.moments import BEGIN, PROPERTY, count, hour


def known(*pairs: tuple[float, int | str]) -> list[Known]:
    return list(totals([count(value, after) for after, value in pairs]).known)


def test_by_hand_the_last_reading_plus_what_is_left_over_the_mean_rate() -> None:
    # 60 h in 10 days are 6 a day; 500 - 460 = 40 left are 6 2/3 days, 160 h.
    found = forecast(known((0, 400), (120, 424), (240, 460)), Fraction(500))
    assert found.per_day == 6 and found.n == 3 and found.last_at == hour(240)
    assert found.at == hour(400)
    assert found.says == "About 18 March, an estimate: 6 a day by 3 readings, the last on 12 March."


def test_one_wild_rate_moves_the_mean_and_spares_the_second_opinion() -> None:
    even = known(*((24 * n, 6 * n) for n in range(10)))
    wild = known(*((24 * n, 6 * n) for n in range(9)), (24 * 9, 500))
    mark = Fraction(1000)
    assert forecast(even, mark).by_median == forecast(even, mark).at
    found = forecast(wild, mark)
    assert found.at is not None and found.by_median is not None
    assert hours_between(hour(24 * 9), found.at) < 24 * 10  # 500 left at 55 a day
    assert middle_rate(wild) == Fraction(6, 24)


@PROPERTY
@given(st.lists(st.tuples(st.integers(1, 72), st.fractions(0, 24, max_denominator=10)), min_size=2, max_size=12))
def test_the_second_opinion_is_the_slope_of_scipy_and_the_mean_that_of_numpy(
    runs: list[tuple[int, Fraction]],
) -> None:
    after = numpy.cumsum([0, *(hours for hours, _ in runs)])
    shown = numpy.cumsum([0.0, *(float(counted) for _, counted in runs)])
    readings, value = [count(0, 0)], Fraction(0)
    for (_, counted), at in zip(runs, after[1:], strict=True):
        value += counted
        readings.append(count(value, float(at)))
    found = list(totals(readings).known)
    assert float(middle_rate(found)) == pytest.approx(theilslopes(shown, after).slope, abs=1e-9)
    if value:
        mean = forecast(found, value + 1, window_days=1000).per_day
        assert float(mean or 0) == pytest.approx(24 * shown[-1] / after[-1], rel=1e-9)


def test_a_meter_exchanged_inside_gives_the_same_day() -> None:
    swap = Broken(kind="replaced", old_last=Fraction(440), new_first=Fraction(0))
    swapped = totals([count(400, 0), count(424, 120), count(20, 240, broken=swap)]).known
    assert forecast(swapped, Fraction(500)).at == forecast(known((0, 400), (120, 424), (240, 460)), Fraction(500)).at


def test_two_totals_in_one_moment_tell_no_rate_between_them() -> None:
    swap = Broken(kind="replaced", old_last=Fraction(424), new_first=Fraction(0))
    swapped = totals([count(400, 0), count(424, 120), count(0, 120, broken=swap), count(36, 240)]).known
    assert forecast(swapped, Fraction(500)).at == hour(400)
    one_moment = totals([count(424, 120), count(0, 120, broken=swap)]).known
    assert forecast(one_moment, Fraction(500)).says == "One reading tells no rate; two are needed."


@pytest.mark.parametrize(
    ("pairs", "mark", "says"),
    [
        ((), 5, "There is no reading yet."),
        (((0, 4),), 5, "One reading tells no rate; two are needed."),
        (((0, 4), (24, 5)), 5, "Reached already."),
        (((0, 4), (24, 4)), 5, "It has not moved, so no day can be told."),
        (((0, 4), (24, 5)), 3656, "More than ten years off at this rate."),
    ],
)
def test_where_nothing_can_be_told_it_says_why(pairs: tuple[tuple[float, int], ...], mark: int, says: str) -> None:
    found = forecast(known(*pairs), Fraction(mark))
    assert (found.at, found.by_median, found.says) == (None, None, says)


def test_ten_years_is_still_told() -> None:
    found = forecast(known((0, 4), (24, 5)), Fraction(3655))  # 3650 days left at one a day
    assert found.at == hour(24) + dt.timedelta(days=3650)


def test_only_the_window_counts_and_two_readings_at_least() -> None:
    old_and_new = known((0, 0), (2400, 1000), (2520, 1050))
    assert forecast(old_and_new, Fraction(2000)).per_day == 10 and forecast(old_and_new, Fraction(2000)).n == 2
    assert forecast(old_and_new, Fraction(2000), window_days=1).n == 2
    assert forecast(old_and_new, Fraction(2000), window_days=365).per_day == 10


@pytest.mark.parametrize(("days", "stale"), [(0, False), (30, False), (31, True), (40, True)])
def test_thirty_days_unread_are_still_fresh_and_one_more_is_not(days: int, stale: bool) -> None:
    found = age_of(BEGIN, BEGIN + dt.timedelta(days=days) - dt.timedelta(minutes=45))
    assert (found.days, found.stale) == (days, stale)
    assert found.says.endswith("Read the meter: what hangs on it cannot be told.") == stale


def test_never_read_is_stale() -> None:
    assert age_of(None, BEGIN).stale and age_of(None, BEGIN).days is None
    assert age_of(BEGIN, BEGIN + dt.timedelta(days=3), days=2).stale
    ages = [age_of(BEGIN, BEGIN + dt.timedelta(days=n)).days or 0 for n in range(60)]
    assert all(later - earlier == 1 for earlier, later in pairwise(ages))
