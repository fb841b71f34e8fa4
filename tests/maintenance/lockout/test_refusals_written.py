"""What a page says of a refusal is so: it stands in the history, and the lock stands as the title says."""

from __future__ import annotations

import json

import pytest

from assets.models import Event, Role
from assets.proofs import demo_proof
from maintenance.actions.isolation import end_service
from maintenance.actions.isolation_procedures import approve_procedure, write_procedure
from maintenance.models import Application, Occurrence
from tests.maintenance.lockout.browsers import Phone, browser_of, seen_at, send, words
from tests.make import PIN, make_person
from tests.make_locks import YES, Pump, make_text
from tests.make_upkeep import make_plan

pytestmark = pytest.mark.django_db
WRITTEN = "The refusal is written in the history."
EMPTY = {
    "/locks/1/tell-before/": "lockout.told_before",
    "/locks/1/down/": "lockout.shut_down",
    "/locks/1/on/box/": "lock.put_on",
    "/locks/1/off/{k1}/": "lock.taken_off",
    "/locks/1/charge/": "lockout.charge_taken",
    "/locks/1/run/ask/": "lockout.test_run_asked",
    "/locks/1/tell-after/": "lockout.told_after",
    "/locks/1/invite/": "lockout.invited",
    "/locks/procedure/revision/{version}/approve/": "procedure.approved",
}


def refused_events() -> list[dict[str, object]]:
    return [json.loads(event.body) for event in Event.objects.filter(verb="refused").order_by("pk")]


@pytest.mark.parametrize("path", EMPTY)
def test_an_empty_form_of_a_lock_act_is_a_refusal_and_is_written(verified: Pump, path: str) -> None:
    here = path.format(k1=verified.application("K-1").pk, version=verified.version.pk)
    refused = browser_of(verified.ruth).post(here, {"key": "k1"})
    assert refused.status_code == 422
    (event,) = refused_events()
    assert event["facts"]["asked"] == EMPTY[path]
    assert event["by"]["name"] == "Ruth"
    said = {f"{bound.label}: {text}" for bound in refused.context["form"] for text in bound.errors}
    assert set(event["facts"]["reasons"]) == said and said
    if "procedure" not in path:  # the author's own page shows no form
        assert WRITTEN in words(refused)


def test_a_time_to_come_is_written_and_the_secret_is_not(verified: Pump) -> None:
    typed = {"lock": str(verified.locks["44"].pk), **seen_at(verified, "41", "box"), "proof": PIN}
    refused = send(browser_of(verified.ben), "/locks/1/on/box/", **typed, happened_at="2126-01-01 10:00")
    assert refused.status_code == 422 and WRITTEN in words(refused)
    (event,) = refused_events()
    assert "has not come yet" in event["facts"]["reasons"][0]
    assert PIN not in json.dumps(event)


def test_a_page_without_its_key_is_refused_once_in_the_history(verified: Pump) -> None:
    refused = browser_of(verified.ana).post("/locks/1/down/", {"selector": "hand"})
    assert "its key is missing" in words(refused) and WRITTEN in words(refused)
    proven = browser_of(verified.ana).post("/locks/1/charge/", {"proof": PIN})
    assert "its key is missing" in words(proven)
    assert [event["facts"]["asked"] for event in refused_events()] == ["lockout.shut_down", "lockout.charge_taken"]


def test_what_the_act_itself_refuses_is_written_once(verified: Pump) -> None:
    assert send(browser_of(verified.ana), "/locks/1/down/", selector="auto").status_code == 422
    assert len(refused_events()) == 1


# By the phone


def test_the_second_phone_is_told_that_the_lock_is_off_already(verified: Pump) -> None:
    phone = Phone(verified)
    phone.enter()
    path = f"/job/off/{verified.application('K-1').pk}/"
    typed = {**seen_at(verified, "K-1", "box"), "proof": phone.code, **{f"q{n}": "yes" for n in range(1, 9)}}
    assert "K-1 is off" in words(phone.take_off(answers=YES))
    for late in ({"key": "second", **typed}, {"key": "empty"}):
        second = phone.client.post(path, late)
        page = words(second)
        assert second.status_code == 422
        assert "Nothing was recorded; your lock is off already" in page
        assert "stays recorded as on" not in page
        assert "What you typed is still here" not in page, "the form is not on the page any more"
        assert WRITTEN in page
    assert len(refused_events()) == 2


def test_the_second_phone_is_told_that_the_lock_is_on_already(verified: Pump) -> None:
    phone = Phone(verified)
    phone.enter()
    again = phone.client.post("/job/on/", {"key": "second"})
    assert "Nothing was recorded; your lock is on already" in words(again)
    assert "not recorded as on" not in words(again)


def test_an_empty_form_on_the_phone_keeps_its_title_and_is_written(verified: Pump) -> None:
    phone = Phone(verified)
    phone.enter()
    refused = phone.client.post(f"/job/off/{verified.application('K-1').pk}/", {"key": "k"})
    assert "Refused. Your lock stays recorded as on" in words(refused)
    assert f"What you typed is still here. {WRITTEN}" in words(refused)
    (event,) = refused_events()
    assert event["facts"]["asked"] == "lock.taken_off" and event["by"]["name"] == "K"


def test_a_plant_page_left_open_says_that_the_lock_is_off(verified: Pump) -> None:
    verified.hang("44", verified.box)
    path = f"/locks/1/off/{verified.application('44').pk}/"
    typed = {**seen_at(verified, "44", "box"), "proof": PIN, **{f"q{n}": "yes" for n in range(1, 9)}}
    ben = browser_of(verified.ben)
    assert ben.post(path, {"key": "first", **typed}).status_code == 302
    late = ben.post(path, {"key": "second", **typed})
    assert "Nothing was recorded; lock 44 is off already" in words(late)
    assert "stays recorded as on" not in words(late)
    assert Application.objects.on().count() == 4


def test_a_question_answered_no_is_named_once(pump: Pump) -> None:
    text = make_text(pump.points, closing="Bolts tightened?\nDrain closed")
    pump.version = write_procedure(position=pump.position, text=text, by=pump.ruth)
    noor = make_person(site=pump.site, role=Role.SUPERVISOR, qualified=True)
    approve_procedure(version=pump.version, by=noor, proof=demo_proof(noor))
    pump.make_verified()
    phone = Phone(pump)
    phone.enter()
    refused = words(phone.take_off(answers={}, q1="no", q2="no", q3="yes", q4="yes"))
    notice = refused[refused.index("Refused.") : refused.index("Nothing was changed")]
    assert notice.count("Bolts tightened") == 1
    assert notice.count("Drain closed") == 1
    assert "Bolts tightened: K answered no." in notice and "Drain closed: K answered no." in notice


def test_a_point_that_leaves_a_tag_has_its_due_items_worked_out_anew(pump: Pump) -> None:
    plan = make_plan(pump.position, by=pump.ruth)
    item = Occurrence.objects.filter(plan=plan, ended="open").order_by("turn")[0]
    Occurrence.objects.filter(pk=item.pk).update(blocked_from=item.due, because="a lock that is long off")
    service = pump.points["V-22"].serves.get()
    end_service(service=service, by=pump.ruth)
    item.refresh_from_db()
    assert (item.blocked_from, item.because) == (None, "")
