"""What upkeep says on the page of a tag, on Today and in Review."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.template.loader import render_to_string
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from assets.models import Person, Position, Role, Site
from assets.permissions import Desk
from maintenance.actions.nightly import compare_due_items
from maintenance.actions.orders import finish_order, plan_order, start_order
from maintenance.models import Occurrence
from maintenance.reads.panels import review_panel, tag_panel, today_panel
from tests.conftest import Clock
from tests.make import make_area, make_person, make_position, make_site, make_use
from tests.make_locks import make_pump
from tests.make_upkeep import fixed, floating, make_done, make_order, make_plan, open_item

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(clock: Clock) -> Site:
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


@pytest.fixture
def ines(site: Site) -> Person:
    return make_person(site=site, name="Ines Calder")


@pytest.fixture
def tag(site: Site) -> Position:
    make_area(site=site, name="Pump house")
    return make_position(site=site, tag="AIT-410")


def desk(person: Person, site: Site) -> Desk:
    return Desk(person, site, Role(person.memberships.get().role))


def drawn(name: str, panel: object) -> str:
    with timezone.override("America/Denver"):
        return " ".join(render_to_string(f"maintenance/_{name}_panel.html", {"panel": panel}).split())


def test_a_tag_without_routine_says_so(tag: Position, ines: Person) -> None:
    said = drawn("tag", tag_panel(desk(ines, tag.site), tag))
    assert "No routine" in said
    assert "No work order is open here." in said
    assert "Raise a work order" in said
    assert "Register a routine" not in said


def test_a_tag_shows_its_routines_and_open_orders(tag: Position, ruth: Person, site: Site) -> None:
    plan = make_plan(tag, by=ruth, title="Calibrate pH", kind="calibrate")
    make_order(tag, by=ruth, confirmed="not yet confirmed")
    make_order(make_position(site=site), by=ruth)
    panel = tag_panel(desk(ruth, site), tag)
    said = drawn("tag", panel)
    assert len(panel.orders) == 1
    for words in ("Calibrate pH", "Due today", "every 30 days", "Never done.", "Not yet confirmed", "No. 1"):
        assert words in said, words
    assert f'href="/do/{open_item(plan).pk}/"' in said


def test_viewers_are_offered_nothing_to_do(tag: Position, ruth: Person, site: Site) -> None:
    make_plan(tag, by=ruth)
    viewer = desk(make_person(site=site, role=Role.VIEWER), site)
    for name, panel in (("tag", tag_panel(viewer, tag)), ("today", today_panel(viewer))):
        assert "/do/" not in drawn(name, panel)


def test_today_asks_by_visit_and_names_own_orders(tag: Position, ruth: Person, ines: Person, site: Site) -> None:
    make_use(position=tag, target=make_position(site=site, tag="P-41", does="moves"), by=ruth)
    make_plan(tag, by=ruth, title="Calibrate pH")
    mine, other = make_order(tag, by=ines), make_order(tag, by=ines)
    for order, who in ((mine, ines), (other, ruth)):
        plan_order(order=order, in_charge=who, wanted_by=None, planned_minutes=None, steps=[], by=ruth)
    panel = today_panel(desk(ines, site))
    said = drawn("today", panel)
    for words in ("Pump house", "Calibrate pH", "Due today", "Paces P-41.", "Work orders in your charge", "0:30"):
        assert words in said, words
    assert [row.number for row in panel.mine] == [mine.number]
    assert panel.to_accept == ()


def test_rows_of_orders_say_their_kind_and_whether_locks_of_others_block_them(clock: Clock) -> None:
    pump = make_pump()
    pump.make_verified()
    mine = make_order(pump.position, by=pump.ana, type="improvement")
    plan_order(order=mine, in_charge=pump.ana, wanted_by=None, planned_minutes=None, steps=[], by=pump.ruth)
    make_order(pump.position, by=pump.ana, type="corrective deferred")
    here = pump.site
    today = drawn("today", today_panel(desk(pump.ana, here)))
    review = drawn("review", review_panel(desk(pump.ruth, here)))
    at_tag = drawn("tag", tag_panel(desk(pump.ana, here), pump.position))
    blocked = '<span class="is is-blocked still">Blocked: locked for other work</span>'
    assert [said.count(blocked) for said in (today, review, at_tag)] == [1, 1, 2]
    assert "Improvement" in today
    assert "Corrective, deferred" in review
    assert "No. 1, improvement, Ana" in at_tag


def test_today_with_nothing_to_do_says_so(site: Site, ines: Person) -> None:
    assert "Nothing is due, late or overdue today." in drawn("today", today_panel(desk(ines, site)))


def test_review_names_what_is_late_missed_and_waiting(
    tag: Position, ruth: Person, ines: Person, site: Site, clock: Clock
) -> None:
    late = make_plan(tag, by=ruth, title="Calibrate pH", from_day=dt.date(2026, 11, 21))
    weekly = fixed(dt.date(2026, 11, 12), 1, "week")
    start = dt.datetime(2026, 11, 5, 12, tzinfo=site.zone)
    clock.set(2026, 11, 5, 20)
    missed = make_plan(tag, by=ruth, title="Flush", interval=weekly)
    make_done(missed, start, by=ruth)
    clock.set(2026, 11, 25, 20)
    make_done(missed, clock.now, by=ruth)
    waiting, done, own = make_order(tag, by=ines), make_order(tag, by=ines), make_order(tag, by=ines)
    for order, who in ((done, ines), (own, ruth)):
        start_order(order=order, by=who)
        finish_order(order=order, found="Done.", by=who)
    panel = review_panel(desk(ruth, site))
    assert [(r.what, r.late) for v in panel.overdue.visits for r in v.rows] == [(late.title, 4)]
    # Weekly, one day early at most: the job of 25 November did the turn of the 26th; the two before it passed undone.
    assert [(r.what, str(r.due)) for r in panel.missed] == [("Flush", "2026-11-19"), ("Flush", "2026-11-12")]
    assert [row.number for row in panel.to_plan] == [waiting.number]
    assert [row.number for row in panel.to_accept] == [done.number]
    said = drawn("review", panel)
    for words in ("Overdue 4 days", "Nothing is written that rests on it.", "Not once yet.", "To plan", "to accept"):
        assert words in said, words


def test_review_lists_each_difference_of_the_night(tag: Position, ruth: Person, site: Site) -> None:
    open_item(make_plan(tag, by=ruth, title="Calibrate pH")).delete()
    compare_due_items(site=site, today=dt.date(2026, 11, 25))
    said = drawn("review", review_panel(desk(ruth, site)))
    assert "1 difference" in said
    assert "Calibrate pH, AIT-410: the due item of 2026-11-25 (no record) is missing" in said


def test_the_number_of_rows_adds_no_query(tag: Position, ruth: Person, site: Site) -> None:
    here = desk(ruth, site)
    for read in (lambda: tag_panel(here, tag), lambda: today_panel(here), lambda: review_panel(here)):
        taken = []
        for number in (2, 18):
            while Occurrence.objects.count() < number:
                make_plan(tag, by=ruth, title=f"Routine {Occurrence.objects.count()}", interval=floating(7))
                make_order(tag, by=ruth)
            with CaptureQueriesContext(connection) as queries:
                read()
            taken.append(len(queries))
        assert taken[0] == taken[1]
        Occurrence.objects.filter(pk__in=list(Occurrence.objects.values_list("pk", flat=True)[2:])).delete()
