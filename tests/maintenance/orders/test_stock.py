"""Stock worked out from moves: amounts, what is left by last day, how long it lasts; figures by hand."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.compute.stock import (
    Cover,
    Moved,
    NotAnAmount,
    amount_of,
    amount_text,
    cover_of,
    in_stock,
    left_by_last_day,
)

TODAY = dt.date(2026, 11, 25)
SOON, LATER = dt.date(2026, 12, 1), dt.date(2027, 6, 1)


def move(kind: str, pieces: int, days_ago: int = 10, expires: dt.date | None = None) -> Moved:
    return Moved(kind, pieces * 1000, TODAY - dt.timedelta(days=days_ago), expires)


@pytest.mark.parametrize(
    ("typed", "kept", "shown"), [("2", 2000, "2"), ("0.25", 250, "0.25"), ("0,25", 250, "0.25"), ("1.500", 1500, "1.5")]
)
def test_amounts_are_exact(typed: str, kept: int, shown: str) -> None:
    assert amount_of(typed) == kept
    assert amount_text(kept) == shown
    assert amount_text(-kept) == f"\u2212{shown}"


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("0", "more than 0"),
        ("-1", "is no amount"),
        ("0.0001", "more than three decimals"),
        ("two", "is not a number"),
        ("1000001", "more than a plant keeps"),
    ],
)
def test_what_is_no_amount_says_what_would_be_right(typed: str, says: str) -> None:
    with pytest.raises(NotAnAmount, match=says):
        amount_of(typed)


def test_nothing_may_be_counted() -> None:
    assert amount_of("0", nothing=True) == 0


def test_what_expires_first_leaves_first_and_what_never_does_leaves_last() -> None:
    moves = [
        move("received", 5, expires=LATER),
        move("received", 2),
        move("received", 3, expires=SOON),
        move("used", -4),
    ]
    assert left_by_last_day(moves) == {LATER: 4000, None: 2000}
    assert left_by_last_day([*moves, move("scrapped", -5)]) == {None: 1000}


def test_cover_is_stock_by_the_use_of_the_last_year_with_its_n() -> None:
    # 10 received, 4 used in three goes and 1 put back in 365 days: 7 left last 7 x 365 / 3 = 851.67 days.
    uses = [move("used", -2, 100), move("used", -1, 95), move("used", -1, 90)]
    moves = [move("received", 10, 700), *uses, move("returned", 1, 89)]
    assert cover_of(moves, TODAY) == Cover(days=851, used=3000, n=3, span=365)


def test_use_before_the_last_year_does_not_count_and_a_young_part_counts_its_own_days() -> None:
    assert cover_of([move("received", 5, 500), move("used", -1, 366)], TODAY) == Cover(None, 0, 0, 365)
    # Known for 90 days: 2 left, 3 used in 90 days last 60.
    used = [move("used", -1, day) for day in (5, 4, 3)]
    assert cover_of([move("received", 5, 90), *used], TODAY) == Cover(60, 3000, 3, 90)
    assert cover_of([], TODAY).days is None


def test_two_uses_or_a_season_are_too_few_to_say() -> None:
    used = [move("used", -1, day) for day in (5, 4, 3)]
    assert cover_of([move("received", 5, 89), *used], TODAY) == Cover(None, 3000, 3, 89)
    assert cover_of([move("received", 5, 90), *used[:2]], TODAY) == Cover(None, 2000, 2, 90)


@given(st.lists(st.tuples(st.integers(1, 50), st.sampled_from([None, SOON, LATER]), st.integers(0, 50)), max_size=8))
def test_nothing_is_lost_between_the_last_days(goes: list[tuple[int, dt.date | None, int]]) -> None:
    moves, stock = [], 0
    for received, day, used in goes:
        moves.append(move("received", received, expires=day))
        stock += received
        taken = min(used, stock)
        if taken:
            moves.append(move("used", -taken))
            stock -= taken
    left = left_by_last_day(moves)
    assert sum(left.values()) == in_stock(moves) == stock * 1000
    assert all(amount > 0 for amount in left.values())
