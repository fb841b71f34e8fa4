"""Work owed by use, alone or whichever is first: the cases on dates and counts worked by hand.

Source: the Gregorian calendar and sums of the readings; the rules are our own. Lines read as in `routines.line`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest

from assets.compute.formulas.counters import Replaced, counted
from assets.compute.readings.series import Broken, Count, totals
from maintenance.compute.meters import expected, metered_from
from maintenance.compute.schedule import (
    READ_THE_METER,
    Act,
    Allowance,
    ByUse,
    Facts,
    Kind,
    Metered,
    Mode,
    Outcome,
    State,
    Turn,
    Unit,
    outcome,
    refused,
    state,
    turns,
)
from maintenance.compute.usage import total_at
from tests.maintenance.compute.routines import (
    act,
    at,
    fitted,
    lines,
    locked,
    on,
    put_off,
    read,
    routine,
    season,
    term,
)

DENVER = ZoneInfo("America/Denver")
EVERY_500 = ByUse(every=Fraction(500), unit="h", early=Fraction(50), late=Fraction(20))
STRICT = ByUse(every=Fraction(500), unit="h")


def by_use(*metered: Metered, done: tuple[Act, ...] = (), use: ByUse = EVERY_500, **rest: object) -> Facts:
    """Every 500 h; done on 1 January at 1,000 h."""
    first = (act("1 Jan", clock="08:00"),)
    return routine(
        term(Mode.USAGE, use=use), *first, *done, start="1 Jan", metered=(read("1 Jan", 1000), *metered), **rest
    )


def word(facts: Facts, day: str) -> State:
    return state(the_turn(facts, day), on(day)).state


def the_turn(facts: Facts, day: str) -> Turn:
    return next(turn for turn in reversed(turns(facts, on(day))) if turn.kind is Kind.FLOATING)


@pytest.mark.parametrize(
    ("total", "said"),
    [
        (1449, State.NOT_YET),
        (1450, State.CAN_BE_DONE),
        (1499, State.CAN_BE_DONE),
        (1500, State.DUE),
        (1520, State.DUE),
        (1521, State.OVERDUE),
    ],
)
def test_24_by_use_the_word_follows_the_total_at_each_edge(total: int, said: State) -> None:
    """Next at 1,000 + 500 = 1,500 h, 50 h early, 20 h late, all inclusive."""
    assert word(by_use(read("20 Jan", total)), "20 Jan") is said
    assert word(by_use(read("20 Jan", total)), "19 Jan") is State.NOT_YET
    assert word(by_use(read("20 Jan", total)), "30 Jan") is said  # time alone changes nothing


def test_24_a_crossing_written_down_late_is_overdue_from_the_day_it_is_known() -> None:
    """Read 1,512 h on 20 January, written down on 3 February: 12 h over, and overdue since 3 February."""
    facts = by_use(read("20 Jan", 1512, known="3 Feb"), use=STRICT)
    seen = {day: word(facts, day) for day in ("20 Jan", "2 Feb", "3 Feb")}
    assert seen == {"20 Jan": State.NOT_YET, "2 Feb": State.NOT_YET, "3 Feb": State.OVERDUE}
    turn = the_turn(facts, "5 Feb")
    assert turn.use is not None
    assert (turn.use.over, turn.use.next_at) == (12, 1500)
    assert state(turn, on("5 Feb")).days_late == 2


def test_24_forty_days_without_a_reading_make_the_meter_due_and_the_forecast_stale() -> None:
    """Last read on 20 January; 30 days later is 19 February, 40 days later 1 March."""
    facts = by_use(read("20 Jan", 1100))
    demand = [turn for turn in turns(facts, on("1 Mar")) if turn.why == READ_THE_METER]
    assert [(turn.due, turn.kind) for turn in demand] == [(on("19 Feb"), Kind.READING)]
    assert [state(demand[0], on(day)).state for day in ("18 Feb", "19 Feb", "20 Feb")] == [
        *(State.NOT_YET, State.DUE, State.OVERDUE)
    ]
    assert state(demand[0], on("1 Mar"), (locked("1 Feb"),)).state is State.OVERDUE  # a lock hides no meter
    again = by_use(read("20 Jan", 1100), read("1 Mar", 1200))
    assert [turn.due for turn in turns(again, on("1 Mar")) if turn.why == READ_THE_METER] == [on("31 Mar")]
    readings = [Count(value=Fraction(v), at=at(on(d), "12:00")) for d, v in (("10 Jan", 1050), ("20 Jan", 1100))]
    use = the_turn(facts, "1 Mar").use
    assert use is not None
    found = expected(use, totals(readings), at(on("1 Mar")))
    assert found is not None
    assert (found.age.days, found.age.stale, found.forecast.n) == (40, True, 2)
    assert found.forecast.last_at == at(on("20 Jan"))
    # 50 h in 10 days are 5 h a day; 400 h are left at 1,100 h, so 80 days after 20 January: 10 April.
    assert found.forecast.at == at(on("10 Apr"))
    week = expected(use, totals(readings), at(on("1 Mar")), stale_days=60)
    assert week is not None and not week.age.stale


def test_24_a_meter_that_was_never_read_must_be_read_at_once() -> None:
    facts = routine(term(Mode.USAGE, use=EVERY_500), act("1 Jan"), start="1 Jan")
    assert lines(facts, "1 Jan") == ["1 Jan read the meter due", "by use not yet"]


def test_24_done_by_use_on_time_within_what_is_allowed_and_late() -> None:
    for total, how in ((1500, Outcome.ON_TIME), (1520, Outcome.WITHIN_ALLOWED), (1521, Outcome.LATE)):
        facts = by_use(read("20 Jan", total), done=(act("20 Jan"),))
        done = next(turn for turn in turns(facts, on("20 Jan")) if turn.by_act)
        assert (done.used, outcome(done)) == (total, how)
        assert the_turn(facts, "20 Jan").use.next_at == total + 500  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("hours", "total", "said"),
    [
        (200, 300, [State.NOT_YET, State.DUE, State.OVERDUE]),
        (900, 600, [State.OVERDUE, State.OVERDUE, State.OVERDUE]),
    ],
    ids=["a shorter amount is due on the day of its decision", "a longer one cures nothing"],
)
def test_24_another_amount_is_decided_on_the_first_of_february(hours: int, total: int, said: list[State]) -> None:
    new = term(Mode.USAGE, use=ByUse(every=Fraction(hours), unit="h"), decided="1 Feb")
    known = (read("1 Jan", 0), read("20 Jan", total))
    both = (term(Mode.USAGE, use=STRICT), new)
    facts = routine(both, act("1 Jan", clock="08:00"), start="1 Jan", metered=known)
    assert [word(facts, day) for day in ("31 Jan", "1 Feb", "2 Feb")] == said


def first_of(*metered: Metered, done: tuple[Act, ...] = ()) -> Facts:
    """Every 30 days or 500 h, 5 days and 20 h late; done on 1 January at 1,000 h."""
    terms = term(Mode.FIRST_OF, (30, Unit.DAY), use=EVERY_500, late=Allowance(5))
    return routine(terms, act("1 Jan", clock="08:00"), *done, start="1 Jan", metered=(read("1 Jan", 1000), *metered))


@pytest.mark.parametrize(
    ("total", "day", "said"),
    [
        (1100, "23 Jan", State.NOT_YET),
        (1100, "24 Jan", State.CAN_BE_DONE),
        (1460, "20 Jan", State.CAN_BE_DONE),
        (1500, "20 Jan", State.DUE),
        (1100, "31 Jan", State.DUE),
        (1500, "1 Feb", State.LATE_ALLOWED),
        (1521, "20 Jan", State.OVERDUE),
        (1100, "6 Feb", State.OVERDUE),
    ],
)
def test_25_whichever_first_says_the_worse_word(total: int, day: str, said: State) -> None:
    """By date 31 January, opening a week early, allowed to 5 February; by use 1,500 h, from 1,450, allowed to 1,520."""
    assert word(first_of(read("15 Jan", total)), day) is said


def test_25_done_once_resets_date_and_use() -> None:
    facts = first_of(read("10 Jan", 1400), read("20 Jan", 1510), done=(act("20 Jan"),))
    turn = the_turn(facts, "20 Jan")
    assert turn.use is not None
    assert (turn.due, turn.use.base, turn.use.next_at) == (on("19 Feb"), 1510, 2010)
    assert state(turn, on("20 Jan")).state is State.NOT_YET
    assert state(turn, on("12 Feb")).state is State.CAN_BE_DONE


def metered(*readings: Count) -> tuple[Metered, ...]:
    return metered_from(totals(readings), DENVER)


def counts(*read_on: tuple[int, int, Broken | None]) -> list[Count]:
    return [
        Count(value=Fraction(v), at=datetime(2026, 1, day, 7, tzinfo=DENVER), broken=why) for day, v, why in read_on
    ]


def test_25_an_exchanged_meter_and_a_rollover_give_the_same_next_turn_as_a_meter_that_went_on() -> None:
    """1,000 h on the 1st and 1,510 h on the 20th; exchanged at 1,300 for one that began at 20; rolled over at 1,200."""
    went_on = counts((1, 1000, None), (12, 1300, None), (20, 1510, None))
    exchange = Broken(kind="replaced", old_last=Fraction(1300), new_first=Fraction(20))
    exchanged = counts((1, 1000, None), (20, 230, exchange))
    rollover = Broken(kind="rolled over", modulus=Fraction(1200))
    rolled = counts((1, 1000, None), (12, 100, rollover), (20, 310, None))
    assert (
        counted(Fraction(1000), Fraction(230), replaced=Replaced(old_last=Fraction(1300), new_first=Fraction(20)))
        == 510
    )
    told = []
    for readings in (went_on, exchanged, rolled):
        facts = routine(
            term(Mode.FIRST_OF, (30, Unit.DAY), use=STRICT),
            act("1 Jan", clock="20:00"),
            start="1 Jan",
            metered=metered(*readings),
        )
        turn = the_turn(facts, "20 Jan")
        assert turn.use is not None
        told.append((turn.due, turn.use.next_at, turn.use.due, turn.use.over, state(turn, on("20 Jan")).state))
    assert told[0] == told[1] == told[2] == (on("31 Jan"), 1500, on("20 Jan"), 10, State.OVERDUE)


def test_25_a_meter_that_fell_without_a_word_tells_nothing_more() -> None:
    """Nobody said why it fell: the total stops there, and no rollover is assumed."""
    fell = metered(*counts((1, 1000, None), (12, 100, None), (20, 310, None)))
    assert [one.total for one in fell] == [1000]
    with pytest.raises(ValueError, match="the total falls from 1000 to 100"):
        by_use(read("12 Jan", 100))


def test_25_the_hours_belong_to_the_pump_that_is_fitted() -> None:
    fittings = (fitted("pump A", "1 Jan", "06:00"), fitted("pump B", "10 Jan", "06:00"))
    own = tuple(
        Metered(
            at=at(on(day), "07:00"),
            day=on(day),
            total=Fraction(total),
            known_on=on(day),
            recorded_at=at(on(day)),
            asset=asset,
        )
        for day, total, asset in (("1 Jan", 1000, "pump A"), ("10 Jan", 40, "pump B"), ("10 Jan", 1490, "pump A"))
    )
    terms = term(Mode.USAGE, use=STRICT)
    done = (act("1 Jan", clock="08:00"), act("10 Jan", clock="08:00"))
    facts = routine(terms, *done, start="1 Jan", metered=own, fittings=fittings, follows_asset=True)
    turn = the_turn(facts, "11 Jan")
    assert turn.use is not None
    assert (turn.use.base, turn.use.next_at) == (40, 540)


def test_25_totals_of_two_meters_are_never_put_together() -> None:
    """A routine of the place reads the only meter there is, were it that of a machine; of two it takes the place's."""
    place = (read("1 Jan", 5000), read("20 Jan", 5100))
    pump = (replace(read("1 Jan", 1000), asset="pump A"), replace(read("20 Jan", 1510), asset="pump A"))
    assert [total_at(of, "", at(on("20 Jan"))) for of in (pump, place, (*place, *pump))] == [1510, 5100, 5100]
    assert [total_at((*place, *pump), asset, at(on("20 Jan"))) for asset in ("pump A", "pump B")] == [1510, 5100]


