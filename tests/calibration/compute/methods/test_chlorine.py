"""Chlorine beside grabs: both limits, the zero, one grab or a pair, the wrong test, the wrong way, old reagent."""

from __future__ import annotations

import itertools
from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.asked import as_left_unchanged
from calibration.compute.method import Answer, Band, Known
from calibration.compute.methods import chlorine
from calibration.compute.methods.chlorine.catches import last_day
from calibration.compute.typed import fields_for, read_fields
from calibration.compute.verdict import Outcome, judge
from tests.calibration.compute.methods.conftest import DAY, Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured

METER = make_standard("M", "bench meter", "0", "mg/L", is_lot=False, opened=None, label="Bench meter BM-2")
GOOD = {
    "hold": "on",
    "meter": "M",
    "grab1_shown": "0.86",
    "grab1_bench": "1.00",
    "grab2_shown": "0.88",
    "grab2_bench": "1.02",
    "own_line": "yes",
    "lag": "yes",
    "flow": "yes",
}
FREE, TOTAL = {"species": "free"}, {"species": "total"}
AS_LEFT = {"kind": "as left"}


@pytest.fixture
def read(checked: Checked) -> Any:
    def worked(settings: dict[str, str] | None = None, /, facts: dict[str, Any] | None = None, **typed: str) -> Outcome:
        every = {name: text for name, text in {**GOOD, **typed}.items() if text}
        known = {"settings": FREE if settings is None else settings, **(facts or {})}
        return checked(chlorine.METHOD, every, METER, **known)

    return worked


def word(outcome: Outcome) -> str:
    return outcome.worked.advice[0].word if outcome.worked.advice else ""


def test_every_line_can_be_worked_out_by_hand(read: Any) -> None:
    every = {"ph": "7.6", "temperature": "15", "zero": "-0.02", "gain": "1.12"}
    lines = figured(read(FREE | {"set_ph": "7.2"}, **every)) + figured(read(grab3_shown="0.9", grab3_bench="1.01"))
    assert len(lines) >= 10
    for line in lines:
        assert_agrees(line)


@pytest.mark.parametrize(
    ("shown", "grab", "verdict"),
    [
        ("0.85", "1.00", "pass"),
        ("0.849", "1.00", "fail"),
        ("1.15", "1.00", "pass"),
        ("1.151", "1.00", "fail"),
        ("0.40", "0.30", "pass"),
        ("0.401", "0.30", "fail"),
        ("0.20", "0.30", "pass"),
        ("0.10", "0", "pass"),
        ("0.11", "0", "fail"),
    ],
)
def test_the_limit_itself_passes(read: Any, shown: str, grab: str, verdict: str) -> None:
    pair = {f"grab{n}_{name}": text for n in (1, 2) for name, text in (("shown", shown), ("bench", grab))}
    assert read(**pair).verdict == verdict


@pytest.mark.parametrize(
    ("zero", "verdict"),
    [("0.10", "pass"), ("-0.10", "pass"), ("0.11", "fail"), ("-0.101", "fail"), ("0.30", "fail"), ("0", "pass")],
)
def test_an_analyzer_that_shows_chlorine_where_there_is_none_fails(read: Any, zero: str, verdict: str) -> None:
    outcome = read(zero=zero)
    assert outcome.verdict == verdict
    (judged,) = [one for one, _ in outcome.judged if one.name == "zero"]
    assert judged.tag == "own judgement"


def test_a_zero_that_the_site_limits_itself(read: Any) -> None:
    band = Band(low=None, high=Fraction("0.03"), unit="mg/L", source="site", tag="site setting")
    assert read(facts={"limits": {"zero": band}}, zero="0.03").verdict == "pass"
    assert read(facts={"limits": {"zero": band}}, zero="0.04").verdict == "fail"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, "leave it"),
        ({"gain": "1.10"}, "leave it"),
        ({"grab1_shown": "1.00", "grab2_shown": "1.02"}, "leave it"),
        ({"grab1_shown": "0.85", "grab2_shown": "0.867"}, "leave it"),  # 0.1515 of 0.1515
        ({"grab1_shown": "0.80", "grab2_shown": "0.80"}, "adjust"),
        ({"zero": "0.3"}, "set the zero"),
    ],
)
def test_what_to_do_is_said_as_found(read: Any, typed: dict[str, str], said: str) -> None:
    assert word(read(**typed)) == said
    assert word(read(facts=AS_LEFT, **typed)) == ""


