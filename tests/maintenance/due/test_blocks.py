"""A lock stops the routines of the positions it stops, from the day it goes on to the day it comes off.

The stories are worked by hand: what is due while the pump is locked is blocked, not overdue; on release it is due that
day; the next turn counts from when it was done. That a lock delays upkeep but no demand of a rule is common practice,
no source.
"""

from __future__ import annotations

import datetime as dt

import pytest

from maintenance.actions.isolation import serve_position
from maintenance.models import Occurrence, Plan
from maintenance.reads.due import DueFilter, blocked_rows, due_page, how_many
from maintenance.reads.due_words import state_of
from tests.conftest import Clock
from tests.make import make_position
from tests.make_locks import Pump, make_pump
from tests.make_upkeep import fixed, floating, make_done, make_order, make_plan, open_item

pytestmark = pytest.mark.django_db


@pytest.fixture
def pump(clock: Clock) -> Pump:
    clock.set(2026, 2, 1, 15)
    return make_pump()


def go(clock: Clock, month: int, day: int) -> dt.datetime:
    """Noon in the mountains."""
    return clock.set(2026, month, day, 19)


def on(month: int, day: int) -> dt.date:
    return dt.date(2026, month, day)


def last_done_on_8_february(clock: Clock, pump: Pump, **other: object) -> Plan:
    plan = make_plan(pump.position, by=pump.ruth, **{"interval": floating(30), **other})  # type: ignore[arg-type]
    go(clock, 2, 8)
    make_done(plan, clock.now, by=pump.ruth)
    return plan


def lock(clock: Clock, pump: Pump, month: int, day: int, **other: object) -> None:
    go(clock, month, day)
    pump.begin(**other)
    pump.prepare()
    pump.lock_points()


def unlock(clock: Clock, pump: Pump, month: int, day: int) -> None:
    go(clock, month, day)
    for number in ("41", "42", "43"):
        pump.take(number)


def word(item: Occurrence, month: int, day: int) -> str:
    return state_of(item, on(month, day)).value


def test_blocked_from_its_due_day_then_due_on_release(clock: Clock, pump: Pump) -> None:
    # 8 February + 30 days = 10 March; locked 1 to 20 March; done 20 March, next 20 March + 30 days = 19 April.
    plan = last_done_on_8_february(clock, pump)
    lock(clock, pump, 3, 1)
    item = open_item(plan)
    assert (item.due, item.blocked_from, item.because) == (on(3, 10), on(3, 10), f"locked, {pump.lockout}")
    assert (word(item, 3, 9), word(item, 3, 10), word(item, 3, 19)) == ("not yet", "blocked", "blocked")
    unlock(clock, pump, 3, 20)
    item = open_item(plan)
    assert (item.raw, item.due, item.blocked_from) == (on(3, 10), on(3, 20), None)
    assert (word(item, 3, 20), word(item, 3, 21)) == ("due", "overdue")
    make_done(plan, clock.now, by=pump.ruth)
    assert open_item(plan).due == on(4, 19)


def test_fixed_dates_stay_where_they_are(clock: Clock, pump: Pump) -> None:
    plan = last_done_on_8_february(clock, pump, interval=fixed(on(2, 10)))
    lock(clock, pump, 3, 1)
    unlock(clock, pump, 3, 20)
    make_done(plan, clock.now, by=pump.ruth)
    assert Occurrence.objects.get(plan=plan, raw=on(3, 10)).ended == "done"
    assert open_item(plan).due == on(4, 10)


def test_a_rule_is_not_stopped_by_our_lock(clock: Clock, pump: Pump) -> None:
    plan = last_done_on_8_february(clock, pump, interval=floating(30, by_rule=True))
    lock(clock, pump, 3, 1)
    item = open_item(plan)
    assert item.blocked_from is None
    assert word(item, 3, 11) == "overdue"
    assert item.because == f"locked, {pump.lockout}"  # said beside it: it cannot start, and yet it is owed


def test_the_lock_of_the_routines_own_job_stops_nobody_from_it(clock: Clock, pump: Pump) -> None:
    own = last_done_on_8_february(clock, pump, title="Change the bearings")
    other = last_done_on_8_february(clock, pump, title="Look at the drip")
    order = make_order(pump.position, by=pump.ruth, plan=own)
    lock(clock, pump, 3, 1, order=order)
    assert open_item(own).blocked_from is None
    assert open_item(other).blocked_from == on(3, 10)


def test_a_lock_on_a_shared_point_stops_the_other_position_too(clock: Clock, pump: Pump) -> None:
    beside = make_position(site=pump.site, tag="P-3", does="moves")
    serve_position(point=pump.points["V-21"], position=beside, by=pump.ruth)
    plan = make_plan(beside, by=pump.ruth, interval=floating(30))
    lock(clock, pump, 3, 1)
    assert open_item(plan).blocked_from == on(3, 1)
    go(clock, 3, 5)
    pump.take("42")
    assert open_item(plan).blocked_from is None


def test_blocked_items_stand_in_their_own_part_with_the_reason(clock: Clock, pump: Pump) -> None:
    last_done_on_8_february(clock, pump)
    lock(clock, pump, 3, 1)
    page = due_page(pump.site, DueFilter(), on(3, 12))
    assert [(r.tag, r.state.word, r.because) for r in blocked_rows(pump.site, DueFilter(), on(3, 12))] == [
        ("P-2", "Blocked because locked", f"locked, {pump.lockout}")
    ]
    assert how_many(pump.site, DueFilter(state="blocked"), on(3, 12)) == "1"
    assert page.rows == 0
