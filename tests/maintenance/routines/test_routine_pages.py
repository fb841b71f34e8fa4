"""Pages of routines: registering with an offered or a written interval, changing, retiring, work in words."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assets.models import Event, Person, Position, Role, Site
from maintenance.models import Occurrence, Performance, Plan
from tests.conftest import Clock
from tests.maintenance.routines.pages import client_of, page, routine, sent
from tests.make import make_asset, make_person, make_site
from tests.make_upkeep import floating, make_done, make_plan, open_item

pytestmark = pytest.mark.django_db


# ------------------------------------------------------------------------------------------------------------ presets


def test_registered_and_due_today(tag: Position, ruth: Person) -> None:
    answer = sent(ruth, "routine-new", **routine(tag))
    plan = Plan.objects.get()
    assert answer.url == plan.get_absolute_url()
    assert (open_item(plan).due, open_item(plan).why) == (dt.date(2026, 11, 25), "no record")
    said = page(ruth, "routine", plan.pk)
    for words in ("Every month", "common practice", "Due today", "No record", "P-61", "Record the work"):
        assert words in said, words


def test_what_is_written_wins_over_what_is_offered(tag: Position, ruth: Person) -> None:
    sent(ruth, "routine-new", **routine(tag, preset="ph-30", every="14", unit="day", source=None))
    term = Plan.objects.get().terms.get()
    assert (term.every, term.unit) == (14, "day")
    assert term.source.startswith("30 TAC")


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"position": None}, "Choose a tag, or a carried asset, and not both."),
        ({"every": None}, "Choose an interval that is offered, or write the number here."),
        ({"every": "0"}, "Every: write 1 or more."),
        ({"every": "often"}, "Every: write a whole number, like 30."),
        ({"every": "99999"}, "Every: write 36525 or less"),
        ({"every": "1201"}, "Give 1 to 1200 months."),
        ({"mode": "fixed"}, "First fixed day: fixed dates need one of them"),
        ({"source": None}, "“from memory” is an answer"),
        ({"by_rule": "on", "late": "3"}, "an interval demanded by a rule allows none"),
        ({"kind": ""}, "Choose one; nothing is chosen for you"),
        ({"title": "t" * 121}, "at most 120"),
    ],
)
def test_wrong_input_is_said_at_its_field_and_kept(
    tag: Position, ruth: Person, typed: dict[str, str], says: str
) -> None:
    answer = sent(ruth, "routine-new", **routine(tag, **typed))
    said = answer.content.decode()
    assert answer.status_code == 422
    assert says in said
    for value in routine(tag, **typed).values():
        assert str(value) in said
    assert not Plan.objects.exists()


def test_a_carried_asset_has_routines_too(site: Site, ruth: Person, tag: Position) -> None:
    tester = make_asset(site=site, kind="Voltage tester", serial="M-4")
    sent(ruth, "routine-new", **routine(tag, position=None, asset=tester.pk, title="Prove it"))
    assert Plan.objects.get().asset == tester
    assert "Carried" in page(ruth, "routines")
    assert "Voltage tester M-4" in page(ruth, "routine", Plan.objects.get().pk)


# ------------------------------------------------------------------------------------------------- changing, retiring


def test_the_interval_is_changed_with_a_reason(tag: Position, ruth: Person) -> None:
    plan = make_plan(tag, by=ruth, interval=floating(30))
    form = page(ruth, "term-new", plan.pk)
    assert 'value="30"' in form
    typed = {"mode": "floating", "every": "14", "unit": "day", "early": "3", "late": "0", "source": "own experience"}
    sent(ruth, "term-new", plan.pk, from_day="2026-11-25", why="Two failures.", **typed)
    said = page(ruth, "routine", plan.pk)
    assert "Every 14 days" in said
    assert "Because Two failures." in said
    assert plan.terms.count() == 2


def test_a_change_never_works_backwards(tag: Position, ruth: Person) -> None:
    plan = make_plan(tag, by=ruth)
    typed = {"mode": "floating", "every": "14", "unit": "day", "source": "own experience"}
    answer = sent(ruth, "term-new", plan.pk, from_day="2026-11-24", why="Two failures.", **typed)
    assert answer.status_code == 422
    assert "2026-11-24 has passed" in answer.content.decode()
    assert plan.terms.count() == 1


def test_retired_with_a_reason_and_only_once(tag: Position, ruth: Person) -> None:
    plan = make_plan(tag, by=ruth)
    sent(ruth, "routine-retire", plan.pk, because="done by the weekly one")
    assert "done by the weekly one" in page(ruth, "routine", plan.pk)
    assert plan.title not in page(ruth, "routines")
    assert Occurrence.objects.get(plan=plan).ended == "withdrawn"
    answer = sent(ruth, "routine-retire", plan.pk, because="again")
    assert answer.status_code == 422
    assert "retired already" in answer.content.decode()
    assert client_of(ruth).get(reverse("maintenance:term-new", args=[plan.pk])).status_code == 404


# ---------------------------------------------------------------------------------------------------- work in words


def test_work_is_recorded_in_words(tag: Position, ruth: Person, ines: Person, clock: Clock) -> None:
    plan = make_plan(tag, by=ruth)
    clock.forward(days=1)
    item = open_item(plan)
    form = page(ines, "performance-new", item.pk)
    assert "Overdue 1 day" in form
    answer = sent(ines, "performance-new", item.pk, performed_at="2026-11-26 06:30", what="Three drips a minute")
    assert answer.url == plan.get_absolute_url()
    done = Performance.objects.get()
    assert (done.source_label, done.counts, done.recorded_by) == ("Three drips a minute", True, ines)
    assert "Fulfilled" in page(ines, "routine", plan.pk)
    assert open_item(plan).due == dt.date(2026, 12, 26)  # 26 November + 30 days


def test_could_not_be_done_leaves_it_due_with_the_reason(tag: Position, ruth: Person, ines: Person) -> None:
    item = open_item(make_plan(tag, by=ruth))
    sent(ines, "performance-new", item.pk, performed_at="2026-11-25 06:30", could_not="no key to the pit")
    item.refresh_from_db()
    assert item.ended == "open"
    said = page(ines, "routine", item.plan_id)
    assert "could not be done: no key to the pit" in said
    assert "Does not count" in said


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"performed_at": "2026-11-25 06:30"}, "Write what was done, or why it could not be done"),
        ({"performed_at": "2026-11-25 06:30", "what": "a", "could_not": "b"}, "and not both"),
        ({"performed_at": "half past six", "what": "Looked"}, "is no day and time"),
        ({"performed_at": "2026-11-25 23:59", "what": "Looked"}, "has not come yet"),
        ({"performed_at": "2026-03-08 02:30", "what": "Looked"}, "did not exist"),
    ],
)
def test_wrong_work_is_said_and_kept(
    tag: Position, ruth: Person, ines: Person, typed: dict[str, str], says: str
) -> None:
    item = open_item(make_plan(tag, by=ruth))
    answer = sent(ines, "performance-new", item.pk, **typed)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    for text in typed.values():
        assert text in answer.content.decode()
    assert not Performance.objects.exists()


def test_already_done_by_somebody_else_is_said_and_nothing_is_written(
    tag: Position, ruth: Person, ines: Person, clock: Clock
) -> None:
    item = open_item(make_plan(tag, by=ruth))
    clock.forward(days=1)
    sent(ruth, "performance-new", item.pk, performed_at="2026-11-26 06:00", what="Looked")
    answer = sent(ines, "performance-new", item.pk, performed_at="2026-11-26 06:30", what="Looked too")
    assert answer.status_code == 422
    assert "recorded as done by Ruth Penhall meanwhile" in answer.content.decode()
    assert Performance.objects.count() == 1


def test_what_is_measured_is_not_fulfilled_in_words(tag: Position, ruth: Person, ines: Person) -> None:
    item = open_item(make_plan(tag, by=ruth, kind="calibrate"))
    answer = sent(ines, "performance-new", item.pk, performed_at="2026-11-25 06:30", what="Looked")
    assert answer.url == reverse("do", args=[item.pk])
    assert not Performance.objects.exists()


def test_a_record_is_put_right_by_a_new_one(tag: Position, ruth: Person, ines: Person, clock: Clock) -> None:
    clock.set(2026, 11, 1, 19)
    plan = make_plan(tag, by=ruth, interval=floating(30))
    clock.set(2026, 11, 25, 19)
    wrong = make_done(plan, dt.datetime(2026, 11, 12, 12, tzinfo=tag.site.zone), by=ines)
    sent(ines, "performance-correct", wrong.pk, performed_at="2026-11-02 12:00", what="Looked")
    assert open_item(plan).due == dt.date(2026, 12, 2)  # 2 November + 30 days
    said = page(ines, "routine", plan.pk)
    assert "A correction" in said and "Corrected" in said
    newest = Performance.objects.get(replaces=wrong)
    sent(ines, "performance-correct", newest.pk, performed_at="2026-11-02 12:00", what="Looked", mistake="on")
    assert open_item(plan).why == "no record"


# --------------------------------------------------------------------------------------------------------- list, doors


def test_the_number_of_routines_and_records_adds_no_query(tag: Position, ruth: Person, clock: Clock) -> None:
    listed, shown = [], []
    first = make_plan(tag, by=ruth, interval=floating(1))
    for number in (2, 20):
        while Plan.objects.count() < number:
            make_plan(tag, by=ruth, title=f"Routine {Plan.objects.count()}")
        while first.performances.count() < number:
            clock.forward(days=1)
            make_done(first, clock.now, by=ruth)
        client = client_of(ruth)  # the days that passed have ended every session
        for name, args, taken in (("routines", [], listed), ("routine", [first.pk], shown)):
            with CaptureQueriesContext(connection) as queries:
                assert client.get(reverse(f"maintenance:{name}", args=args)).status_code == 200
            taken.append(len(queries))
    assert listed[0] == listed[1]
    assert shown[0] == shown[1]


@pytest.mark.parametrize("name", ["routine-new", "term-new", "routine-retire"])
def test_only_supervisors_keep_routines(tag: Position, ruth: Person, ines: Person, site: Site, name: str) -> None:
    plan = make_plan(tag, by=ruth)
    url = reverse(f"maintenance:{name}", args=[] if name == "routine-new" else [plan.pk])
    assert Client().get(url).status_code == 302
    for role in (Role.VIEWER, Role.OPERATOR, Role.ADMINISTRATOR):
        assert client_of(make_person(site=site, role=role)).post(url).status_code == 403
    assert client_of(ruth).put(url).status_code == 405
    assert f'href="{url}"' not in page(ines, "routines") + page(ines, "routine", plan.pk)


@pytest.mark.parametrize("name", ["routine", "term-new", "routine-retire", "performance-new", "performance-correct"])
def test_what_belongs_to_another_site_is_not_there(tag: Position, ruth: Person, name: str) -> None:
    plan = make_plan(tag, by=ruth)
    done = make_done(plan, dt.datetime(2026, 11, 25, 6, tzinfo=tag.site.zone), by=ruth)
    pk = {"performance-new": open_item(plan).pk, "performance-correct": done.pk}.get(name, plan.pk)
    other = make_person(site=make_site(name="Elsewhere"), role=Role.SUPERVISOR)
    assert client_of(other).get(reverse(f"maintenance:{name}", args=[pk])).status_code == 404


def test_viewers_read_and_do_not_record(tag: Position, ruth: Person, site: Site) -> None:
    plan = make_plan(tag, by=ruth)
    viewer = make_person(site=site, role=Role.VIEWER)
    assert "Record the work" not in page(viewer, "routine", plan.pk)
    url = reverse("maintenance:performance-new", args=[open_item(plan).pk])
    assert client_of(viewer).post(url).status_code == 403


def test_a_refused_form_leaves_one_refusal_and_no_act(tag: Position, ruth: Person) -> None:
    sent(ruth, "routine-new", **routine(tag, every="1201"))
    assert Event.objects.filter(verb="refused").count() == 1
    assert not Event.objects.filter(verb="routine.registered").exists()
