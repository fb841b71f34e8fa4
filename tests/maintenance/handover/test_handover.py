"""A change of shift: what is told, who takes over what, and what stays with the off-going person."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from assets.actions import LimitFacts, ReadingFacts, RuleTyped, record_reading, set_limit, set_rule, start_running
from assets.errors import NotAllowed, Refusal, Stale
from assets.models import Event, Person, Role, Signature
from assets.permissions import Desk
from assets.reads.records import check_records
from maintenance.actions.handover import hand_over, take_over
from maintenance.actions.orders import finish_order, start_order
from maintenance.actions.overrides_time import look_at_override
from maintenance.models import Handover, HandoverItem, Override
from maintenance.reads.handover import shift_of, told_at, untaken
from tests.conftest import Clock
from tests.maintenance.overrides.test_overrides import look
from tests.make import PIN, make_person, make_position, proof_of
from tests.make_checks import FAILING, Bench
from tests.make_locks import make_pump
from tests.make_upkeep import make_handover, make_order, make_override, make_plan

pytestmark = pytest.mark.django_db
HOUR = dt.timedelta(hours=1)


class Shift(Bench):
    """A bench with two oncoming people, and two forced values that Ines carries."""

    def __init__(self) -> None:
        super().__init__()
        self.joss = make_person(site=self.site, name="Joss Amadi")
        self.mina = make_person(site=self.site, name="Mina Aldous")
        self.flow = make_position(site=self.site, tag="FIT-330")
        self.first = make_override(self.position, by=self.operator)
        self.second = make_override(self.flow, by=self.operator)

    def desk(self, person: Person) -> Desk:
        return Desk(person, self.site, Role.OPERATOR)


@pytest.fixture
def shift(clock: Clock) -> Shift:
    return Shift()


def carried(handover: Handover) -> list[HandoverItem]:
    return list(handover.items.exclude(carried_key=""))


def take(handover: Handover, items: list[HandoverItem], by: Person, words: str = "") -> None:
    take_over(handover=handover, items=items, words=words, proof=proof_of(by), by=by)


def test_two_people_take_different_things_and_a_third_stays_with_who_hands_over(shift: Shift, clock: Clock) -> None:
    third = make_override(make_position(site=shift.site, tag="LIT-601"), by=shift.operator)
    clock.forward(hours=1)
    made = make_handover(by=shift.operator)
    one, two, three = carried(made)
    take(made, [one], shift.joss)
    take(made, [two], shift.mina, words="38.1 by now")
    owners = {o.position.tag: o.owner.name for o in Override.objects.select_related("position", "owner")}
    by_tag = {item.tag: item for item in carried(made)}
    assert owners[one.tag] == "Joss Amadi"
    assert owners[two.tag] == "Mina Aldous"
    assert owners[three.tag] == "Ines Calder"
    assert by_tag[three.tag].taken_by is None
    [left] = untaken(shift.desk(shift.operator))
    assert (left.left, left.total, left.mine) == (1, 3, True)
    assert made.notes.get().words == "38.1 by now"
    assert third.owner == shift.operator
    assert Signature.objects.count() == 3
    assert check_records() == []


def test_a_thing_is_taken_over_once_and_not_by_who_hands_it_over(shift: Shift) -> None:
    made = make_handover(by=shift.operator)
    first, second = carried(made)
    with pytest.raises(Refusal, match="Who hands over"):
        take(made, [first], shift.operator)
    with pytest.raises(Refusal, match="Choose what"):
        take(made, [], shift.joss)
    take(made, [first], shift.joss)
    with pytest.raises(Stale, match="Joss Amadi took it over"):
        take(made, [second, first], shift.mina)
    assert HandoverItem.objects.get(pk=second.pk).taken_by is None, "all or nothing"
    with pytest.raises(IntegrityError, match="oncoming"), transaction.atomic():
        HandoverItem.objects.filter(pk=second.pk).update(taken_by=shift.operator, taken_at=timezone.now())
    with pytest.raises(NotAllowed):
        take(made, [second], make_person(site=shift.site, role=Role.VIEWER))


def test_what_is_only_told_is_not_taken_over(shift: Shift) -> None:
    make_plan(shift.position, by=shift.supervisor)
    made = make_handover(by=shift.operator)
    told = made.items.filter(carried_key="").first()
    assert told is not None
    with pytest.raises(Refusal, match="only told"):
        take(made, [told], shift.joss)
    with pytest.raises(IntegrityError, match="only told"), transaction.atomic():
        HandoverItem.objects.filter(pk=told.pk).update(taken_by=shift.joss, taken_at=timezone.now())


def test_everything_that_was_written_in_the_shift_is_told_in_order(shift: Shift, clock: Clock) -> None:
    site, ines = shift.site, shift.operator
    start = timezone.now() - dt.timedelta(minutes=2)
    limit = LimitFacts("permit", "high", "9.0", "pH", "permit 12", dt.date(2026, 1, 1))
    set_limit(position=shift.position, facts=limit, by=shift.supervisor)
    clock.forward(minutes=10)
    record_reading(of=shift.position, facts=ReadingFacts("pH", "9.0", "pH", "HMI"), by=ines)
    record_reading(of=shift.position, facts=ReadingFacts("pH", "9,1", "pH", "HMI"), by=ines)
    clock.forward(minutes=10)
    shift.check(FAILING)
    clock.forward(minutes=10)
    order = make_order(shift.flow, by=ines)
    start_order(order=order, by=ines)
    clock.forward(minutes=10)
    finish_order(order=order, found="seal ring turned", by=ines)
    start_running(site=site, unit=None, by=ines)
    look_at_override(override=shift.first, typed=look(value="7.31"), by=ines)
    clock.forward(minutes=1)
    told = told_at(site, ines, start, timezone.now())
    assert [(one.part, one.kind) for one in told[:2]] == [("carried", "Forced value")] * 2
    assert "7.31" in told[0].text + told[1].text
    ends = shift.first.limit_at.astimezone(site.zone)
    assert f"ends {ends.day} November 2026, {ends:%H:%M}" in told[0].title + told[1].title
    happened = [one.kind for one in told if one.part == "happened"]
    assert [kind for kind in happened if kind in {"Failed check", "Out of limit", "Running"}] == [
        *("Running", "Failed check", "Out of limit"),
    ]
    assert happened.count("Out of limit") == 1, "a reading at the limit itself is inside"
    assert {"Work order", "Came in"} <= set(happened)
    assert any(one.part == "left" and one.title == "Calibrate pH" for one in told)
    before = told_at(site, ines, start - 2 * HOUR, start)
    assert [one.kind for one in before if one.part == "happened"] == []


def test_a_lockout_is_told_with_the_owners_of_its_locks_who_stay_their_owners(clock: Clock) -> None:
    pump = make_pump()
    pump.make_verified()
    made = hand_over(site=pump.site, shift_from=timezone.now() - HOUR, words="", proof=proof_of(pump.ben), by=pump.ben)
    [item] = carried(made)
    assert (item.kind, item.title, item.matters_for) == ("Locked", "Do not start", "safety")
    assert "stay with their owners" in item.text
    hung = {lock.applied_by_id for lock in pump.lockout.applications.filter(removed_at=None)}
    take(made, [item], pump.ruth)
    assert {lock.applied_by_id for lock in pump.lockout.applications.filter(removed_at=None)} == hung


def test_when_a_shift_began_follows_from_the_last_handover_or_the_sites_times(shift: Shift, clock: Clock) -> None:
    now = timezone.now()  # 07:05 at the site, UTC-7 in November (IANA time zone database)
    assert shift_of(shift.site, now) == now - 12 * HOUR
    times = RuleTyped("shift_times", "06:30 18:30", "own", "as on the roster", dt.date(2026, 1, 1))
    set_rule(site=shift.site, typed=times, by=shift.supervisor)
    assert shift_of(shift.site, now).astimezone(shift.site.zone).isoformat() == "2026-11-24T18:30:00-07:00"
    made = make_handover(by=shift.operator)
    assert shift_of(shift.site, now + HOUR) == made.made_at


@pytest.mark.parametrize(
    ("back", "says"), [(dt.timedelta(hours=-1), "has not come yet"), (dt.timedelta(hours=49), "two days")]
)
def test_a_shift_that_cannot_be_meant_is_refused(shift: Shift, back: dt.timedelta, says: str) -> None:
    ines = shift.operator
    with pytest.raises(Refusal, match=says) as refused:
        hand_over(site=shift.site, shift_from=timezone.now() - back, words="", proof=proof_of(ines), by=ines)
    assert [reason.field for reason in refused.value.reasons] == ["shift_from"]


def test_through_the_pages_from_off_going_to_oncoming(shift: Shift, clock: Clock) -> None:
    clock.forward(hours=1)
    clients = {}
    for name, person in (("ines", shift.operator), ("joss", shift.joss)):
        clients[name] = Client()
        clients[name].force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    page = clients["ines"].get(reverse("maintenance:hand-over"))
    assert "pH on the HMI: 7.4 pH" in page.content.decode()
    sent = {"key": "h-1", "shift_from": "2026-11-24 18:30", "words": "P-61 drips more", "proof": "000000"}
    wrong = clients["ines"].post(reverse("maintenance:hand-over"), sent)
    assert wrong.status_code == 422
    assert "P-61 drips more" in wrong.content.decode()
    assert not Handover.objects.exists()
    done = clients["ines"].post(reverse("maintenance:hand-over"), sent | {"proof": PIN})
    made = Handover.objects.get()
    assert done["Location"] == made.get_absolute_url()
    assert "until then you carry them" in clients["ines"].get("/").content.decode()
    assert "I take it" not in clients["ines"].get(made.get_absolute_url()).content.decode()
    seen = clients["joss"].get(made.get_absolute_url()).content.decode()
    assert "P-61 drips more" in seen
    first, second = carried(made)
    url = made.get_absolute_url()
    nothing = clients["joss"].post(url, {"key": "t-0", "proof": PIN, "words": "38.1 now"})
    assert nothing.status_code == 422
    assert "Choose what you take over" in nothing.content.decode()
    assert "38.1 now" in nothing.content.decode()
    taken = clients["joss"].post(url, {"key": "t-1", "items": [str(first.pk)], "proof": PIN})
    assert taken.status_code == 302
    assert Override.objects.get(position__tag=first.tag).owner == shift.joss
    again = clients["joss"].post(url, {"key": "t-2", "items": [str(first.pk)], "proof": PIN})
    assert again.status_code == 422
    assert "1 of 2 not taken over" in clients["joss"].get("/").content.decode()
    assert Event.objects.filter(verb="shift.taken_over").count() == 1
    assert second.taken_by is None


def test_the_pages_ask_the_database_as_often_for_two_things_as_for_many(shift: Shift, clock: Clock) -> None:
    client = Client()
    client.force_login(shift.joss, backend="django.contrib.auth.backends.ModelBackend")

    def queries(path: str) -> int:
        client.get(path)
        with CaptureQueriesContext(connection) as caught:
            assert client.get(path).status_code == 200
        return len(caught)

    few = make_handover(by=shift.operator)
    before = queries(few.get_absolute_url())
    for _ in range(8):
        make_override(shift.flow, by=shift.operator)
        record_reading(of=shift.position, facts=ReadingFacts("pH", "7.1", "pH", "HMI"), by=shift.operator)
        make_order(shift.flow, by=shift.operator)
    clock.forward(minutes=1)
    many = make_handover(by=shift.operator)
    assert len(carried(many)) == 10
    assert queries(many.get_absolute_url()) == before
