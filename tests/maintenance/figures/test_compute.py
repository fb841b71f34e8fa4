"""Figures by hand: what is counted, what is left out, where nothing may be shown."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.binomial import exact_limits
from maintenance.compute.figures import Figure, LeftOut, percent, share
from maintenance.compute.figures.turns import Bucket, Due, bucket_of, days_late, on_time
from maintenance.compute.figures.work import (
    Order,
    Time,
    adherence,
    backlog,
    between_failures,
    hours_by_kind,
    restoration,
)
from tests.published import example


def test_limits_of_a_share_as_published(reproduced: Any) -> None:
    case = example("interval_test_binomial")
    found = exact_limits(case.inputs["defects"], case.inputs["n"], confidence=case.inputs["level"])
    reproduced(found[0], case.figures["lower"])
    reproduced(found[1], case.figures["upper"])


def of(kept: int, all_of_them: int) -> Figure:
    return share("", "", kept=kept, of=all_of_them, words=("done", "due"))


def test_nothing_due_is_no_hundred_per_cent_and_four_are_too_few() -> None:
    assert of(0, 0).shown == "n/a"
    assert of(4, 4).shown == "too few"
    # Clopper-Pearson of 4 in 4, 95 %: low = 0.025 to the power 1/4 = 0.398.
    assert of(4, 4).likely == "likely 40 to 100 %"
    assert of(5, 5).shown == "100 %"
    assert of(402, 442).shown == "91 %"
    assert of(402, 442).likely == "likely 88 to 93 %"


@pytest.mark.parametrize(
    ("part", "text"),
    [
        (Fraction(0), "0"),
        (Fraction(1), "100"),
        (Fraction(999, 1000), "99.9"),
        (Fraction(9_999, 10_000), "99.99"),
        (Fraction(1, 1000), "0.1"),
        (Fraction(1, 2), "50"),
        (Fraction(999_999_999, 1_000_000_000), "over 99.999"),
    ],
)
def test_almost_all_is_never_written_as_all(part: Fraction, text: str) -> None:
    assert percent(part) == text


def due(ended_on: int | None = None, *, ended: str = "done", own: int = 10, **other: Any) -> Due:
    """A due item of 10 November that may be done until the 12th, ended on a day of November."""
    days = {"due": date(2026, 11, own), "latest": date(2026, 11, own + 2)} | other
    on = date(2026, 11, ended_on) if ended_on else None
    return Due(name="P-61: Grease", own=date(2026, 11, own), ended=ended if on else "open", ended_on=on, **days)


MOVED = {"due": date(2026, 11, 18), "latest": date(2026, 11, 18)}


@pytest.mark.parametrize(
    ("one", "bucket"),
    [
        (due(9), Bucket.ON_TIME),
        (due(10), Bucket.ON_TIME),
        (due(11), Bucket.WITHIN),
        (due(12), Bucket.WITHIN),
        (due(13), Bucket.LATE),
        (due(None), Bucket.NOT_DONE),
        (due(20, ended="missed"), Bucket.MISSED),
        (due(20, ended="missed", because="locked, lockout 2"), Bucket.BLOCKED),
        (due(9, ended="withdrawn"), Bucket.WITHDRAWN),
        (due(18, **MOVED), Bucket.BLOCKED),
        (due(19, **MOVED), Bucket.LATE),
        (due(18, deferred=True, **MOVED), Bucket.DEFERRED),
        (due(19, deferred=True, **MOVED), Bucket.LATE),
        (due(9, deferred=True, **MOVED), Bucket.ON_TIME),
        (due(None, blocked=True), Bucket.BLOCKED),
        (due(None, deferred=True, **MOVED), Bucket.DEFERRED),
    ],
)
def test_each_due_item_stands_in_one_bucket(one: Due, bucket: Bucket) -> None:
    assert bucket_of(one) is bucket


def test_on_time_says_both_rules_and_what_stands_apart() -> None:
    items = [
        *[due(10)] * 6,
        *[due(12, by_rule=True)] * 2,
        due(13),
        due(18, deferred=True, **MOVED),
        due(18, **MOVED),
        due(20, ended="missed"),
        due(9, ended="withdrawn", because="retired"),
    ]
    found = on_time(items)
    assert (found.numerator, found.denominator) == ("6 done by their due day", "12 due in the period")
    assert found.shown == "50 %"
    assert found.says == "Within the days allowed: 67 %, 8 of 12. 2 of 12 by rule, with no day allowed."
    assert {part.why: part.n for part in found.left_out} == {
        "put off with approval; in the denominator, not on time": 1,
        "held up by a lock or a stop; in the denominator, not on time": 1,
        "done late; in the denominator, not on time": 1,
        "missed: its turn passed undone; in the denominator, not on time": 1,
        "withdrawn; stands in neither number": 1,
    }
    assert found.left_out[-1].named == ("P-61: Grease, due 10 November 2026: retired",)


@given(st.lists(st.sampled_from([due(9), due(12), due(20), due(None), due(20, ended="missed"), due(18, **MOVED)])))
def test_no_due_item_is_lost_or_counted_twice(items: list[Due]) -> None:
    found = on_time(items)
    within = sum(bucket_of(one) is Bucket.WITHIN for one in items)
    assert found.n == int(found.numerator.split()[0]) + within + sum(part.n for part in found.left_out)
    assert found.n == len(items)


def test_days_late_by_hand() -> None:
    # 1, 1, 2, 3, 8 and 9 days: the middle of six lies between 2 and 3.
    found = days_late([due(10), *(due(10 + n) for n in (3, 1, 9, 1, 8, 2)), due(None)])
    assert (found.shown, found.n, found.likely) == ("2.5 d", 6, "longest 9 d")
    assert found.left_out == (LeftOut("missed or not done yet: there is no day on which it was done", 1),)
    assert days_late([due(12)] * 4).shown == "too few"
    assert days_late([due(10)]).shown == "n/a"


TODAY = date(2026, 11, 25)


def order(**other: Any) -> Order:
    return Order(**({"name": "Work order 1", "type": "corrective immediate", "state": "done"} | other))


def test_a_schedule_is_kept_by_the_day_it_names_and_one_of_today_has_till_night() -> None:
    wanted = date(2026, 11, 20)
    kept = order(wanted_by=wanted, done_on=wanted)
    late = order(wanted_by=wanted, done_on=date(2026, 11, 21))
    undone = order(wanted_by=wanted, state="under way")
    today = order(wanted_by=TODAY, state="under way")
    gone = order(wanted_by=wanted, state="withdrawn")
    found = adherence([kept] * 4 + [late, undone, today, gone], TODAY)
    assert (found.numerator, found.denominator, found.shown) == (
        "4 done by that day",
        "6 wanted by a day of the period",
        "67 %",
    )
    assert [part.n for part in found.left_out] == [1]
    assert adherence([today], TODAY).shown == "n/a"


def test_restoration_by_hand() -> None:
    mended = [order(hours_to_done=Fraction(n)) for n in (2, 4, 6, 8)]
    assert restoration(mended).shown == "too few"
    more = [*mended, order(hours_to_done=Fraction(30), type="corrective deferred")]
    others = [order(type="preventive", hours_to_done=Fraction(500)), order(type="", hours_to_done=Fraction(900))]
    found = restoration([*more, *others])
    assert (found.shown, found.numerator, found.n) == ("10 h", "50.0 h", 5)
    assert [part.n for part in found.left_out] == [1]


def test_backlog_in_weeks_and_none_without_the_hours_people_have() -> None:
    orders = [
        order(state="planned", planned_minutes=600),
        order(state="waiting", planned_minutes=300),
        order(state="raised"),
        order(state="done", planned_minutes=6000),
    ]
    found = backlog(orders, Fraction(10))
    assert (found.shown, found.numerator, found.denominator) == ("1.5 weeks", "15.0 h planned", "10 h a week")
    assert found.says == "Ready, not waiting for anything: 10.0 h."
    assert [part.n for part in found.left_out] == [1]
    assert backlog(orders, None).shown == "n/a"


def test_shares_of_hours_leave_improvement_out() -> None:
    times = [
        Time("preventive", 360, 3),
        Time("condition-based", 60, 1),
        Time("corrective immediate", 120, 1),
        Time("corrective deferred", 60, 1),
        Time("improvement", 6000, 1),
        Time("", 600, 2),
    ]
    preventive, corrective, immediate = hours_by_kind(times)
    assert [one.shown for one in (preventive, corrective, immediate)] == ["70 %", "30 %", "20 %"]
    assert (preventive.numerator, preventive.denominator, preventive.n) == ("7.0 h", "10.0 h", 6)
    assert [part.n for part in preventive.left_out] == [1, 2]
    assert [one.shown for one in hours_by_kind([])] == ["n/a"] * 3


def failing(failures: int, hours: int) -> Figure:
    return between_failures("pumps", failures=failures, running=Fraction(hours), unit="h", items=2, calendar=False)


def test_time_between_failures_without_one_has_its_lower_bound() -> None:
    # T / 2.303 for no failure at 90 %: the textbook's figure, 2.303 being the natural logarithm of 10.
    found = failing(0, 2303)
    assert (found.shown, found.likely) == ("too few", "likely more than 1000 h (90 %)")
    assert failing(2, 6110).shown == "too few"
    assert failing(2, 6110).numerator == "6110 h"
    assert failing(5, 50_000).shown == "10\u202f000 h"
    assert failing(0, 0).shown == "cannot be told"
