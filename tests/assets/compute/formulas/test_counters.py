"""What is doubtful about a count: more than the time there was, ten times off, two machines exchanged."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.formulas import counters

READING = st.fractions(min_value=0, max_value=99999, max_denominator=10)


@given(READING, st.fractions(min_value=0, max_value=90000, max_denominator=10))
def test_one_rollover_is_counted_through_wherever_it_happens(before: Fraction, ran: Fraction) -> None:
    modulus = Fraction(100000)
    assert counters.counted(before, (before + ran) % modulus, modulus=modulus) == ran


@given(READING, READING, READING, READING)
def test_a_meter_exchanged_counts_what_both_counted(
    before: Fraction, ran: Fraction, new: Fraction, on: Fraction
) -> None:
    swap = counters.Replaced(old_last=before + ran, new_first=new)
    assert counters.counted(before, new + on, replaced=swap) == ran + on


@pytest.mark.parametrize("swap", [("5", "0"), ("20", "9")])
def test_a_reading_that_fell_on_either_meter_is_not_explained_by_the_exchange(swap: tuple[str, str]) -> None:
    last, first = (Fraction(one) for one in swap)
    with pytest.raises(ValueError, match="roll over"):
        counters.counted(Fraction(10), Fraction(8), replaced=counters.Replaced(old_last=last, new_first=first))


@pytest.mark.parametrize(("hours", "longer"), [("24", False), ("24.1", False), ("24.11", True)])
def test_a_day_has_twenty_four_hours_and_a_tenth_for_reading(hours: str, longer: bool) -> None:
    assert counters.longer_than_time(Fraction(hours), Fraction(24)) == longer


@pytest.mark.parametrize(
    ("counted", "off"),
    [
        ("60", True),
        ("63", True),
        ("63.1", False),
        ("57", True),
        ("56.9", False),
        ("0.6", True),
        ("6", False),
        ("0", False),
    ],
)
def test_ten_times_what_was_expected_within_a_twentieth(counted: str, off: bool) -> None:
    assert counters.tenfold(Fraction(counted), Fraction(6)) == off


@pytest.mark.parametrize(
    ("now", "usual", "crossed"),
    [
        (("20", "4"), ("4", "20"), True),
        (("4", "20"), ("4", "20"), False),
        (("12", "12"), ("12", "12"), False),
        (("20", "4"), ("4", "12"), False),
        (("12.2", "12"), ("12", "12.2"), False),
    ],
)
def test_two_machines_whose_counts_look_exchanged(now: tuple[str, str], usual: tuple[str, str], crossed: bool) -> None:
    one, other = ((Fraction(a), Fraction(b)) for a, b in (now, usual))
    assert counters.exchanged(one, other) == crossed
