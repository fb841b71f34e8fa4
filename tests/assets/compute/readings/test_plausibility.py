"""What is asked about a typed number, each limit at equality, and a good neighbour that is not asked about."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.readings import plausibility as asks
from assets.compute.readings.facts import taken
from assets.compute.units import convert
from tests.assets.compute.readings.moments import BEGIN, PROPERTY, days

CHLORINE = ["0.80", "0.82", "0.79", "0.81", "0.80", "0.83", "0.78", "0.80", "0.81", "0.82"]
HISTORY = days(CHLORINE, "mg/L")
OPERATING = (
    asks.Bound(name="operating limit", side="high", value=Fraction(720), told="720 kPa"),
    asks.Bound(name="operating limit", side="low", value=Fraction(560), told="560 kPa"),
    asks.Bound(name="trip limit", side="high", value=Fraction(750), told="750 kPa"),
)


def on_day(text: str, unit: str, day: int) -> asks.Taken:
    return taken(text, unit, BEGIN + dt.timedelta(days=day))


@pytest.mark.parametrize(
    ("text", "head"),
    [
        ("720", None),
        ("720.0", None),
        ("560", None),
        ("720.1", "Above the operating limit, 720 kPa"),
        ("559.9", "Below the operating limit, 560 kPa"),
        ("750", "Above the operating limit, 720 kPa"),
        ("750.1", "Above the trip limit, 750 kPa"),
    ],
)
def test_a_number_at_its_limit_is_inside_and_one_beyond_names_the_farthest(text: str, head: str | None) -> None:
    found = asks.out_of_limit(on_day(text, "kPa", 1), OPERATING)
    assert (found.head if found else None) == head


def test_the_sentence_says_how_far_out_and_what_it_was_yesterday() -> None:
    found = asks.out_of_limit(on_day("742", "kPa", 1), OPERATING, days(["688"], "kPa"))
    assert found is not None and found.weight == "ask"
    assert found.sentence == "742 kPa is 22 over. Yesterday 06:48 it was 688 kPa. Look again: is it steady?"
    assert [one.key for one in found.answers] == ["stands", "slip"]


def test_the_limit_is_exact_where_binary_numbers_are_not() -> None:
    bound = asks.Bound(name="limit", side="high", value=Fraction("0.40") - Fraction("0.30"))
    assert asks.out_of_limit(on_day("0.10", "mg/L", 1), [bound]) is None  # 0.4 - 0.3 is 0.10000000000000003 in floats


def test_limits_that_contradict_each_other_are_said() -> None:
    crossed = [
        asks.Bound(name="high", side="high", value=Fraction(5)),
        asks.Bound(name="low", side="low", value=Fraction(6)),
    ]
    found = asks.out_of_limit(on_day("5.5", "kPa", 0), crossed)
    assert found is not None and found.key == "limits"


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("8.2", "0.82"),
        ("8,20", "0,820"),
        ("0.082", "0.82"),
        ("9.5", "0.95"),
        ("10.1", None),
        ("0.82", None),
        ("0", None),
    ],
)
def test_ten_times_or_a_tenth_of_the_usual_asks_for_what_was_meant(text: str, meant: str | None) -> None:
    # middle 0.805; a quarter of it reaches to 1.00625, so 10.1 moved to 1.01 is no likely slip
    found = asks.decimal_slip(on_day(text, "mg/L", 10), HISTORY)
    assert (found.suggestion if found else None) == meant


def test_the_slip_says_its_n_and_changes_nothing() -> None:
    now = on_day("8.2", "mg/L", 10)
    found = asks.decimal_slip(now, HISTORY)
    assert found is not None
    assert found.sentence == "Usual is 0.805 mg/L, the middle of 10 readings. Did you mean 0.82?"
    assert now.value == Fraction("8.2")


def test_one_reading_is_enough_to_see_a_slip_and_none_is_not() -> None:
    assert asks.decimal_slip(on_day("71", "pH", 1), days(["7.1"], "pH")) is not None
    assert asks.decimal_slip(on_day("71", "pH", 1), []) is None


def test_no_number_below_zero_is_taken_for_meant_where_none_ever_was() -> None:
    # The spread alone would reach to -1: 5 times 1.4826 times 1 below a middle of 6.
    seen = days(["5", "7", "6", "5", "7", "6", "5", "7", "6"], "NTU")
    assert asks.decimal_slip(on_day("-10", "NTU", 10), seen) is None
    once = days(["5", "7", "6", "-1", "7", "6", "5", "7", "6"], "NTU")
    found = asks.decimal_slip(on_day("-10", "NTU", 10), once)
    assert found is not None
    assert found.sentence.endswith("Did you mean \N{MINUS SIGN}1.0?")


def test_a_turbidity_that_goes_over_decades_is_no_slip() -> None:
    wild = days(["0.05", "0.5", "5", "0.06", "3", "0.4", "6", "0.1", "2", "7"], "NTU")
    assert asks.about_value(on_day("4", "NTU", 10), wild) == ()


@pytest.mark.parametrize(
    ("text", "asked"), [("0.87913", False), ("0.87914", True), ("0.73087", False), ("0.73086", True)]
)
def test_far_from_the_usual_is_beyond_five_spreads(text: str, asked: bool) -> None:
    # By hand: middle 0.805; deviations 0.005 x5, 0.015 x3, 0.025 x2, their median 0.010 (of the 5th and 6th);
    # spread 1.4826 * 0.010 = 0.014826, five of them 0.07413; ends 0.73087 and 0.87913, which are usual.
    found = asks.far_out(on_day(text, "mg/L", 10), HISTORY)
    assert (found is not None) == asked
    assert found is None or "0.73087 to 0.87913 mg/L, by the last 10 readings" in found.sentence


def test_few_readings_never_say_what_is_far() -> None:
    assert asks.far_out(on_day("5", "mg/L", 7), HISTORY[:7]) is None
    assert asks.far_out(on_day("5", "mg/L", 8), HISTORY[:8]) is not None


@pytest.mark.parametrize(("texts", "now", "day", "asked"), [
    (["4.2"] * 7, "4.20", 7, True),
    (["4.2"] * 6, "4.2", 6, False),
    (["4.2", "4.3", *["4.2"] * 5], "4.2", 7, False),
    (["4.2"] * 7, "4.3", 7, False),
])  # fmt: skip
def test_the_same_number_for_a_week_is_asked_about(texts: list[str], now: str, day: int, asked: bool) -> None:
    found = asks.same_value(on_day(now, "bar", day), days(texts, "bar"))
    assert (found is not None) == asked


def test_a_week_is_seven_days_of_the_calendar_though_the_walk_began_earlier_and_clocks_went_forward() -> None:
    now = taken("4.2", "bar", BEGIN + dt.timedelta(days=7) - dt.timedelta(minutes=30))  # clocks change on 8 March
    found = asks.same_value(now, days(["4.2"] * 7, "bar"))
    assert found is not None
    assert found.head == "The same number for 7 days" and "8 times in 7 days, since 2 March" in found.sentence
    assert "coarse display" in found.sentence


def test_two_weekly_numbers_alike_are_not_asked_about_nor_what_is_normally_constant() -> None:
    assert asks.same_value(on_day("4.2", "bar", 7), days(["4.2"], "bar")) is None
    same = days(["4.2"] * 9, "bar")
    assert [one.key for one in asks.about_value(on_day("4.2", "bar", 9), same)] == ["same"]
    assert asks.about_value(on_day("4.2", "bar", 9), same, constancy_is_normal=True) == ()


@pytest.mark.parametrize(
    ("typed", "head"), [("bar", None), ("psi", None), ("mg/L", "Another quantity"), ("brr", "Unit not known")]
)
def test_a_unit_of_another_quantity_is_refused(typed: str, head: str | None) -> None:
    found = asks.unit_doubt(typed, "kPa")
    assert (found.head if found else None) == head
    assert found is None or (found.weight, found.suggestion) == ("refuse", "kPa")


def test_bar_written_as_kilopascal_asks_for_the_unit() -> None:
    history = days([str(n) for n in (418, 420, 423, 419, 421, 420, 422, 419)], "kPa")
    found = asks.about_value(on_day("4.2", "kPa", 8), history)
    assert [one.key for one in found] == ["unit-slip"]
    assert found[0].suggestion == "4.2 bar"


def test_readings_later_than_the_typed_one_are_left_out() -> None:
    assert asks.about_value(on_day("8.2", "mg/L", 0), HISTORY) == ()


@PROPERTY
@given(
    st.lists(st.decimals(min_value="0.1", max_value=9, places=2), min_size=8, max_size=15),
    st.decimals(min_value="0.1", max_value=99, places=2),
    st.randoms(),
)
def test_order_of_entry_and_unit_change_nothing(values: list[object], typed: object, random: object) -> None:
    def asked(code: str, *, shuffled: bool) -> list[bool]:
        *history, now = days([str(one) for one in (*values, typed)], "bar", into=code)
        if shuffled:
            random.shuffle(history)  # type: ignore[attr-defined]
        bound = asks.Bound(name="limit", side="high", value=convert(Fraction(5), "bar", code))
        found = (
            asks.out_of_limit(now, [bound], history),
            asks.decimal_slip(now, history),
            asks.far_out(now, history),
            asks.same_value(now, history),
        )
        return [one is not None for one in found]

    assert asked("bar", shuffled=False) == asked("psi", shuffled=True) == asked("kPa", shuffled=True)


@PROPERTY
@given(
    st.lists(st.decimals(-1000, 1000, places=2), max_size=12),
    st.decimals(-(10**6), 10**6, places=3),
    st.sampled_from(["\u00b0C", "kPa", "pH", "mg/L", "\u00b5S/cm"]),
)
def test_whatever_is_typed_is_asked_about_in_whole_sentences(values: list[object], typed: object, unit: str) -> None:
    *history, now = days([str(one) for one in (*values, typed)], unit)
    bounds = [asks.Bound(name="limit", side="high", value=Fraction(50))]
    found = asks.about_value(now, history, bounds=bounds)
    assert all(one.sentence.endswith((".", "?")) and one.weight == "ask" for one in found)
    assert len({one.key for one in found}) == len(found)
    assert any(one.key == "limit-high" for one in found) == (now.value > 50)