def test_one_grab_outside_the_limit_is_no_ground_for_adjusting(read: Any) -> None:
    one = {"grab1_shown": "0.70", "grab2_shown": "", "grab2_bench": ""}
    assert word(read(FREE | {"one_grab": "yes"}, **one)) == "take a pair"


ONE = {"grab2_shown": "", "grab2_bench": ""}


@pytest.mark.parametrize("settings", [FREE, FREE | {"one_grab": "no"}])
def test_one_grab_is_refused_unless_the_site_says_so(read: Any, settings: dict[str, str]) -> None:
    outcome = read(settings, **ONE)
    assert caught(outcome, "second-grab") == ["refuse"]
    assert len(outcome.missing) == 1
    allowed = read(FREE | {"one_grab": "yes"}, **ONE)
    assert allowed.verdict == "pass"
    assert allowed.worked.figure("error") == Fraction("-0.14")


def test_an_adjustment_rests_on_a_pair_whatever_the_site_says(read: Any) -> None:
    facts = {**AS_LEFT, "last": {"error": Fraction("-0.4")}}
    outcome = read(FREE | {"one_grab": "yes"}, facts=facts, **ONE)
    assert caught(outcome, "second-grab") == ["refuse"]
    assert read(FREE | {"one_grab": "yes"}, facts=facts).can_be_signed


def test_a_second_grab_half_written_is_no_single_grab(read: Any) -> None:
    for name in ("grab2_shown", "grab2_bench"):
        outcome = read(FREE | {"one_grab": "yes"}, **{name: ""})
        assert caught(outcome, f"missing-{name}") == ["refuse"]
    third = {"grab3_shown": "0.87", "grab3_bench": "1.01"}
    assert read(FREE | {"one_grab": "yes"}, **ONE, **third).missing


@pytest.mark.parametrize("settings", [FREE, FREE | {"one_grab": "yes"}])
def test_a_second_grab_that_cannot_be_read_says_so_itself(read: Any, settings: dict[str, str]) -> None:
    outcome = read(settings, grab2_shown="", grab2_bench="1 or so")
    assert [one.key for one in outcome.missing] == ["unread-grab2_bench", "missing-grab2_shown"]


@pytest.mark.parametrize(
    ("benches", "at"),
    [
        (("1.00", "1.20", ""), "grab2_bench"),
        (("1.00", "1.20", "1.02"), "grab2_bench"),
        (("1.20", "1.00", "1.02"), "grab1_bench"),
        (("1.00", "1.02", "1.20"), "grab3_bench"),
        (("1.00", "1.11", ""), ""),
        (("0.30", "0.35", ""), ""),
        (("0.30", "0.351", ""), "grab2_bench"),
    ],
)
def test_the_grab_that_lies_apart_is_the_one_pointed_at(read: Any, benches: tuple[str, ...], at: str) -> None:
    typed = {f"grab{n}_bench": text for n, text in enumerate(benches, 1)}
    outcome = read(**typed, grab3_shown="0.87" if benches[2] else "")
    assert [one.field for one in outcome.found if one.key == "pair"] == ([at] if at else [])


def test_the_order_of_three_grabs_changes_nothing(read: Any) -> None:
    rows = (("0.86", "1.00"), ("0.9", "1.02"), ("0.875", "1.013"))
    facts = {"settings": FREE}
    seen = set()
    for order in itertools.permutations(rows):
        typed = {f"grab{n}_{name}": text for n, row in enumerate(order, 1)
                 for name, text in zip(("shown", "bench"), row, strict=True)}  # fmt: skip
        outcome = read(facts=facts, **typed)
        error = outcome.worked.figure("error")
        seen.add((outcome.verdict, error, word(outcome)))
    assert len(seen) == 1


def test_a_bleached_grab_is_pointed_at_where_it_stands(read: Any) -> None:
    outcome = read(grab2_shown="1.90", grab2_bench="0.03", grab1_shown="0.90", grab1_bench="0.09")
    assert [one.field for one in outcome.found if one.key.startswith("bleached")] == ["grab2_bench"]


@pytest.mark.parametrize(
    ("shown", "grab", "asked"),
    [("1.00", "0.10", True), ("0.99", "0.10", False), ("1.00", "0.11", False), ("4.0", "0.40", True),
     ("4.0", "0.41", False)],
)  # fmt: skip
def test_less_than_a_tenth_of_plenty_may_be_bleached(read: Any, shown: str, grab: str, asked: bool) -> None:
    assert bool(caught(read(grab1_shown=shown, grab1_bench=grab), "bleached-1")) == asked


