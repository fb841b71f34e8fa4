"""What is written to whom, and that it is written once."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assets.models import Event, Position, Role, Site
from maintenance import tasks
from maintenance.actions.messages import choose_messages
from maintenance.actions.orders import plan_order
from maintenance.models import Message, MessageKind
from maintenance.reads.messages import Recipient, digest_of, morning_of
from tests.conftest import Clock
from tests.maintenance.messages.conftest import DENVER
from tests.maintenance.messages.people import reachable
from tests.maintenance.messages.post_office import PostOffice
from tests.make import make_person, make_position, make_site
from tests.make_upkeep import fixed, make_done, make_order, make_override, make_plan

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("office", "morning")]


@pytest.fixture
def site() -> Site:
    return make_site(address="https://works.example")


def late_position(site: Site, *, matters_for: str = "compliance", tag: str = "AIT-410") -> Position:
    """A tag whose monthly look was due on 20 November, with no day allowed."""
    place = make_position(site=site, tag=tag, matters_for=matters_for)
    by = make_person(site=site, role=Role.SUPERVISOR)
    plan = make_plan(place, by=by, interval=fixed(dt.date(2026, 11, 20)), from_day=dt.date(2026, 10, 1))
    for day in (dt.datetime(2026, 10, 20, 9, tzinfo=DENVER),):
        make_done(plan, day, by=by)
    return place


def of(kind: str) -> list[Message]:
    return list(Message.objects.filter(kind=kind).order_by("id"))


def test_each_person_is_told_what_is_theirs_and_nobody_is_told_nothing(site: Site) -> None:
    ruth = reachable(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")
    ines = reachable(site=site, name="Ines Calder")
    reachable(site=site, role=Role.VIEWER, name="Vera Holm")
    make_person(site=site, name="No Address")
    place = make_position(site=site, tag="P-41", matters_for="production")
    order = make_order(place, by=ines)
    plan_order(order=order, in_charge=ines, wanted_by=dt.date(2026, 11, 27), planned_minutes=60, steps=(), by=ruth)
    make_override(make_position(site=site, tag="FIT-330"), by=ines)

    assert tasks.write_messages() == "2 written"
    digests = {one.person.name: one for one in of("digest")}
    assert set(digests) == {"Ruth Penhall", "Ines Calder"}
    to_ines, to_ruth = digests["Ines Calder"].text, digests["Ruth Penhall"].text
    assert "Work order 1, P-41: Replace the packing. Wanted by 27 November" in to_ines
    assert "Forced value at FIT-330, pH on the HMI: 7.4 pH. Until 25 November, 12:00" in to_ines
    assert "supervisor" not in to_ines.lower()
    assert "To approve: Forced value at FIT-330" in to_ruth
    assert "In your charge" not in to_ruth
    assert digests["Ines Calder"].address == "ines@works.example"
    assert "https://works.example/me/messages/" in to_ines


def test_nobody_is_asked_to_approve_what_they_asked_for(site: Site) -> None:
    ruth = reachable(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")
    make_override(make_position(site=site), by=ruth)
    tasks.write_messages()
    assert [one.text.count("To approve") for one in of("digest")] == [0]


def test_a_morning_is_written_once_and_not_before_its_time(site: Site, morning: Clock) -> None:
    late_position(site)
    ines = reachable(site=site)
    morning.set(2026, 11, 25, 5, 59, tz=DENVER)
    assert tasks.write_messages() == "0 written"
    morning.set(2026, 11, 25, 6, 0, tz=DENVER)
    assert tasks.write_messages() == "1 written"
    morning.forward(hours=3)
    assert tasks.write_messages() == "0 written"
    assert [one.person for one in of("digest")] == [ines]
    assert Event.objects.filter(verb="morning.written").count() == 1
    morning.set(2026, 11, 26, 6, 0, tz=DENVER)
    assert tasks.write_messages() == "1 written"


def test_what_comes_up_after_an_empty_morning_waits_for_the_next_one(site: Site, morning: Clock) -> None:
    reachable(site=site)
    assert tasks.write_messages() == "0 written"
    morning.forward(hours=2)
    late_position(site)
    assert tasks.write_messages() == "0 written"


def test_who_switched_it_off_gets_none_and_may_switch_it_on_again(site: Site, morning: Clock) -> None:
    late_position(site)
    ines = reachable(site=site)
    choose_messages(site=site, kind=MessageKind.DIGEST, wanted=False, by=ines)
    assert tasks.write_messages() == "0 written"
    choose_messages(site=site, kind=MessageKind.DIGEST, wanted=True, by=ines)
    morning.forward(days=1)
    assert tasks.write_messages() == "1 written"


def test_supervisors_hear_once_of_safety_and_compliance_past_the_last_day(site: Site, morning: Clock) -> None:
    ruth = reachable(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")
    reachable(site=site, name="Ines Calder")
    late_position(site)
    late_position(site, tag="P-61", matters_for="production")
    morning.set(2026, 11, 25, 0, 5, tz=DENVER)
    tasks.write_messages()
    told = of("escalation")
    assert [one.person for one in told] == [ruth]
    assert "AIT-410: Look at the drip. Overdue 5 days, was due 20 November; matters for compliance." in told[0].text
    assert "P-61" not in told[0].text
    late_position(site, tag="AIT-510", matters_for="safety")
    morning.forward(hours=1)
    tasks.write_messages()
    tasks.write_messages()
    second = of("escalation")[1:]
    assert len(second) == 1
    assert "AIT-510" in second[0].text
    assert "AIT-410" not in second[0].text


@pytest.mark.parametrize(("day", "escalations"), [(20, 0), (21, 1)])
def test_it_is_told_the_day_after_its_last_allowed_one(site: Site, morning: Clock, day: int, escalations: int) -> None:
    reachable(site=site, role=Role.SUPERVISOR)
    morning.set(2026, 11, day, 0, 1, tz=DENVER)
    late_position(site)
    tasks.write_messages()
    assert len(of("escalation")) == escalations


def test_a_daily_look_is_missed_at_midnight_and_told_though_it_is_never_overdue(site: Site, morning: Clock) -> None:
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    reachable(site=site, role=Role.SUPERVISOR)
    place = make_position(site=site, tag="AIT-350")
    daily = fixed(dt.date(2026, 11, 1), every=1, unit="day")
    plan = make_plan(place, by=ruth, interval=daily, from_day=dt.date(2026, 11, 23))
    make_done(plan, dt.datetime(2026, 11, 23, 9, tzinfo=DENVER), by=ruth)
    tasks.write_messages()
    assert [one.text.count("AIT-350: Look at the drip. Missed, was due 24 November") for one in of("escalation")] == [1]


def test_nothing_is_written_where_no_mail_server_is_named(site: Site, settings: object, office: PostOffice) -> None:
    late_position(site)
    reachable(site=site, role=Role.SUPERVISOR)
    settings.MAIL_IS_ON = False  # type: ignore[attr-defined]
    assert tasks.write_messages() == "0 written"
    assert tasks.send_messages() == "0 sent; 0 not sent"
    assert not Message.objects.exists()


def test_a_site_with_much_asks_the_database_no_more_than_one_with_little(site: Site) -> None:
    ruth = reachable(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")
    day = dt.date(2026, 11, 25)

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            digest_of(site, Recipient(ruth, Role.SUPERVISOR), morning_of(site, day))
        return len(asked)

    late_position(site)
    make_order(make_position(site=site), by=ruth)
    few = queries()
    for n in range(6):
        late_position(site, tag=f"AIT-6{n}")
        make_order(make_position(site=site), by=make_person(site=site))
        make_override(make_position(site=site), by=make_person(site=site))
    assert queries() == few
