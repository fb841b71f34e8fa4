"""What is usual, against pandas and scipy."""

from __future__ import annotations

from fractions import Fraction

import pandas
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import median_abs_deviation

from assets.compute.readings.facts import Taken
from assets.compute.readings.usual import TooFew, Usual, spread_of, usual
from tests.assets.compute.readings.moments import PROPERTY, hour

VALUES = st.lists(st.fractions(min_value=-1000, max_value=1000, max_denominator=100), min_size=8, max_size=40)


def taken(values: list[Fraction], step: str = "0") -> list[Taken]:
    return [Taken(value=one, at=hour(24 * n), step=Fraction(step)) for n, one in enumerate(values)]


@PROPERTY
@given(VALUES)
def test_the_middle_and_spread_are_those_of_pandas_and_scipy(values: list[Fraction]) -> None:
    newest = [float(one) for one in values[-30:]]
    found = usual(taken(values))
    assert isinstance(found, Usual) and found.n == len(newest)
    assert float(found.middle) == pytest.approx(pandas.Series(newest).median(), abs=1e-9)
    # scipy divides by the exact 0.6744897..., the constant here has five digits.
    assert float(found.spread) == pytest.approx(median_abs_deviation(newest, scale="normal"), rel=2e-5, abs=1e-9)


@PROPERTY
@given(VALUES, st.randoms())
def test_the_order_of_entry_does_not_matter(values: list[Fraction], random: object) -> None:
    shuffled = taken(values)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert usual(shuffled) == usual(taken(values))


def test_one_slip_among_ten_hardly_moves_it() -> None:
    good = [Fraction(n, 100) for n in (80, 82, 79, 81, 80, 83, 78, 80, 81)]
    clean, slipped = usual(taken(good)), usual(taken([*good, Fraction(80)]))
    assert isinstance(clean, Usual) and isinstance(slipped, Usual)
    assert abs(clean.middle - slipped.middle) <= Fraction(1, 100)
    assert slipped.high < 1  # a mean would have gone to 8.7


def test_a_display_that_never_moved_leaves_its_step_as_spread() -> None:
    found = usual(taken([Fraction(42, 10)] * 9, step="0.1"))
    assert isinstance(found, Usual)
    assert (found.spread, found.low, found.high) == (Fraction(1, 10), Fraction(37, 10), Fraction(47, 10))
    assert found.holds(found.high) and not found.holds(found.high + Fraction(1, 1000))


def test_too_few_says_how_many() -> None:
    found = usual(taken([Fraction(1)] * 7))
    assert isinstance(found, TooFew)
    assert found.says == "Too few readings to say what is usual: 7 of 8."
    assert spread_of([Fraction(1), Fraction(2), Fraction(4)]) == Fraction("1.4826")  # |x - 2| = 1, 0, 2