@pytest.mark.parametrize(
    ("settings", "grab", "over"),
    [
        (FREE, "2.00", False),
        (FREE, "2.01", True),
        (FREE | {"low_range": "3"}, "3.00", False),
        (FREE | {"low_range": "3"}, "3.01", True),
        (FREE | {"low_range": "0"}, "0.5", True),  # a meter without a low range
        (FREE | {"low_range": ""}, "1.99", False),
    ],
)
def test_the_top_of_the_low_range_is_still_in_it(read: Any, settings: dict[str, str], grab: str, over: bool) -> None:
    outcome = read(settings, scale="low", grab1_bench=grab, grab2_bench=grab)
    assert bool(caught(outcome, "low-range")) == over
    assert not caught(read(settings, scale="high", grab1_bench=grab, grab2_bench=grab), "low-range")


@pytest.mark.parametrize(
    ("settings", "minutes", "asked"),
    [(FREE, "1", False), (FREE, "1.1", True), (TOTAL, "3", False), (TOTAL, "2.9", True), ({}, "5", False)],
)
def test_free_is_read_at_once_and_total_later(read: Any, settings: dict[str, str], minutes: str, asked: bool) -> None:
    assert bool(caught(read(settings, grab2_minutes=minutes), "minutes-2")) == asked


@pytest.mark.parametrize(
    ("settings", "typed", "key"),
    [
        (FREE, {"bench_read": "total"}, "other-species"),
        (TOTAL, {"bench_read": "free"}, "other-species"),
        (FREE, {"free": "0.60", "total": "1.01"}, "not-own-species"),
        (FREE, {"free": "0.60"}, "not-own-species"),
        (TOTAL, {"total": "1.40", "free": "1.01"}, "not-own-species"),
        (FREE | {"combined": "yes"}, {"total": "1.05"}, "combined"),
        (TOTAL | {"combined": "yes"}, {"total": "1.01", "free": "0.98"}, "combined"),
        (FREE, {"total": "0.95"}, "total-below-free"),
        (TOTAL, {"free": "1.07"}, "total-below-free"),
        (FREE, {"total": "0.80", "free": "1.00"}, "total-below-free"),
    ],
)
def test_combined_chlorine_counted_as_free_shows_by_many_ways(
    read: Any, settings: dict[str, str], typed: dict[str, str], key: str
) -> None:
    outcome = read(settings, **typed)
    assert caught(outcome, key)
    assert outcome.verdict is None


@pytest.mark.parametrize(
    ("settings", "typed"),
    [
        (FREE, {"bench_read": "free"}),
        (TOTAL, {"bench_read": "total"}),
        (FREE, {"free": "1.00", "total": "1.30"}),
        (FREE, {"total": "1.01"}),  # a water without ammonia has as much total as free
        (FREE | {"combined": "no"}, {"total": "1.01"}),
        (FREE | {"combined": "yes"}, {"total": "1.06"}),
        (FREE, {"total": "0.96"}),
        (TOTAL, {"free": "1.06"}),
    ],
)
def test_its_neighbours_are_not_caught(read: Any, settings: dict[str, str], typed: dict[str, str]) -> None:
    assert read(settings, **typed).verdict == "pass"


@pytest.mark.parametrize(
    ("before", "shown", "asked"),
    [
        ("-0.13", "0.86", True),  # -0.14 now
        ("-0.14", "0.86", False),
        ("-0.20", "0.86", False),
        ("0.13", "0.86", False),
        ("0.10", "1.15", True),
        ("0.16", "1.15", False),
        ("0", "0.86", False),
    ],
)
def test_an_error_that_grew_to_the_same_side_was_adjusted_the_wrong_way(
    read: Any, before: str, shown: str, asked: bool
) -> None:
    facts = {**AS_LEFT, "last": {"error": Fraction(before)}}
    pair = {"grab1_shown": shown, "grab2_shown": shown, "grab2_bench": "1.00", "adjusted_though_good": "told to"}
    outcome = read(facts=facts, **pair)
    assert bool(caught(outcome, "wrong-way")) == asked
    assert not caught(read(facts=facts | {"kind": "as found"}, **pair), "wrong-way")


