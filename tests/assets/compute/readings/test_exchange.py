"""Two machines read the wrong way round, seen by their numbers. Every figure is made up, worked by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from assets.compute.readings.counting import Counter
from assets.compute.readings.exchange import Meter, Walked, exchanged, shows_other
from tests.assets.compute.readings.moments import read

HOURS = Counter(hours=True)


def meter(tag: str, last: str, counter: Counter = HOURS, unit: str = "h") -> Meter:
    return Meter(tag=tag, last=read(last, unit, 0), counter=counter)


def machine(tag: str, last: str, now: str, counter: Counter = HOURS, unit: str = "h") -> Walked:
    return Walked(tag=tag, now=read(now, unit, 24), last=read(last, unit, 0), counter=counter)


def keys(one: Walked, other: Meter) -> list[str]:
    found = shows_other(one, other)
    return [answer.key for answer in found.answers] if found else []


@pytest.mark.parametrize(
    ("now", "asked"),
    [
        ("9210.1", True),  # equal to the other's last
        ("9210.0", False),  # less than it
        ("9234.2", True),  # 24 h more and the tenth that is left for reading
        ("9234.3", False),
        ("18402.6", False),  # equal to its own last: it stood
        ("18426.7", False),  # as many hours as there were, on its own
    ],
)
def test_a_number_of_the_other_counter_is_asked_about_up_to_its_last_hour(now: str, asked: bool) -> None:
    assert keys(machine("P-1", "18402.6", now), meter("P-2", "9210.1")) == (["other", "stands"] if asked else [])


def test_counters_that_are_near_each_other_tell_nothing() -> None:
    # 5013.0 goes on from 5000.0 and from 5012.4
    assert not keys(machine("P-1", "5000.0", "5013.0"), meter("P-2", "5012.4"))


def test_the_question_names_both_machines_and_what_is_counted() -> None:
    found = shows_other(machine("P-1", "18402.6", "9216.1"), meter("P-2", "9210.1"))
    assert found is not None
    assert found.head == "P-1 shows the hours of P-2?"
    assert found.sentence == "9216.1 h does not go on from 18402.6 h of P-1 yesterday 06:48, but from 9210.1 h of P-2."


def test_two_numbers_in_each_other_s_box_fit_the_other_way_round() -> None:
    found = exchanged(machine("P-1", "18402.6", "9216.1"), machine("P-2", "9210.1", "18408.6"))
    assert found is not None
    assert found.suggestion == "P-1 18408.6 h, P-2 9216.1 h"
    assert [one.key for one in found.answers] == ["round", "stands"]


def test_the_one_that_does_not_go_on_is_named_first() -> None:
    # P-2's 5024.0 fits P-1 too (24 h on 5000.0); P-1's 4990.0 fits only P-2
    found = exchanged(machine("P-1", "5000.0", "4990.0"), machine("P-2", "4980.0", "5000.0"))
    assert found is not None
    assert found.head == "P-1 shows the hours of P-2?"
    again = exchanged(machine("P-2", "4980.0", "5000.0"), machine("P-1", "5000.0", "4990.0"))
    assert again is not None
    assert again.head == found.head


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("18402.6", "18408.6"), ("9210.1", "9216.1")),  # both go on
        (("18402.6", "9216.1"), ("9210.1", "9216.1")),  # the other one was read right: nothing to put the other way
        (("18402.6", "9300.0"), ("9210.1", "18408.6")),  # fits neither
    ],
)
def test_numbers_that_do_not_fit_the_other_way_round_are_no_exchange(
    one: tuple[str, str], other: tuple[str, str]
) -> None:
    assert exchanged(machine("P-1", *one), machine("P-2", *other)) is None


def test_a_counter_of_which_nothing_is_known_takes_no_number_away() -> None:
    unknown, known = Counter(), Counter(an_hour=Fraction(1))
    assert not keys(machine("FT-1", "900", "150", unknown, "m³"), meter("FT-2", "100", unknown, "m³"))
    assert keys(machine("FT-1", "900", "150", known, "m³"), meter("FT-2", "100", known, "m³"))


def test_starts_are_told_apart_too() -> None:
    starts = Counter(starts=True)
    found = shows_other(machine("P-1", "9000", "140", starts, "starts"), meter("P-2", "120", starts, "starts"))
    assert found is not None
    assert found.head == "P-1 shows the starts of P-2?"
