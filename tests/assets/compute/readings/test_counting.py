"""What is asked about a typed number of a counter."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.readings import counting as asks
from assets.compute.readings.facts import Taken
from assets.compute.readings.series import Broken
from tests.assets.compute.readings.moments import PROPERTY, hour, read

HOURS = asks.Counter(hours=True, modulus=Fraction(100000), an_hour=Fraction(1, 4))
LAST = read("18402.6", "h", 0)


def keys(text: str, *, after: float = 24, counter: asks.Counter = HOURS, broken: Broken | None = None) -> list[str]:
    found = asks.about_counter(read(text, "h", after), LAST, counter=counter, broken=broken)
    return [one.key for one in found]


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("18402.6", []),
        ("18408.6", []),  # the usual six hours
        ("18426.7", []),  # 24.1 h in 24: equal to what is left for reading
        ("18426.8", ["too-long"]),
        ("18403.2", ["tenfold"]),  # 0.6 h, a tenth of the usual six
        ("184086", ["over-modulus"]),
        ("1840.9", ["decimal", "fell"]),
        ("18300.0", ["fell"]),
        ("-3", ["below-nought"]),
    ],
)
def test_what_a_typed_hour_counter_is_asked(text: str, asked: list[str]) -> None:
    assert keys(text) == asked


def test_the_first_number_of_a_counter_is_only_asked_what_it_can_show() -> None:
    assert asks.about_counter(LAST, None, counter=HOURS) == ()
    assert [one.key for one in asks.about_counter(read("100000", "h", 0), None, counter=HOURS)] == ["over-modulus"]


def test_more_hours_than_there_were_says_both() -> None:
    found = asks.too_long(read("18432.6", "h", 24), LAST, Fraction(30))
    assert found is not None and found.weight == "ask"
    assert found.sentence.startswith("18402.6 h yesterday 06:48 to 18432.6 h is 30 h, but only 24 h went by.")


def test_tenths_read_as_whole_hours_ask_for_the_number_meant() -> None:
    unknown_end = asks.Counter(hours=True)
    found = asks.about_counter(read("184086", "h", 24), LAST, counter=unknown_end)
    assert [one.key for one in found] == ["decimal", "too-long"]
    assert found[0].suggestion == "18408.6"


def test_a_number_that_fell_asks_what_happened_and_for_the_numbers_it_needs() -> None:
    found = asks.fell(read("18300.0", "h", 24), LAST, counter=asks.Counter(hours=True))
    assert found is not None
    assert "102.6 less than 18402.6 h yesterday 06:48" in found.sentence
    assert [(one.key, one.needs) for one in found.answers] == [
        ("rolled over", ("modulus",)),
        ("replaced", ("old_last", "new_first")),
        ("slip", ()),
    ]


def test_beginning_anew_is_not_offered_where_it_would_be_longer_than_there_was_time() -> None:
    found = asks.fell(read("18300.0", "h", 24), LAST, counter=HOURS)
    assert found is not None and [one.key for one in found.answers] == ["replaced", "slip"]
    near_the_end = asks.fell(read("3.2", "h", 24), read("99990.0", "h", 0), counter=HOURS)
    assert near_the_end is not None and [one.key for one in near_the_end.answers][0] == "rolled over"
    assert "counted 13.2" in near_the_end.sentence  # 100000 - 99990.0 + 3.2


@pytest.mark.parametrize(
    ("text", "broken", "asked"),
    [
        ("6.1", Broken(kind="replaced", old_last=Fraction("18402.6"), new_first=Fraction(0)), []),
        ("6.1", Broken(kind="replaced", old_last=Fraction(18402), new_first=Fraction(0)), ["break"]),
        ("6.1", Broken(kind="replaced", old_last=Fraction(18403), new_first=Fraction(7)), ["break"]),
        ("6.1", Broken(kind="replaced", old_last=Fraction(18403)), ["break"]),
        ("6.1", Broken(kind="replaced", old_last=Fraction(18430), new_first=Fraction(0)), ["too-long"]),
        ("6.1", Broken(kind="rolled over", modulus=Fraction(10000)), ["break"]),
        ("6.1", Broken(kind="rolled over"), ["break"]),
        ("18408.6", Broken(kind="rolled over", modulus=Fraction(100000)), ["whole-turn", "too-long"]),
    ],
)
def test_what_was_answered_is_looked_at_too(text: str, broken: Broken, asked: list[str]) -> None:
    assert keys(text, broken=broken) == asked


def test_an_answer_that_does_not_fit_is_refused_and_a_whole_turn_is_asked() -> None:
    bad = asks.break_doubt(read("6.1", "h", 24), LAST, Broken(kind="rolled over", modulus=Fraction(10000)))
    assert bad is not None and bad.weight == "refuse"
    assert bad.sentence == "A counter that begins anew at 10000 cannot show 18402.6 h."
    turn = asks.break_doubt(read("18408.6", "h", 24), LAST, Broken(kind="rolled over", modulus=Fraction(20000)))
    assert turn is not None and turn.weight == "ask" and "20006" in turn.sentence


def test_a_totalizer_of_which_nothing_is_known_is_asked_nothing_but_when_it_falls() -> None:
    last = read("1000", "m³", 0)
    assert asks.about_counter(read("90000", "m³", 24), last) == ()
    assert [one.key for one in asks.about_counter(read("900", "m³", 24), last)] == ["fell"]


def starts(text: str, after: float) -> list[str]:
    """Starts since 1200 at nought hours."""
    found = asks.about_counter(
        read(text, "starts", after), read("1200", "starts", 0), counter=asks.Counter(starts=True)
    )
    return [one.key for one in found]


@pytest.mark.parametrize(
    ("text", "after", "asked"),
    [
        ("1681", 24, []),  # 20 an hour in 24 h is 480, and one for reading it
        ("1682", 24, ["too-often"]),
        ("1221", 1, []),
        ("1222", 1, ["too-often"]),
        ("1200", 24, []),
        ("1201", 0, ["one-moment"]),
        ("1199", 24, ["fell"]),
        ("1200.5", 24, ["not-whole"]),
    ],
)
def test_starts_are_whole_and_more_than_twenty_an_hour_are_asked_about(
    text: str, after: float, asked: list[str]
) -> None:
    assert starts(text, after) == asked


def test_starts_may_be_more_than_there_were_hours() -> None:
    assert starts("1260", 12) == []


def test_a_counter_of_starts_that_rolled_over_is_held_against_the_same_limit() -> None:
    counter = asks.Counter(starts=True, modulus=Fraction(10000))
    last = read("9990", "starts", 0)
    # 10 to the turn and 471 after it are 481 in 24 h, as many as are likely; 482 are not, so no turn is offered
    likely, not_likely = (asks.fell(read(text, "starts", 24), last, counter=counter) for text in ("471", "472"))
    assert likely is not None and not_likely is not None
    assert [one.key for one in likely.answers] == ["rolled over", "replaced", "slip"]
    assert [one.key for one in not_likely.answers] == ["replaced", "slip"]


def test_a_machine_that_usually_stands_is_asked_nothing_when_it_runs_a_little() -> None:
    standby = asks.Counter(hours=True, an_hour=Fraction(0))
    assert asks.about_counter(read("18402.9", "h", 24), LAST, counter=standby) == ()


@pytest.mark.parametrize(("text", "asked"), [("18402.6", []), ("18402.7", ["one-moment"]), ("18402.5", ["one-moment"])])
def test_two_numbers_in_one_moment_are_asked_about(text: str, asked: list[str]) -> None:
    assert keys(text, after=0) == asked


@pytest.mark.parametrize(("now", "asked"), [("1600", ["decimal"]), ("1601", [])])
def test_a_totalizer_may_count_three_times_the_usual_before_its_point_is_doubted(now: str, asked: list[str]) -> None:
    # usual 2 in 24 h, so up to 6 more than 154: 160. 1600 moved is 160.0 and fits; 1601 moved is 160.1 and does not.
    counter = asks.Counter(an_hour=Fraction(1, 12))
    found = asks.about_counter(read(now, "m³", 24), read("154", "m³", 0), counter=counter)
    assert [one.key for one in found] == asked


@pytest.mark.parametrize(("day", "asked"), [(6, False), (7, True)])
def test_a_counter_that_does_not_move_for_a_week_asks_whether_it_stood(day: int, asked: bool) -> None:
    history = [read("18402.6", "h", 24.0 * n) for n in range(day)]
    found = asks.stood(read("18402.6", "h", 24.0 * day), history)
    assert (found is not None) == asked
    assert found is None or found.head == "Not moved for 7 days"
    assert asks.stood(read("18402.7", "h", 24.0 * day), history) is None


@PROPERTY
@given(st.fractions(min_value=0, max_value=90000, max_denominator=10), st.integers(0, 240))
def test_what_fits_the_time_is_never_asked_too_long(start: Fraction, tenths: int) -> None:
    now = Taken(value=start + Fraction(tenths, 10), at=hour(24))
    found = asks.about_counter(now, Taken(value=start, at=hour(0)), counter=asks.Counter(hours=True))
    assert found == ()


MAYBE = st.none() | st.fractions(min_value=-10, max_value=2000, max_denominator=10)


@PROPERTY
@given(
    st.tuples(st.decimals(-100, 2000, places=1), st.decimals(-100, 2000, places=1), st.integers(0, 100)),
    st.tuples(MAYBE, MAYBE, MAYBE),
    st.none() | st.sampled_from(["rolled over", "replaced"]),
    st.booleans(),
)
def test_whatever_is_typed_is_answered_with_a_question_and_never_breaks(
    numbers: tuple[object, object, int], said: tuple[Fraction | None, ...], kind: str | None, hours: bool
) -> None:
    before, now, after = numbers
    why = Broken(kind=kind, modulus=said[0], old_last=said[1], new_first=said[2]) if kind else None  # type: ignore[arg-type]
    counter = asks.Counter(hours=hours, modulus=said[0], an_hour=said[1])
    typed, last = read(str(now), "h", after), read(str(before), "h", 0)
    found = asks.about_counter(typed, last, counter=counter, broken=why)
    assert all(one.sentence and one.head for one in found)
    assert typed.value >= 0 or [one.key for one in found] == ["below-nought"]
    if typed.value < last.value and typed.value >= 0 and why is None:
        assert {"fell", "over-modulus", "one-moment"} & {one.key for one in found}