@pytest.mark.parametrize(
    ("before", "new", "asked"),
    [
        ("-0.30", "0.95", True),
        ("-0.30", "1.20", False),
        ("0.30", "1.20", True),
        ("0.30", "0.95", False),
        ("0.30", "1.10", False),  # not moved
        ("0", "1.20", False),
    ],
)
def test_a_gain_moved_the_wrong_way_is_asked_about_though_the_pair_agrees(
    read: Any, before: str, new: str, asked: bool
) -> None:
    facts = {**AS_LEFT, "last": {"error": Fraction(before)}}
    pair = {"grab1_shown": "1.00", "grab2_shown": "1.02", "gain": "1.10", "new_gain": new}
    assert bool(caught(read(facts=facts, **pair), "gain-wrong-way")) == asked


def test_an_answer_that_it_was_the_wrong_way_fails_the_set(checked: Checked) -> None:
    answers = {"wrong-way": Answer(choice="wrong way", reason="seen at the keypad")}
    typed = GOOD | {"adjusted_though_good": "told to"}
    last = {"error": Fraction("-0.05")}
    outcome = checked(chlorine.METHOD, typed, METER, settings=FREE, last=last, kind="as left", answers=answers)
    assert outcome.verdict == "fail"


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("2026-11-23", "expired-reagent"),
        ("2026-10", "expired-reagent"),
        ("2026-11-24", ""),
        ("2026-11", ""),
        ("2027-02", ""),
        ("11/2026", "unread-reagent_expires"),
        ("2026-13", "unread-reagent_expires"),
        ("2026-02-30", "unread-reagent_expires"),
    ],
)
def test_bench_reagent_is_good_through_its_last_day(read: Any, text: str, key: str) -> None:
    found = [one.key for one in read(reagent_expires=text).found if "reagent" in one.key]
    assert found == ([key] if key else [])
    validity = {"expired-reagent": "not valid", "unread-reagent_expires": "incomplete"}.get(key, "valid")
    assert read(reagent_expires=text).validity == validity


def test_a_month_ends_with_its_last_day() -> None:
    assert last_day("2028-02") == date(2028, 2, 29)
    assert last_day(" 2027-03-31 ") == date(2027, 3, 31)


def test_the_analyzer_s_own_reagent_is_spoken_of_and_judges_nothing(read: Any) -> None:
    outcome = read(analyzer_expires="2026-10-31", level="low", analyzer_reagent="A-7", reagent="R-9")
    assert caught(outcome, "expired-in-analyzer") == caught(outcome, "low") == ["remind"]
    assert outcome.verdict == "pass"
    assert read(level="empty").validity == "asked"
    assert read(level="enough").verdict == "pass"


def test_adjusting_inside_a_limit_of_one_side_alone(read: Any) -> None:
    band = Band(low=Fraction("-0.2"), high=None, unit="mg/L", source="site", tag="site setting")
    facts = {**AS_LEFT, "limits": {"error": band}, "last": {"error": Fraction("-0.2")}}
    assert caught(read(facts=facts), "adjusted-inside") == ["refuse"]
    assert not caught(read(facts=facts | {"last": {"error": Fraction("-0.201")}}), "adjusted-inside")


@pytest.mark.parametrize(
    ("grab", "error", "inside"),
    [("3.00", "0.45", True), ("3.00", "0.46", False), ("0.40", "0.12", False), ("0.40", "0.10", True)],
)
def test_adjusting_inside_the_limit_of_as_found_whatever_the_grabs_after_it(
    read: Any, grab: str, error: str, inside: bool
) -> None:
    """As left the grabs read 1.01, a limit of 0.1515; as found it was 15 % of 3.00, or 0.10 under 0.667 mg/L."""
    facts = {**AS_LEFT, "last": {"error": Fraction(error), "mean_grab": Fraction(grab)}}
    assert bool(caught(read(facts=facts), "adjusted-inside")) == inside
    assert "mean_grab" in {one.name for one in chlorine.METHOD.recalls if one.of_this_check}


@pytest.mark.parametrize(("settings", "whole"), [(FREE | {"one_grab": "yes"}, True), (FREE, False)])
def test_one_grab_as_found_counts_as_left_where_nothing_was_done(settings: dict[str, str], whole: bool) -> None:
    typed = {name: text for name, text in GOOD.items() if not name.startswith("grab2_")}
    found = chlorine.METHOD.read(read_fields(fields_for(chlorine.METHOD, "as found"), typed), "as found", {})
    known = Known(day=DAY, standards={"M": METER}, settings=settings)
    outcome = judge(chlorine.METHOD, as_left_unchanged(found), known)
    assert outcome.can_be_signed == whole
