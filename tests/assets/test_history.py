"""The history: one opener, one chain a site, refusals written after the rollback, forms counted once."""

from __future__ import annotations

import json

import pytest
from django.db import IntegrityError, connection, transaction

from assets.compute.canonical import canonical, chained
from assets.errors import Refusal, Stale
from assets.history import START_OF_CHAIN, act, door, row_digest, submit
from assets.models import Area, Event, Fitting, Position, Submission
from tests.make import make_area, make_asset, make_fitting, make_person, make_position, make_site

pytestmark = pytest.mark.django_db


def test_events_of_a_site_follow_one_another() -> None:
    site = make_site()
    make_area(site=site)
    make_area(site=site)
    previous = START_OF_CHAIN
    events = list(Event.objects.filter(chain=site.pk).order_by("number"))
    assert [event.number for event in events] == [1, 2]
    for event in events:
        assert event.previous == previous
        assert event.hash == chained(previous, event.body)
        previous = event.hash


def test_event_carries_the_digest_of_what_was_written() -> None:
    site = make_site()
    area = make_area(site=site)
    body = json.loads(Event.objects.get(verb="area.registered").body)
    assert body["rows"] == [["assets.area", str(area.pk), row_digest(Area.objects.get(pk=area.pk))]]
    assert canonical(body) == Event.objects.get(verb="area.registered").body


def test_an_act_that_raises_leaves_no_row_and_no_event() -> None:
    site = make_site()
    before = Event.objects.count()
    with pytest.raises(ZeroDivisionError), act(site=site, by=None) as made:
        made.add(Area(site=site, name="Intake", walk_order=1))
        made.write("area.registered", subject=site, facts={"ratio": 1 // 0})
    assert Event.objects.count() == before
    assert not Area.objects.exists()


def test_rows_without_an_event_are_a_fault_of_the_program() -> None:
    site = make_site()
    with pytest.raises(RuntimeError, match="no event"), act(site=site, by=None) as made:
        made.add(Area(site=site, name="Intake", walk_order=1))
    assert not Area.objects.exists()


def test_inner_acts_join_and_leave_one_event_each() -> None:
    site = make_site()
    with act(site=site, by=None) as outer:
        area = outer.add(Area(site=site, name="Intake", walk_order=1))
        outer.write("area.registered", subject=area)
        with act(site=site, by=None) as inner:
            inner.change(area, name="River intake")
            inner.write("area.changed", subject=area)
    assert list(Event.objects.filter(chain=site.pk).order_by("number").values_list("verb", flat=True)) == [
        "area.registered",
        "area.changed",
    ]


def test_a_change_against_a_stale_page_is_refused() -> None:
    site = make_site()
    area = make_area(site=site, name="Intake")
    with act(site=site, by=None) as first:
        first.change(Area.objects.get(pk=area.pk), expect={"name": "Intake"}, name="River")
        first.write("area.changed", subject=area)
    with pytest.raises(Stale), act(site=site, by=None) as second:
        second.change(area, expect={"name": "Intake"}, name="Lake")
        second.write("area.changed", subject=area)
    assert Area.objects.get(pk=area.pk).name == "River"


def test_a_broken_constraint_is_refused_in_its_own_words() -> None:
    site = make_site()
    area = make_area(site=site)
    make_position(site=site, area=area, tag="AIT-210")
    with transaction.atomic(), pytest.raises(Refusal, match="a position with this tag already"):
        make_position(site=site, area=area, tag="ait-210")
    with transaction.atomic(), pytest.raises(Refusal, match="needs the unit"):
        make_position(site=site, area=area, tag="AIT-211", unit="")


def test_a_refusal_is_written_after_the_rollback_and_nothing_else_is() -> None:
    site = make_site()
    person = make_person(site=site)
    area = make_area(site=site)
    before = Event.objects.count()
    with pytest.raises(Refusal), door(site=site, by=person, verb="area.changed", subject=area):
        with act(site=site, by=person) as made:
            made.change(area, name="Elsewhere")
            made.write("area.changed", subject=area)
            raise Refusal("Not on a Sunday.")
    assert Event.objects.count() == before + 1
    refused = Event.objects.order_by("id").last()
    assert refused is not None and refused.verb == "refused"
    assert json.loads(refused.body)["facts"] == {"asked": "area.changed", "reasons": ["Not on a Sunday."]}
    assert Area.objects.get(pk=area.pk).name != "Elsewhere"


def test_the_same_form_sent_twice_counts_once_and_gets_the_first_answer() -> None:
    site = make_site()
    person = make_person(site=site)
    calls = []

    def register() -> str:
        calls.append(1)
        return f"/areas/{make_area(site=site, name='Intake').pk}/"

    answers = [
        submit(site=site, by=person, verb="area.registered", subject=site, key="k1", do=register) for _ in range(2)
    ]
    assert answers[0] == answers[1]
    assert len(calls) == 1
    assert Submission.objects.count() == 1


def test_append_only_and_close_once_hold_against_the_databases_own_tools() -> None:
    site = make_site()
    person = make_person(site=site)
    position = make_position(site=site)
    fitting = make_fitting(position=position, asset=make_asset(site=site), by=person)
    event = Event.objects.first()
    assert event is not None
    for statement in (
        f"UPDATE assets_event SET verb = 'x' WHERE id = {event.pk}",
        f"DELETE FROM assets_event WHERE id = {event.pk}",
        f"UPDATE assets_fitting SET from_at = '2020-01-01 00:00:00+00:00' WHERE id = {fitting.pk}",
        f"DELETE FROM assets_fitting WHERE id = {fitting.pk}",
        f"DELETE FROM assets_position WHERE id = {position.pk}",
    ):
        with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    with pytest.raises(IntegrityError), transaction.atomic():
        Fitting.objects.filter(pk=fitting.pk).update(asset=make_asset(site=site))
    Fitting.objects.filter(pk=fitting.pk).update(to_at="2099-01-01T00:00:00Z", to_by=person)
    with pytest.raises(IntegrityError), transaction.atomic():
        Fitting.objects.filter(pk=fitting.pk).update(to_at=None)


def test_two_fittings_never_overlap() -> None:
    site = make_site()
    person = make_person(site=site)
    position = make_position(site=site)
    first = make_fitting(position=position, asset=make_asset(site=site), by=person)
    with act(site=site, by=person) as made:
        made.close(first, to_at=made.at, to_by=person, to_recorded_at=made.at)
        made.write("asset.taken out", subject=position)
    with transaction.atomic(), pytest.raises(Refusal, match="same stretch of time"):
        make_fitting(position=position, asset=make_asset(site=site), by=person, from_at=first.from_at)
    assert Position.objects.get(pk=position.pk).fittings.count() == 1
