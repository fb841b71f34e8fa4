"""Every kind of interval as stored: each act of the plant rewrites the due items through the one formula.

Days are worked by hand beside each story; hours of a pump and pressures of a strainer are invented. That a routine by
use is told by readings alone, and a rolled over or exchanged counter is said and never assumed: common practice.
"""

from __future__ import annotations

import datetime as dt

import pytest

from assets.actions import (
    CounterBroken,
    RuleTyped,
    exchange_asset,
    set_rule,
    start_running,
    stop_running,
    withdraw_running,
)
from assets.errors import Refusal
from assets.models import Person, Position, Site
from maintenance.actions.routines import Interval, change_term
from maintenance.models import Occurrence
from maintenance.reads.due_words import by_use
from tests.conftest import Clock
from tests.maintenance.due.running import at, by_hours, on, open_item, read, word
from tests.make import make_asset, make_fitting, make_position
from tests.make_upkeep import make_done, make_plan

pytestmark = pytest.mark.django_db


def test_a_routine_by_use_falls_due_when_its_meter_says_so(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    read(pump, "1000.0", ines)
    plan = make_plan(pump, by=ruth, interval=by_hours(), title="Change oil")
    make_done(plan, at(site, 3, 2, 11), by=ines)
    item = open_item(plan)
    # From the total of 1,000 h at the work: can be done at 1,450, due at 1,500, overdue above 1,520.
    assert by_use(item).startswith("At 1500 h; 1000 h now")
    assert word(item, on(3, 2)) == "not yet"
    for day, hours, said in ((5, "1449.9", "not yet"), (6, "1450", "can be done now"), (9, "1500", "due")):
        clock.now = at(site, 3, day)
        read(pump, hours, ines)
        assert word(item, on(3, day)) == said, hours
    clock.now = at(site, 3, 11)
    read(pump, "1520.1", ines)
    assert word(item, on(3, 11)) == "overdue", "from the day on which it was known"
    assert item.due == on(3, 9)
    make_done(plan, at(site, 3, 11), by=ines)
    assert by_use(open_item(plan)).startswith("At 2020.1 h")


def test_an_exchanged_counter_gives_the_same_next_turn_as_one_that_was_not(
    site: Site, ruth: Person, ines: Person, clock: Clock
) -> None:
    due = []
    for number, exchanged in ((1, False), (2, True)):
        clock.now = at(site, 3, 2)
        pump = make_position(site=site, tag=f"P-{number}", does="moves", quantity="", unit="")
        read(pump, "99900", ines)
        plan = make_plan(pump, by=ruth, interval=by_hours())
        make_done(plan, at(site, 3, 2, 11), by=ines)
        clock.now = at(site, 3, 20)
        # 300 h: to 100,200; or 99,950 on the old one, then 250 on the new; or round past 100,000 to 200.
        broken = CounterBroken(old_last="99950", new_first="0") if exchanged else CounterBroken(modulus="100000")
        read(pump, "250" if exchanged else "200", ines, broken=broken)
        clock.now = at(site, 3, 25)
        read(pump, "450" if exchanged else "400", ines)
        due.append((open_item(plan).due, by_use(open_item(plan)).split("; ")[1]))
    assert due[0][0] == due[1][0] == on(3, 25)


def test_hours_belong_to_the_machine_so_an_exchanged_pump_begins_its_own_count(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    old, new = make_asset(site=site), make_asset(site=site)
    make_fitting(position=pump, asset=old, by=ruth)
    read(old, "1000", ines)
    plan = make_plan(pump, by=ruth, interval=by_hours(), follows="asset")
    make_done(plan, at(site, 3, 2, 11), by=ines)
    read(new, "40", ines)
    clock.now = at(site, 3, 10)
    exchange_asset(position=pump, asset=new, by=ines)
    assert open_item(plan).why == "before use"
    make_done(plan, at(site, 3, 10, 12), by=ines)
    assert by_use(open_item(plan)).startswith("At 540 h; 40 h now")


def test_a_meter_that_nobody_reads_becomes_due_itself_and_a_reading_ends_that(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    read(pump, "1000", ines)
    plan = make_plan(pump, by=ruth, interval=by_hours())
    make_done(plan, at(site, 3, 2, 11), by=ines)
    clock.now = at(site, 4, 5)
    from maintenance.actions.nightly import carry_forward

    carry_forward(site=site, today=on(4, 5))
    stale = Occurrence.objects.get(plan=plan, why="read the meter")
    assert stale.due == on(4, 1), "30 days after 2 March, the site's own rule or ours"
    assert word(stale, on(4, 5)) == "overdue"
    read(pump, "1100", ines)
    assert not Occurrence.objects.open().filter(plan=plan, why="read the meter", due__lte=on(4, 5)).exists()
    rule = RuleTyped("stale_meter_days", "7", "own", "the walk is daily", on(4, 5))
    set_rule(site=site, typed=rule, by=ruth)
    assert Occurrence.objects.open().get(plan=plan, why="read the meter").due == on(4, 12)


def test_whichever_comes_first_resets_both(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    read(pump, "0", ines)
    both = Interval(
        mode="first of", source="maker", every=3, unit="month", early=0, reads="Run hours", reads_unit="h",
        use_every="500",
    )  # fmt: skip
    plan = make_plan(pump, by=ruth, interval=both)
    make_done(plan, at(site, 3, 2, 11), by=ines)
    assert open_item(plan).due == on(6, 2)
    clock.now = at(site, 4, 10)
    read(pump, "500", ines)
    item = open_item(plan)
    assert (item.due, word(item, on(4, 10))) == (on(4, 10), "due")
    clock.forward(hours=1)
    make_done(plan, at(site, 4, 10, 13), by=ines)
    assert open_item(plan).due == on(7, 10)


def test_once_in_each_period_is_missed_past_its_end_and_never_overdue(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    quarter = Interval(mode="period", source="permit", every=3, unit="month", spacing=30)
    plan = make_plan(pump, by=ruth, interval=quarter)
    make_done(plan, at(site, 3, 2, 11), by=ines)
    clock.now = at(site, 4, 2)
    make_done(plan, at(site, 4, 1, 11), by=ines)
    turns = dict(Occurrence.objects.filter(plan=plan).values_list("raw", "ended"))
    assert turns[on(6, 30)] == "done", "2 March and 1 April are 30 days apart: each counts for its quarter"
    assert turns[on(9, 30)] == "open"


def test_a_test_of_each_running_day_is_owed_when_the_unit_starts(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    plan = make_plan(pump, by=ruth, interval=Interval(mode="running", source="40 CFR 141.719"))
    make_done(plan, at(site, 3, 2, 11), by=ines)
    assert not Occurrence.objects.open().filter(plan=plan).exists()
    clock.now = at(site, 3, 8, 1)
    run = start_running(site=site, unit=pump, at=at(site, 3, 8, 0) + dt.timedelta(minutes=10), by=ines)
    assert open_item(plan).due == on(3, 8)
    stop_running(running=run, at=at(site, 3, 8, 0) + dt.timedelta(minutes=40), by=ines)
    assert list(Occurrence.objects.open().filter(plan=plan).values_list("due", flat=True)) == [on(3, 8)]
    withdraw_running(running=run, because="it was the other unit", by=ruth)
    assert not Occurrence.objects.open().filter(plan=plan).exists()


def test_a_condition_is_owed_when_seen_and_raised_again_by_newer_values_only(
    site: Site, ruth: Person, ines: Person, clock: Clock
) -> None:
    strainer = make_position(site=site, tag="PDIT-05", quantity="pressure difference", unit="kPa")
    high = Interval(
        mode="condition", source="maker", reads="pressure difference", reads_unit="kPa", high="35", answer_days=2
    )
    plan = make_plan(strainer, by=ruth, interval=high, title="Clean the strainer")
    make_done(plan, at(site, 3, 2, 11), by=ines)

    def seen(day: int, text: str, unit: str = "kPa") -> list[dt.date]:
        clock.now = at(site, 3, day)
        read(strainer, text, ines, what="Pressure difference", unit=unit)
        return list(Occurrence.objects.open().filter(plan=plan).values_list("due", flat=True))

    assert seen(3, "35") == [], "at the limit itself it is inside"
    assert seen(4, "0.36", "bar") == [on(3, 6)], "36 kPa on 4 March, two days to answer"
    assert seen(5, "38") == [on(3, 6)], "it is owed once"
    make_done(plan, at(site, 3, 5), by=ines)
    assert seen(6, "12") == [], "the old high value raises nothing after the work"
    assert seen(7, "35") == []
    assert seen(8, "36") == [on(3, 10)]
    make_done(plan, at(site, 3, 8), by=ines)
    assert seen(9, "37") == [on(3, 11)], "a cleaning that did not help is not silent"


@pytest.mark.parametrize(
    ("interval", "box"),
    [
        (Interval(mode="usage", source="x", reads="Run hours", reads_unit="h"), "use_every"),
        (Interval(mode="usage", source="x", use_every="500"), "reads"),
        (Interval(mode="usage", source="x", reads="Run hours", reads_unit="hopes", use_every="500"), "reads_unit"),
        (Interval(mode="usage", source="x", reads="Run hours", reads_unit="h", use_every="five"), "use_every"),
        (Interval(mode="condition", source="x", reads="Level", reads_unit="m"), "low"),
        (Interval(mode="condition", source="x", reads="Level", reads_unit="m", low="4", high="2"), "low"),
        (Interval(mode="period", source="x", every=5, unit="day"), "unit"),
        (Interval(mode="period", source="x", every=1, unit="month", spacing=40), "spacing"),
        (Interval(mode="fixed", source="x", every=1, unit="month"), "anchor"),
        (Interval(mode="floating", source=" ", every=1, unit="month"), "source"),
    ],
)
def test_terms_that_no_due_day_follows_from_are_refused_at_their_box(
    site: Site, ruth: Person, pump: Position, interval: Interval, box: str
) -> None:
    plan = make_plan(pump, by=ruth)
    with pytest.raises(Refusal) as refused:
        change_term(plan=plan, interval=interval, from_day=on(3, 2), why="a try", by=ruth)
    assert box in [reason.field for reason in refused.value.reasons]
    assert plan.terms.count() == 1
