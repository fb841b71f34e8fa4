"""How machines ran: by switching and by counter, twins, and what is noticed, each threshold at equality."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.readings import running, running_flags
from assets.compute.readings.facts import Span, Taken, site_day
from assets.compute.readings.running import Ran, Run, Shared
from assets.compute.readings.series import with_break
from tests.assets.compute.readings.moments import BEGIN, PROPERTY, ZONE, count, hour


def run(on: float, off: float | None) -> Run:
    return Run(on_at=hour(on), off_at=None if off is None else hour(off))


def span(start: float, end: float) -> Span:
    return Span(start=hour(start), end=hour(end))


def ran(runs: list[Run], start: float = 0, end: float = 24, until: float = 24) -> Ran:
    return running.ran_by_switching(runs, span(start, end), known_until=hour(until))


@pytest.mark.parametrize(
    ("runs", "hours", "starts"),
    [
        ([], 0, 0),
        ([run(2, 5)], 3, 1),
        ([run(-3, 5)], 5, 0),  # it ran when the day began: no start in it
        ([run(0, 5)], 5, 1),
        ([run(23, 30)], 1, 1),
        ([run(24, 30)], 0, 0),
        ([run(2, 5), run(5, 6)], 4, 1),  # off and on in one moment goes on
        ([run(2, 6), run(4, 8)], 6, 1),  # written twice, overlapping
        ([run(4, 8), run(2, 6), run(10, None)], 20, 2),
        ([run(3, 3)], 0, 1),
    ],
)
def test_hours_and_starts_by_when_it_went_on_and_off(runs: list[Run], hours: int, starts: int) -> None:
    found = ran(runs)
    assert (found.hours, found.starts, found.covered_hours) == (hours, starts, 24)
    assert found.duty == Fraction(hours, 24)


def test_after_what_is_known_nothing_is_told() -> None:
    found = ran([run(10, None)], until=12)
    assert (found.hours, found.covered_hours, found.duty) == (2, 12, Fraction(1, 6))
    assert found.says == "By when it went on and off; known for 12 of 24 h."
    later = ran([run(10, None)], until=-1)
    assert (later.hours, later.starts, later.duty) == (None, None, None)


def test_a_machine_does_not_stop_before_it_starts() -> None:
    with pytest.raises(ValueError, match="stop before"):
        run(2, 1)


RUNS = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 20)), max_size=8)


@PROPERTY
@given(RUNS, st.randoms(), st.integers(0, 48))
def test_order_does_not_matter_and_stretches_add_up(pairs: list[tuple[int, int]], random: object, cut: int) -> None:
    runs = [run(on, on + long) for on, long in pairs]
    shuffled = list(runs)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    whole = ran(runs, 0, 48, 48)
    assert ran(shuffled, 0, 48, 48) == whole
    parts = ran(runs, 0, cut, 48), ran(runs, cut, 48, 48)
    assert sum(one.hours or 0 for one in parts) == whole.hours
    # A second way: count the hours of the grid in which it ran; every number here is whole.
    assert whole.hours == sum(any(on <= at < on + long for on, long in pairs) for at in range(48))


def test_by_counter_a_daily_reading_is_shared_over_the_days_and_says_so() -> None:
    # Read at 06:48; 12 h in the first 24, 6 h in the second. The second of March has 06:48 to midnight, 17.2 h.
    hours = [count(100, 0), count(112, 24), count(118, 48)]
    starts = [count(40, 0), count(44, 24), count(46, 48)]
    first, second = running.site_days(dt.date(2026, 3, 2), dt.date(2026, 3, 3), ZONE)
    found = running.ran_by_counter(hours, first, starts=starts)
    assert (found.hours, found.covered_hours) == (Fraction("8.6"), Fraction("17.2"))  # 12 x 17.2 / 24
    assert found.duty == Fraction(1, 2) and found.shared_out
    assert running.ran_by_counter(hours, second).hours == Fraction("3.4") + 6 * Fraction("17.2") / 24
    assert running.ran_by_counter(hours, second).starts is None
    assert found.starts == 4 * Fraction("17.2") / 24


def test_the_day_clocks_go_forward_has_23_hours_to_run_in() -> None:
    day = site_day(dt.date(2026, 3, 8), ZONE)
    found = running.ran_by_switching([Run(on_at=day.start - dt.timedelta(days=1))], day, known_until=day.end)
    assert (found.hours, found.duty) == (23, 1)


def shared(one: int | str, other: int | str) -> Shared:
    a, b = (ran([run(0, float(Fraction(hours)))]) for hours in (one, other))
    found = running.share_between(a, b)
    assert found is not None
    return found


def test_the_share_of_a_twin_is_its_part_of_both() -> None:
    assert shared(6, 18).share == Fraction(1, 4) and shared(6, 18).apart == -12
    assert shared(0, 0).share is None
    assert running.share_between(ran([], until=24), ran([], until=12)) is None


# What is noticed


@pytest.mark.parametrize(("off", "noticed"), [(8, True), (7.9, True), (7.899, False)])
def test_a_night_may_miss_a_tenth_of_an_hour(off: float, noticed: bool) -> None:
    night = running.ran_by_switching([run(-2, off)], span(0, 8), known_until=hour(24))
    assert (running_flags.ran_all_night(night) is not None) == noticed
    half = running.ran_by_switching([run(-2, None)], span(0, 8), known_until=hour(7))
    assert running_flags.ran_all_night(half) is None  # not covered


@pytest.mark.parametrize(
    ("readings", "noticed"),
    [
        ([(-1, 0), (9, 10)], True),
        ([(-1, 0), (9, Fraction("9.9"))], True),
        ([(-1, 0), (9, Fraction("9.8"))], False),
        ([(-16, 0), (8, 24)], True),
        ([(-16, 0), (8, 16)], False),  # it may have run by day
        ([(-16, 0), (4, 20), (12, 28)], True),
        ([(0, 0), (4, 4)], False),
    ],
)
def test_a_counter_shows_a_whole_night_only_where_no_stop_has_room(
    readings: list[tuple[float, int]], noticed: bool
) -> None:
    found = running_flags.ran_all_night_by_counter([count(value, at) for at, value in readings], span(0, 8))
    assert (found is not None) == noticed


@pytest.mark.parametrize(("days", "noticed"), [(6, False), (7, True), (20, True)])
def test_a_week_without_running_is_noticed_by_switching(days: int, noticed: bool) -> None:
    now = BEGIN + dt.timedelta(days=days)
    found = running_flags.idle_by_switching([run(-5, 0)], now, known_from=hour(-100))
    assert (found is not None) == noticed
    if found:
        assert found.source.startswith("NAVFAC MO-209") and f"{days} days" in found.sentence
    assert running_flags.idle_by_switching([run(-5, None)], now, known_from=hour(-100)) is None
    assert (running_flags.idle_by_switching([], now, known_from=hour(0)) is not None) == noticed


@pytest.mark.parametrize(
    ("values", "noticed"), [([5] * 8, True), ([5] * 7, False), ([5] * 7 + [6], False), ([4] + [5] * 8, True)]
)
def test_a_week_without_a_move_of_the_counter_is_noticed(values: list[int], noticed: bool) -> None:
    readings = [
        with_break(Taken(value=Fraction(value), at=BEGIN + dt.timedelta(days=n), step=Fraction(1, 10)))
        for n, value in enumerate(values)
    ]
    found = running_flags.idle_by_counter(readings, BEGIN + dt.timedelta(days=30))
    assert (found is not None) == noticed
    assert found is None or "runs shorter than 0.1 h are not seen" in found.sentence


@pytest.mark.parametrize(
    ("minutes", "most", "noticed"),
    [
        ((0, 20, 40), 3, False),
        ((0, 20, 40), 2, True),
        ((0, 30, 60), 2, False),  # the third is an hour later: never three in one
        ((0, 30, 59), 2, True),
        ((50, 55, 65, 70), 3, True),  # across the full hour
    ],
)
def test_starts_in_any_sixty_minutes_are_held_against_the_limit(
    minutes: tuple[int, ...], most: int, noticed: bool
) -> None:
    runs = [run(at / 60, (at + 1) / 60) for at in minutes]
    found = running_flags.too_many_starts(runs, hour(24), most_an_hour=most)
    assert (found is not None) == noticed


@pytest.mark.parametrize(("counted", "noticed"), [(144, False), (145, True)])
def test_a_counter_of_starts_shows_only_a_mean(counted: int, noticed: bool) -> None:
    found = running_flags.too_many_starts_by_counter([count(0, 0), count(counted, 24)], most_an_hour=6)
    assert (found is not None) == noticed
    assert found is None or "A counter does not show how they were spread." in found.sentence


@pytest.mark.parametrize(
    ("weeks", "said"),
    [
        ([(12, 8)] * 4, None),  # 60 %: equal to what is allowed
        ([(13, 8)] * 4, "P-1 ran 20 h more than P-2"),
        ([(8, 13)] * 4, "P-2 ran 20 h more than P-1"),
        ([(13, 8)] * 3, None),
        ([(13, 8), (13, 8), (8, 13), (13, 8)], None),
        ([(8, 13), *[(13, 8)] * 4], "P-1 ran 20 h more than P-2"),
        ([(13, 8), (0, 0), *[(13, 8)] * 3], "P-1 ran 20 h more than P-2"),
    ],
)
def test_twins_drift_apart_when_four_stretches_lie_on_one_side(weeks: list[tuple[int, int]], said: str | None) -> None:
    found = running_flags.twins_apart(("P-1", "P-2"), [shared(*one) for one in weeks])
    assert (found is not None) == (said is not None)
    assert found is None or said is None or found.sentence.startswith(said)


def test_a_duty_machine_that_is_meant_to_run_more_is_held_against_that() -> None:
    weeks = [shared(18, 6)] * 4
    assert running_flags.twins_apart(("P-1", "P-2"), weeks, wanted=Fraction(3, 4)) is None
    assert running_flags.twins_apart(("P-1", "P-2"), weeks) is not None