def test_what_is_owed_by_use_is_blocked_put_off_and_due_on_release() -> None:
    facts = by_use(read("20 Jan", 1510), read("25 Jan", 1530))
    turn = the_turn(facts, "31 Jan")
    lock = (locked("22 Jan", "28 Jan"),)
    seen = [state(turn, on(day), lock).state for day in ("21 Jan", "22 Jan", "27 Jan", "28 Jan", "29 Jan")]
    assert seen == [State.DUE, State.BLOCKED, State.BLOCKED, State.DUE, State.OVERDUE]
    deferred = (put_off(turn, "20 Jan", "28 Jan"),)
    seen = [state(turn, on(day), (), deferred).state for day in ("20 Jan", "27 Jan", "28 Jan", "29 Jan")]
    assert seen == [State.DEFERRED, State.DEFERRED, State.DUE, State.OVERDUE]


def test_what_no_meter_says_is_due_cannot_be_put_off() -> None:
    turn = the_turn(by_use(read("20 Jan", 1100)), "20 Jan")
    assert refused(turn, on("1 Feb"), on("20 Jan")).startswith("It is not due by its meter yet")
    due = the_turn(by_use(read("20 Jan", 1500)), "20 Jan")
    assert refused(due, on("1 Feb"), on("20 Jan")) == ""


