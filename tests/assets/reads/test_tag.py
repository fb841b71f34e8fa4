"""What the plant knows of a tag, now and as it was known on a day."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assets import actions
from assets.actions import LimitFacts, ReadingFacts
from assets.models import Role
from assets.permissions import Desk
from assets.reads import tag_panel
from tests.make import make_asset, make_person, make_position, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(clock):
    return make_site()


@pytest.fixture
def ruth(site):
    return make_person(site=site, role=Role.SUPERVISOR)


def limit(value: str) -> LimitFacts:
    return LimitFacts("permit", "high", value, "pH", "permit 12", dt.date(2026, 11, 1))


def reading(entered: str, **other) -> ReadingFacts:
    return ReadingFacts(what="pH", entered=entered, unit="pH", face="HMI", **other)


def test_now_and_as_known_before_things_changed(site, ruth, clock) -> None:
    desk = Desk(ruth, site, Role.SUPERVISOR)
    position, pump = make_position(site=site), make_position(site=site, does="moves")
    old, new = make_asset(site=site), make_asset(site=site)
    actions.fit_asset(position=position, asset=old, at=clock.now - dt.timedelta(days=9), by=ruth)
    use = actions.register_use(position=position, use="paces", target=pump, by=ruth)
    actions.set_limit(position=position, facts=limit("8.5"), by=ruth)
    first = actions.record_reading(of=position, facts=reading("7.1"), by=ruth)
    known = clock.now
    clock.forward(days=3)
    late = clock.now - dt.timedelta(days=5)
    actions.exchange_asset(position=position, asset=new, at=late, by=ruth)
    actions.end_use(use=use, by=ruth)
    actions.set_limit(position=position, facts=limit("8.4"), by=ruth)
    actions.correct_reading(reading=first, facts=reading("7.2"), by=ruth)

    now = tag_panel(desk, position)
    assert (now.fitted.asset, [f.asset for f in now.past]) == (new, [old])
    assert (now.uses, [x.value for x in now.limits], [r.entered for r in now.readings]) == ((), ["8.4"], ["7.2"])
    assert now.may_write and now.may_keep and now.as_known_on is None

    then = tag_panel(desk, position, known=known)
    # The exchange happened before that day, but was entered after it: nobody knew.
    assert (then.fitted.asset, then.past) == (old, ())
    assert ([u.on for u in then.uses], [x.value for x in then.limits]) == ([pump.tag], ["8.5"])
    assert [r.entered for r in then.readings] == ["7.1"]
    assert not then.may_write and then.as_known_on == dt.date(2026, 11, 25)
    assert [u.position for u in tag_panel(desk, pump, known=known).used_by] == [position]
    assert tag_panel(desk, pump).used_by == () and tag_panel(desk, pump).machine


@pytest.mark.parametrize(("role", "write", "keep"), [(Role.OPERATOR, True, False), (Role.VIEWER, False, False)])
def test_a_panel_offers_what_the_role_may_do(site, role, write, keep) -> None:
    panel = tag_panel(Desk(make_person(site=site, role=role), site, role), make_position(site=site))
    assert (panel.may_write, panel.may_keep) == (write, keep)


def test_as_many_queries_for_two_rows_as_for_twenty(site, ruth, clock) -> None:
    desk, position = Desk(ruth, site, Role.SUPERVISOR), make_position(site=site)

    def grow(rows: int) -> None:
        for _ in range(rows):
            clock.forward(hours=1)
            actions.fit_asset(position=position, asset=make_asset(site=site), by=ruth)
            clock.forward(hours=1)
            actions.take_out_asset(position=position, by=ruth)
            pump = make_position(site=site, does="moves")
            actions.register_use(position=position, use="paces", target=pump, by=ruth)
            actions.register_use(position=pump, use="permits", target=position, by=ruth)
            actions.record_reading(of=position, facts=reading("7.1"), by=ruth)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            panel = tag_panel(desk, position)
            assert [str(f.asset) for f in panel.past]
            assert [u.on for u in panel.uses] and [u.position.tag for u in panel.used_by]
            assert [r.recorded_by.name for r in panel.readings]
        return len(seen)

    grow(2)
    few = queries()
    grow(18)
    assert queries() == few
