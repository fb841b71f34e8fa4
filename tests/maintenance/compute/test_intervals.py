"""Calendar arithmetic, checked against pandas (month ends) and the standard library (days)."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from itertools import islice

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.compute.intervals import LONGEST, Unit, add, days, grid, percent

DAYS = st.dates(date(1970, 1, 1), date(2100, 12, 31))


@given(DAYS, st.integers(-1200, 1200))
def test_months_and_years_clamp_as_in_pandas(anchor: date, count: int) -> None:
    """Reference: pandas.DateOffset."""
    assert add(anchor, count, Unit.MONTH) == (pd.Timestamp(anchor) + pd.DateOffset(months=count)).date()
    years = count // 12
    assert add(anchor, years, Unit.YEAR) == (pd.Timestamp(anchor) + pd.DateOffset(years=years)).date()


@given(DAYS, st.integers(-5000, 5000))
def test_days_and_weeks_are_exact(anchor: date, count: int) -> None:
    """Reference: datetime.timedelta."""
    assert add(anchor, count, Unit.DAY) - anchor == timedelta(days=count)
    assert add(anchor, count, Unit.WEEK) - anchor == timedelta(weeks=count)


@given(DAYS, st.integers(1, 40), st.sampled_from(Unit), st.integers(-2000, 4000))
def test_the_grid_is_every_multiple_after_a_day_and_no_other(anchor: date, every: int, unit: Unit, offset: int) -> None:
    """Reference: the multiples of pandas.DateOffset, each counted from the anchor and kept when late enough."""
    after = anchor + timedelta(days=offset)
    unit_name = {Unit.DAY: "days", Unit.WEEK: "weeks", Unit.MONTH: "months", Unit.YEAR: "years"}[unit]
    multiples = ((pd.Timestamp(anchor) + pd.DateOffset(**{unit_name: k * every})).date() for k in range(5000))
    expected = list(islice((day for day in multiples if day > after), 5))
    found = list(islice(grid(anchor, every, unit, after=after), 5))
    assert [day for _, day in found] == expected
    assert [previous for previous, _ in found][1:] == expected[:-1]


def test_a_percentage_is_rounded_down_to_whole_days() -> None:
    """25 % of 90 days is 22.5: 22 whole days. Our own rule."""
    assert percent(25).days(90) == 22
    assert percent(Fraction(25, 2)).days(90) == 11
    assert days(7).days(90) == 7


@pytest.mark.parametrize("amount", [-1, Fraction(1, 2)])
def test_negative_days_and_parts_of_days_are_refused(amount: int | Fraction) -> None:
    with pytest.raises(ValueError, match="Days allowed"):
        days(amount)  # type: ignore[arg-type]


@given(st.sampled_from(Unit))
def test_the_longest_interval_is_about_a_hundred_years_in_every_unit(unit: Unit) -> None:
    """100 Julian years are 36,525 days; a week or two of rounding is allowed for."""
    span = add(date(2000, 1, 1), LONGEST[unit], unit) - date(2000, 1, 1)
    assert abs(span.days - 36_525) <= 7