def test_under_a_rule_nothing_is_allowed_after_the_total() -> None:
    known = (read("1 Jan", 1000), read("20 Jan", 1501))
    demanded = term(Mode.USAGE, use=EVERY_500, by_rule=True)
    facts = routine(demanded, act("1 Jan", clock="08:00"), start="1 Jan", metered=known)
    assert word(facts, "20 Jan") is State.OVERDUE


def test_work_by_use_in_the_shed_owes_a_check_on_return_and_no_reading_before() -> None:
    """The pump is tried on the stand meanwhile, and its meter goes on."""
    readings = (read("1 Jan", 1000), read("10 Feb", 1600))
    facts = routine(
        term(Mode.USAGE, use=STRICT),
        *(act("1 Jan", clock="08:00"), act("1 Feb")),
        start="1 Jan",
        metered=readings,
        pauses=(season("15 Jan", "1 May"),),
    )
    assert lines(facts, "20 Apr") == ["by use withdrawn 15 Jan (out of season)"]
    assert lines(facts, "1 May") == ["1 May before use due", "by use withdrawn 15 Jan (out of season)"]


@pytest.mark.parametrize(
    ("terms", "sentence"),
    [
        ({"mode": Mode.USAGE}, "needs how many hours"),
        ({"mode": Mode.CONDITION}, "needs the limits"),
        ({"mode": Mode.PERIOD, "every": (2, Unit.WEEK)}, "give a week, a month, a quarter"),
        ({"mode": Mode.PERIOD, "every": (1, Unit.MONTH), "spacing": 29}, "Give 0 to 28"),
        ({"mode": Mode.FLOATING, "spacing": 3}, "asked only where"),
    ],
)
def test_terms_that_tell_no_due_day_are_refused(terms: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        term(**terms)  # type: ignore[arg-type]
