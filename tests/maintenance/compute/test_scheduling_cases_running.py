"""Work owed by the day of running and on a condition: the cases on dates and counts worked by hand.

Source: the Gregorian calendar and sums of the readings; the rules are our own. Lines read as in `routines.line`.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from maintenance.compute.schedule import (
    Act,
    Facts,
    Limits,
    Mode,
    Value,
    turns,
)
from tests.maintenance.compute.routines import (
    act,
    at,
    lines,
    on,
    owed,
    ran,
    routine,
    season,
    term,
    value,
)

# ------------------------------------------------------------- on each day of running


def running(*done: Act, runs: tuple[object, ...] = (), **rest: object) -> Facts:
    return routine(term(Mode.RUNNING), *done, start="1 Mar", runs=runs, **rest)


def test_26_no_test_is_due_on_a_day_off_and_one_on_a_day_with_half_an_hour() -> None:
    """Idle on 7 March; ran from 00:10 to 00:40 on 8 March."""
    day = on("8 Mar")
    half_an_hour = replace(ran("8 Mar", "8 Mar"), from_at=at(day, "00:10"), to_at=at(day, "00:40"))
    facts = running(act("6 Mar"), runs=(ran("6 Mar", "6 Mar"), half_an_hour))
    assert lines(facts, "7 Mar") == ["6 Mar done 6 Mar"]
    assert lines(facts, "8 Mar") == ["6 Mar done 6 Mar", "8 Mar due"]
    assert lines(facts, "9 Mar") == ["6 Mar done 6 Mar", "8 Mar missed 9 Mar"]


def test_26_the_test_is_due_as_soon_as_the_unit_is_started_and_each_day_while_it_runs() -> None:
    facts = running(act("9 Mar"), runs=(ran("8 Mar"),))
    assert lines(facts, "8 Mar") == ["8 Mar due", "9 Mar not yet"]
    assert lines(facts, "10 Mar") == ["8 Mar missed 9 Mar", "9 Mar done 9 Mar", "10 Mar due", "11 Mar not yet"]


def test_26_nothing_is_owed_before_the_first_start_and_two_runs_on_a_day_are_one() -> None:
    assert lines(running(), "1 Mar") == []
    facts = running(act("8 Mar"), runs=(ran("8 Mar", "8 Mar"), replace(ran("8 Mar", "9 Mar"), key="again")))
    assert lines(facts, "9 Mar") == ["8 Mar done 8 Mar", "9 Mar due"]


def test_26_a_start_written_down_later_was_not_known_before() -> None:
    late = ran("8 Mar", "8 Mar")
    known = {
        day: turns(running(runs=(late,)), on("9 Mar"), known_at=at(on(day), "05:00")) for day in ("8 Mar", "9 Mar")
    }
    assert known["8 Mar"] == ()
    assert [turn.due for turn in known["9 Mar"]] == [on("8 Mar")]


# ------------------------------------------------------------- on a condition

STRAINER = Limits(high=Fraction(35), answer_days=3)


def strainer(*values: Value, done: tuple[Act, ...] = (), **rest: object) -> Facts:
    """Clean the strainer within 3 days once its differential pressure is over 35 kPa."""
    return routine(term(Mode.CONDITION, limits=STRAINER), *done, start="1 Mar", values=values, **rest)


def test_a_value_at_the_limit_is_good_and_one_over_it_is_answered_in_its_days() -> None:
    assert lines(strainer(value("5 Mar", "35")), "6 Mar") == []
    over = strainer(value("5 Mar", "35.1"))
    assert lines(over, "5 Mar") == ["8 Mar outside its limits can be done now"]
    assert lines(over, "8 Mar") == ["8 Mar outside its limits due"]
    assert lines(over, "9 Mar") == ["8 Mar outside its limits overdue late 1"]


def test_while_it_is_owed_more_high_values_raise_nothing() -> None:
    facts = strainer(value("5 Mar", "36"), value("6 Mar", "40"), value("7 Mar", "30"), value("8 Mar", "41"))
    assert [turn.due for turn in turns(facts, on("8 Mar"))] == [on("8 Mar")]


def test_after_cleaning_the_old_high_value_raises_nothing_and_a_new_one_does() -> None:
    old = value("6 Mar", "40", clock="09:00", known="8 Mar")
    cleaned = strainer(value("5 Mar", "36"), old, done=(act("7 Mar"),))
    assert lines(cleaned, "20 Mar") == ["8 Mar outside its limits done 7 Mar"]
    again = strainer(value("5 Mar", "36"), old, value("9 Mar", "37"), done=(act("7 Mar"),))
    assert lines(again, "9 Mar") == ["8 Mar outside its limits done 7 Mar", "12 Mar outside its limits can be done now"]


def test_a_value_high_again_after_it_came_back_is_a_new_one_and_out_of_season_none_is() -> None:
    done = (act("6 Mar", clock="08:00"),)
    again = strainer(value("5 Mar", "36"), value("6 Mar", "30"), value("7 Mar", "36"), done=done)
    assert [turn.due for turn in turns(again, on("7 Mar"))] == [on("8 Mar"), on("10 Mar")]
    winter = strainer(value("5 Mar", "36"), value("20 Mar", "36"), pauses=(season("6 Mar", "15 Mar"),))
    assert lines(winter, "20 Mar") == [
        "8 Mar outside its limits withdrawn 6 Mar (out of season)",
        "15 Mar before use overdue late 5",
    ]


def test_put_into_force_a_routine_looks_at_the_newest_value_unless_work_came_after_it() -> None:
    before = (value("20 Feb", "30"), value("25 Feb", "36"))
    assert [turn.due for turn in turns(strainer(*before), on("1 Mar"))] == [on("4 Mar")]
    assert turns(strainer(*before, done=(act("26 Feb"),)), on("1 Mar")) == ()
    assert turns(strainer(value("20 Feb", "36"), value("25 Feb", "30")), on("1 Mar")) == ()


def test_on_the_day_it_is_put_into_force_a_value_that_comes_back_takes_nothing_away() -> None:
    registered = term(Mode.CONDITION, limits=STRAINER, decided="1 Mar")  # at noon
    values = [value("1 Mar", number, clock=clock) for number, clock in (("40", "08:00"), ("30", "09:00"))]
    assert turns(routine(registered, start="1 Mar", values=tuple(values)), on("1 Mar")) == ()
    values += [value("1 Mar", number, clock=clock) for number, clock in (("36", "13:00"), ("30", "14:00"))]
    (owed_once,) = turns(routine(registered, start="1 Mar", values=tuple(values)), on("1 Mar"))
    assert owed_once.key == "seen 1 Mar 13:00"


def test_a_value_written_down_late_is_seen_on_the_day_it_is_known() -> None:
    facts = strainer(value("5 Mar", "36", known="10 Mar"))
    assert owed(facts, "10 Mar").due == on("13 Mar")
