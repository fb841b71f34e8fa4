"""Readings as typed, hours across the change of clocks, and how numbers and moments are said."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.readings import facts
from tests.assets.compute.readings.moments import BEGIN, PROPERTY, ZONE, hour, read


def test_a_reading_keeps_what_was_typed_beside_its_value_in_another_unit() -> None:
    one = read("4,20", "bar", 0, into="kPa")
    assert (one.value, one.step, one.told) == (420, Fraction(1), "4,20 bar")  # 1 bar = 100 kPa, SI Brochure table 8


def test_a_step_of_temperature_is_a_difference() -> None:
    assert read("50", "°F", 0, into="°C").step == Fraction(5, 9)
    assert read("50", "°F", 0, into="°C").value == 10


def test_a_moment_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="zone"):
        facts.Taken(value=Fraction(1), at=dt.datetime(2026, 3, 2))  # noqa: DTZ001


@pytest.mark.parametrize(("day", "hours"), [((2026, 3, 7), 24), ((2026, 3, 8), 23), ((2026, 11, 1), 25)])
def test_a_day_on_which_clocks_change_has_23_or_25_hours(day: tuple[int, int, int], hours: int) -> None:
    # Ontario: second Sunday of March, first Sunday of November (Time Act, R.S.O. 1990, c. T.9).
    one = facts.site_day(dt.date(*day), ZONE)
    assert one.hours == hours
    assert (one.start.hour, one.end.hour) == (0, 0)


def test_from_wall_clock_to_wall_clock_across_the_change_is_23_hours_and_one_day() -> None:
    start, end = (dt.datetime(2026, 3, day, 6, 48, tzinfo=ZONE) for day in (7, 8))
    assert facts.hours_between(start, end) == 23
    assert facts.days_between(start, end) == 1


def test_the_hour_that_comes_twice_keeps_its_order() -> None:
    late, early = (
        facts.Taken(value=Fraction(n), at=dt.datetime(2026, 11, 1, 1, 30, tzinfo=ZONE, fold=fold))
        for n, fold in ((1, 1), (2, 0))
    )
    assert [one.value for one in facts.in_order([late, early])] == [2, 1]
    assert facts.hours_between(early.at, late.at) == 1


def test_a_stretch_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="end before"):
        facts.Span(start=hour(1), end=hour(0))


@pytest.mark.parametrize(
    ("text", "places", "moved"),
    [("8.20", -1, "0.820"), ("82", -1, "8.2"), ("0,082", 1, "0,82"), ("82", 1, "820"), ("\u22127.5", 1, "-75")],
)
def test_the_point_moves_and_every_digit_stays(text: str, places: int, moved: str) -> None:
    assert facts.moved_point(text, places) == moved


@pytest.mark.parametrize(
    ("value", "said"),
    [("22", "22"), ("0.40", "0.4"), ("-1.25", "\u22121.25"), ("1/3", "0.3333"), ("200000/3", "66667"), ("0", "0")],
)
def test_numbers_are_said_whole_or_with_four_digits(value: str, said: str) -> None:
    assert facts.plain(Fraction(value)) == said


@pytest.mark.parametrize(
    ("moment", "said"),
    [
        (BEGIN, "today 06:48"),
        (BEGIN - dt.timedelta(hours=6, minutes=49), "yesterday 23:59"),
        (BEGIN - dt.timedelta(days=2), "28 February 06:48"),
        (BEGIN - dt.timedelta(days=70), "22 December 2025 06:48"),
    ],
)
def test_the_day_before_midnight_is_yesterday(moment: dt.datetime, said: str) -> None:
    assert facts.when(moment, BEGIN) == said
    assert facts.when(moment.astimezone(dt.UTC), BEGIN) == said


@PROPERTY
@given(st.fractions(min_value=-(10**9), max_value=10**9), st.integers(1, 8))
def test_about_is_right_to_half_its_last_digit(value: Fraction, digits: int) -> None:
    said = Fraction(facts.about(value, digits).replace("\u2212", "-"))
    assert abs(said - value) <= abs(value) * Fraction(1, 2) / 10 ** (digits - 1)
