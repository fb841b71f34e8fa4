"""A signal that stands still, what it takes to say so, and what it is not."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.readings.constant import Ends, Still, needed_run, standing_still
from assets.compute.readings.facts import Taken
from tests.assets.compute.readings.moments import PROPERTY, hour

QUARTER = 0.25


def signal(values: list[str], *, step: str = "0.01", every: float = QUARTER) -> list[Taken]:
    return [
        Taken(value=Fraction(one), at=hour(n * every), text=one, unit="mg/L", step=Fraction(step))
        for n, one in enumerate(values)
    ]


def looked_at(values: list[str], *, every: float = QUARTER, **more: object) -> Still:
    now = hour((len(values) - 1) * every)
    return standing_still(signal(values, every=every), now, **more)  # type: ignore[arg-type]


MOVED = signal(["100", "104", "99", "103", "101", "104", "100"], step="1")


@pytest.mark.parametrize(
    ("values", "state"),
    [
        (["0.80"] * 5, "moves"),  # one hour to the minute: not more than an hour
        (["0.80"] * 6, "unchanged"),
        (["0.80", "0.80", "0.80", "0.81", *["0.80"] * 5], "moves"),
        (["0.81", *["0.80"] * 6], "unchanged"),
        (["0.80", "0.81"] * 6, "moves"),
        (["0.80"], "too few readings"),
        ([], "too few readings"),
    ],
)
def test_more_than_an_hour_and_five_readings_alike_are_noticed(values: list[str], state: str) -> None:
    found = looked_at(values)
    assert found.state == state
    assert found.flagged == (state == "unchanged")


def test_two_readings_a_day_apart_are_not_enough() -> None:
    assert looked_at(["0.80"] * 4, every=24).state == "moves"
    assert looked_at(["0.80"] * 5, every=24).state == "unchanged"


def test_it_stands_still_only_where_a_witness_moved_meanwhile() -> None:
    found = looked_at(["0.80"] * 7, witness=MOVED)
    assert found.state == "stands still" and found.flagged
    assert found.says == "Stands still at 0.80 mg/L for 1.5 h, 7 readings, while the signal beside it moved."
    by_three_steps = signal(["100", "103"] * 3, step="1")
    assert looked_at(["0.80"] * 7, witness=by_three_steps).state == "unchanged"  # more than three steps are needed
    before_it = signal(["100", "150"], step="1", every=0.1)
    assert looked_at(["0.81", "0.82", *["0.80"] * 7], witness=before_it).state == "unchanged"


def test_it_says_what_it_cannot_tell() -> None:
    found = looked_at(["0.80"] * 7)
    assert "A display in steps of 0.01 hides what is smaller." in found.cannot
    assert "water that is steady" in found.cannot and "keeps only changes" in found.cannot


@pytest.mark.parametrize(("value", "state"), [("5.00", "at the end of its range"), ("4.99", "unchanged"),
                                              ("0.00", "at the end of its range"), ("0.01", "unchanged")])  # fmt: skip
def test_a_value_at_the_end_of_its_range_is_said_to_be_there(value: str, state: str) -> None:
    assert looked_at([value] * 7, ends=Ends(low=Fraction(0), high=Fraction(5))).state == state


def test_a_signal_without_new_readings_is_silent_not_still() -> None:
    readings = signal(["0.80"] * 7)
    assert standing_still(readings, hour(1.5 + 0.75)).state == "unchanged"
    found = standing_still(readings, hour(1.5 + 0.76))
    assert found.state == "silent" and found.flagged


def test_noise_below_half_a_step_of_the_display_is_no_movement() -> None:
    assert looked_at(["0.800", "0.805", "0.800", "0.804", "0.801", "0.803"]).state == "unchanged"
    assert looked_at(["0.800", "0.806", "0.800", "0.806", "0.800", "0.806"]).state == "moves"


@pytest.mark.parametrize(
    ("equal", "pairs", "needed"),
    [(140, 1000, 9), (271, 1000, 12), (486, 1000, 21), (664, 1000, 35)],
)
def test_the_longer_a_good_signal_repeats_itself_the_more_it_takes(equal: int, pairs: int, needed: int) -> None:
    # 1 + ceil(ln 1e-6 / ln p), worked out apart from the code: p^(n-1) <= 1e-6 < p^(n-2). Equal neighbours are spread
    # out so that no run is longer than two or three.
    p = equal / pairs
    assert p ** (needed - 1) <= 1e-6 < p ** (needed - 2)
    values, value = [0], 0
    for n in range(pairs):
        value += 0 if (n + 1) * equal // pairs > n * equal // pairs else 1
        values.append(value)
    found = needed_run(signal([str(one) for one in values]))
    longest = max(values.count(one) for one in set(values))
    assert found == max(needed, 3 * longest)


def test_a_baseline_that_never_moved_tells_nothing() -> None:
    assert needed_run(signal(["0.80"] * 50)) is None and needed_run(signal(["0.80"])) is None
    assert looked_at(["0.80"] * 50, needed=None).state == "moves"
    assert needed_run(signal(["0.80", "0.81", "0.82"])) == 3
    assert needed_run(signal([*["0.80"] * 9, "0.81", "0.82"])) == max(27, 1 + math.ceil(math.log(1e-6) / math.log(0.8)))


@PROPERTY
@given(st.lists(st.sampled_from(["0.80", "0.81"]), min_size=2, max_size=20), st.randoms())
def test_the_order_of_entry_does_not_matter(values: list[str], random: object) -> None:
    readings = signal(values)
    shuffled = list(readings)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    now = readings[-1].at
    assert standing_still(shuffled, now) == standing_still(readings, now)
