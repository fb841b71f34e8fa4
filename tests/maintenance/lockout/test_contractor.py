"""The contractor's closing on a phone, step by step, through the pages alone. K has no account and no password."""

from __future__ import annotations

import json

import pytest
from django.test import Client

from assets.models import AccessLink, Event, Submission
from maintenance.compute.lockout import PEOPLE
from maintenance.models import Application, LockoutEntry
from tests.maintenance.lockout.browsers import Phone, browser_of, seen_at, send, take_off_page, words
from tests.make import PIN
from tests.make_locks import SHORT, YES, Pump

pytestmark = pytest.mark.django_db
GUARD = "Guard and coupling cover on and fast"


@pytest.fixture
def phone(verified: Pump) -> Phone:
    """K's phone, the link opened; the invitation of the setting up is replaced by this one."""
    made = Phone(verified)
    made.enter()
    return made


def test_step_1_the_link_opens_the_pump_with_every_lock_and_the_caution(phone: Phone) -> None:
    page = words(phone.page())
    assert "Locks on: 4 of 4." in page
    assert "Your lock K-1 is on box 3. You can take off only K-1." in page
    assert "This page does not prove that P-2 is safe." in page
    assert "Follow the plant’s written procedure (P-2, revision 1) and local law." in page
    for number in ("41", "42", "43"):
        assert f"Lock {number}" in page
    assert f'href="tel:{phone.pump.ana.phone.replace(" ", "")}"' in phone.page().content.decode()


def test_step_2_a_swapped_pump_is_asked_about_and_the_plant_answers(phone: Phone) -> None:
    phone.pump.swap()
    refused = phone.take_off(answers=YES)
    assert refused.status_code == 422
    assert "Waiting for Ana" in words(refused)
    assert "pump 8-2291 is fitted; revision 1 was written for pump 8-2214" in words(refused)
    answered = send(browser_of(phone.pump.ana), "/locks/1/fits/", answer="yes", why="nameplate: no heater")
    assert answered.status_code == 302
    assert "Procedure fits pump 8-2291: yes" in words(phone.page())
    assert "K-1 is off" in words(phone.take_off(answers=YES))


def test_step_3_each_missing_answer_still_stops_it_by_name_and_keeps_the_others(phone: Phone) -> None:
    for topic in YES:
        refused = phone.take_off(answers={t: a for t, a in YES.items() if t != topic})
        assert refused.status_code == 422
        page = words(refused)
        assert "Refused. Your lock stays recorded as on" in page
        assert f"{topic}: not answered." in page
        assert "What you typed is still here. The refusal is written in the history." in page
        text = refused.content.decode()
        assert text.count("checked") == len(YES) - 1
        assert 'value="SK1"' in text and 'value="BX3"' in text
        body = json.loads(Event.objects.filter(verb="refused").order_by("-id")[0].body)
        assert body["facts"] == {"asked": "lock.taken_off", "reasons": [f"{topic}: not answered."]}
        assert body["by"]["name"] == "K"
    assert phone.pump.application("K-1").removed_at is None


def test_step_3_nothing_is_ticked_beforehand_and_answers_can_be_kept_alone(phone: Phone) -> None:
    assert "checked" not in phone.page().content.decode()
    asked = list(YES)
    kept = phone.send("off", "/job/answers/", q1="yes", q2="yes")
    page = words(kept)
    assert kept.status_code == 200
    assert f"Yes {asked[0]}" in page
    assert {n.topic for n in phone.pump.story().told("answered")} == set(asked[:2])
    assert "q1" not in phone.page().context["forms"]["off"].fields
    assert words(phone.take_off(answers={t: "yes" for t in asked[2:]})).count("K-1 is off") == 1


def test_step_3_people_out_grows_old(phone: Phone, clock) -> None:
    """L22 on the page."""
    phone.send("off", "/job/answers/", **{f"q{n}": "yes" for n in range(1, 9)})
    clock.forward(minutes=16)
    refused = phone.take_off(answers={})
    assert f"{PEOPLE}: answered 16 minutes ago, older than 15 minutes; answer again, now." in words(refused)
    assert [b.name for b in refused.context["forms"]["off"].questions] == ["q8"]


def test_step_4_and_5_a_rotation_test_ends_protection_and_everything_is_locked_and_tested_again(phone: Phone) -> None:
    pump = phone.pump
    asked = phone.send("run", "/job/run/", why="rotation")
    assert "Do not work. Each owner takes off their own lock." in words(asked)
    assert pump.stand.may_work == ()
    off = phone.take_off(answers=SHORT)
    assert "K-1 is off" in words(off)
    for number, place, by in (("41", "B-2", pump.ana), ("42", "V-21", pump.ana), ("43", "V-22", pump.ben)):
        assert take_off_page(pump, number, place, by=by, answers=SHORT).status_code == 302
    ana = browser_of(pump.ana)
    assert send(ana, "/locks/1/run/begin/", minutes="10", proof=PIN).status_code == 302
    assert "Energy is on. Nobody is protected. Stay out." in words(phone.page())
    refused = phone.put_on()
    assert "A test run is under way" in words(refused)
    assert send(ana, "/locks/1/run/end/", found="turns right").status_code == 302
    pump.set_points()
    pump.lock_points()
    assert phone.put_on().status_code == 200
    assert "Locks on, NOT yet tested" in words(phone.page())
    assert "Do not work." in words(phone.page())
    pump.relieve()
    for line in pump.lockout.lines.all():
        typed = {"tester": str(pump.tester.pk), "reading": "0 V", "proof": PIN}
        assert send(ana, f"/locks/1/test/{line.pk}/", **typed).status_code == 302
    assert "Tested" in words(phone.page())
    assert [w.name for w in pump.stand.may_work] == ["K"]


def test_step_4_is_refused_with_owner_and_phone_while_another_job_locks_the_breaker(phone: Phone) -> None:
    from tests.make_locks import make_neighbour

    second = make_neighbour(phone.pump)
    second.hang("44", phone.pump.points["B-2"])
    refused = phone.send("run", "/job/run/", why="rotation")
    assert refused.status_code == 422
    assert f"Lock 44 of Ben, {phone.pump.ben.phone} is on breaker B-2, for lockout 2" in words(refused)
    assert 'value="rotation"' in refused.content.decode()


def test_steps_6_to_9_own_lock_off_then_the_plants_then_told_and_accepted(phone: Phone) -> None:
    pump = phone.pump
    early = take_off_page(pump, "41", "B-2", by=pump.ana, answers=YES)
    assert f"K-1 (K, {pump.kim.phone}) is still on box 3." in words(early)
    done = words(phone.take_off(answers=YES))
    assert "K-1 is off" in done and "Entered by you, presence not proven." in done
    assert "P-2 must not be started" in done
    assert "3 plant locks still on: 41, Ana; 42, Ana; 43, Ben" in done
    assert "Your part is closed" in done
    for number, place, by in (("41", "B-2", pump.ana), ("42", "V-21", pump.ana), ("43", "V-22", pump.ben)):
        assert take_off_page(pump, number, place, by=by, answers=SHORT).status_code == 302
    off = words(phone.page())
    assert "P-2 is NOT in service" in off and "All locks off" in off
    assert "Selector, found at hand" in off and "Hour meter of pump 8-2214" in off and "Forced values" in off
    ana, ben = browser_of(pump.ana), browser_of(pump.ben)
    assert send(ana, "/locks/1/close/").status_code == 302
    early = send(ben, "/locks/1/accept/", proof=PIN)
    assert "Ines Calder was told before and has not been told that the locks are off." in words(early)
    for name in ("Ines Calder", "Tomas Lind"):
        assert send(ana, "/locks/1/tell-after/", name=name, how="radio").status_code == 302
    typed = {f"a{n}": f"good {n}" for n in range(1, 8)} | {"selector": "off", "forced": "PIT-2 removed", "hours": "0.0"}
    missing = send(ben, "/locks/1/accept/", **{**typed, "a3": ""}, proof=PIN)
    assert "Rotation: nothing is written." in words(missing)
    assert 'value="good 2"' in missing.content.decode()
    assert send(ben, "/locks/1/accept/", **typed, proof=PIN).status_code == 302
    last = words(phone.page())
    assert "Available" in last and "accepted by Ben" in last and "Your part is closed." in last
    assert LockoutEntry.objects.filter(kind="available").count() == 1


def test_step_10_a_lock_left_on_has_no_button_anywhere_only_phones(phone: Phone, clock) -> None:
    pump = phone.pump
    clock.forward(days=3)
    page = browser_of(pump.ruth).get("/locks/1/")
    text = words(page)
    assert "not in this release" in text
    assert f"Call {pump.company.name}, {pump.company.phone}" in text
    assert f"/locks/1/off/{pump.application('K-1').pk}/" not in page.content.decode()
    theirs = browser_of(pump.ruth).get(f"/locks/1/off/{pump.application('K-1').pk}/")
    assert "You cannot take it off." in words(theirs)
    assert "<form method" not in theirs.content.decode().replace('<form method="post" action="/sign-out/"', "")
    assert "Your lock K-1 is on box 3" in words(phone.page()), "K's link lives as long as the lock is on"


# The link itself


def test_opening_the_link_changes_nothing_and_leaves_no_secret_in_the_address(verified: Pump) -> None:
    phone = Phone(verified)
    before = (Event.objects.count(), Submission.objects.count(), list(AccessLink.objects.values()))
    preview = Client().get(f"/j/{phone.token}/")
    assert (preview.status_code, preview["Location"]) == (302, "/job/")
    assert "no-store" in preview["Cache-Control"]
    assert preview["Referrer-Policy"] == "no-referrer"
    phone.enter()
    page = phone.page()
    assert phone.token not in page.content.decode() and phone.code not in page.content.decode()
    assert (Event.objects.count(), Submission.objects.count(), list(AccessLink.objects.values())) == before
    for path in ("/j/x/", "/job/on/", "/job/run/", "/job/answers/"):
        assert Client().get(path).status_code in {404, 405}
    assert Client().get("/job/").status_code == 404
    assert Client().post(f"/j/{phone.token}/").status_code == 405


def test_a_wrong_code_is_counted_and_after_five_a_supervisor_makes_a_new_link(phone: Phone) -> None:
    for left in ("4 tries left", "3 tries left", "2 tries left", "1 try left", "Tries: none left"):
        refused = phone.take_off(answers=YES, proof="AAAAAAAA")
        assert refused.status_code == 422
        assert f"That code is wrong. {left}" in words(refused)
    assert "this link takes no more" in words(phone.take_off(answers=YES))
    assert phone.pump.application("K-1").removed_at is None
    again = Phone(phone.pump)
    assert phone.page().status_code == 404, "the link before has ended"
    again.enter()
    assert "K-1 is off" in words(again.take_off(answers=YES))


def test_the_page_shows_neither_stamp_nor_plate_and_wrong_ones_are_refused_at_their_fields(phone: Phone) -> None:
    text = phone.page().content.decode()
    assert "SK1" not in text and "BX3" not in text and "PLB2" not in text
    refused = phone.take_off(answers=YES, stamp="K-1", plate="3")
    page = words(refused)
    assert "These are not the last three characters stamped on lock K-1; read the lock." in page
    assert "This is not the code on the plate of box 3; read the plate." in page
    assert phone.pump.application("K-1").removed_at is None


def test_nobody_elses_lock_comes_off_by_the_link(phone: Phone) -> None:
    refused = phone.take_off(answers=YES, number="41", **seen_at(phone.pump, "41", "B-2"))
    assert refused.status_code == 422
    assert "Nobody else can take it off" in words(refused)
    assert Application.objects.on().count() == 4


def test_another_lockouts_lock_is_not_there_for_this_link(phone: Phone) -> None:
    from tests.make_locks import make_neighbour

    second = make_neighbour(phone.pump)
    other = second.hang("44", phone.pump.points["B-2"])
    assert phone.client.post(f"/job/off/{other.pk}/", {"key": "k"}).status_code == 404


def test_the_same_post_twice_takes_the_lock_off_once(phone: Phone) -> None:
    key = phone.page().context["forms"]["off"]["key"].value()
    typed = {"key": key, "stamp": "SK1", "plate": "BX3", "proof": phone.code}
    typed |= {f"q{n}": "yes" for n in range(1, 9)}
    path = f"/job/off/{phone.pump.application('K-1').pk}/"
    answers = [phone.client.post(path, typed) for _ in range(2)]
    assert [(a.status_code, a["Location"]) for a in answers] == [(302, "/job/")] * 2
    assert Event.objects.filter(verb="lock.taken_off").count() == 1


def test_after_the_lock_is_off_the_link_reads_for_thirty_days_and_does_nothing(phone: Phone, clock) -> None:
    pump = phone.pump
    phone.take_off(answers=YES)
    sent = {"key": "later", "lock": pump.locks["K-1"].pk, "stamp": "SK1", "plate": "BX3", "proof": phone.code}
    refused = phone.client.post("/job/on/", sent)
    assert refused.status_code == 422
    assert "this link is for reading only" in words(refused)
    assert pump.application("K-1").removed_at is not None
    clock.forward(days=30)
    assert phone.enter().status_code == 200
    clock.forward(seconds=1)
    assert phone.enter().status_code == 404


def test_a_link_is_live_while_a_lock_is_on_however_long(phone: Phone, clock) -> None:
    clock.forward(days=400)
    assert phone.enter().status_code == 200
    assert "K-1 is off" in words(phone.take_off(answers=YES))


def test_before_the_box_is_closed_the_page_says_whom_the_lock_waits_for(pump: Pump) -> None:
    pump.begin()
    pump.prepare()
    phone = Phone(pump)
    page = words(phone.enter())
    assert "Waiting for a lock on breaker B-2." in page
    on = pump.hang("41", pump.points["B-2"])
    pump.hang("42", pump.points["V-21"])
    pump.hang("43", pump.points["V-22"])
    assert f"Waiting for Ana, {pump.ana.phone} to put the key of lock 41 into box 3." in words(phone.page())
    assert on.key_in_box_number is None


def test_leaving_forgets_the_link_on_this_device_and_nothing_else(phone: Phone) -> None:
    before = Application.objects.on().count()
    assert phone.client.post("/job/leave/").status_code == 200
    assert phone.page().status_code == 404
    assert Application.objects.on().count() == before
    assert phone.client.get("/job/leave/").status_code == 405


def test_a_contractor_reaches_no_other_page(phone: Phone) -> None:
    for path in ("/locks/", "/locks/1/", "/locks/1/off/1/", "/locks/1/invite/", "/upkeep/", "/"):
        assert phone.client.get(path).status_code == 302, path


def test_a_page_that_is_not_there_offers_no_sign_out_to_who_never_signed_in(phone: Phone) -> None:
    other = phone.client.post("/job/off/999999/", {"key": "k"})
    assert other.status_code == 404
    page = other.content.decode()
    assert "Sign out" not in page
    assert 'action="/job/leave/"' in page
    missing = browser_of(phone.pump.ana).get("/plant/999999/no-page/")
    assert missing.status_code == 404
    assert "/job/leave/" not in missing.content.decode()


def test_the_invitation_shows_link_and_code_once(pump: Pump) -> None:
    pump.begin()
    ruth = browser_of(pump.ruth)
    key = ruth.get("/locks/1/invite/").context["form"]["key"].value()
    shown = ruth.post("/locks/1/invite/", {"key": key, "person": pump.kim.pk})
    assert shown.status_code == 200
    assert "no-store" in shown["Cache-Control"]
    token = shown.context["address"].split("/j/")[1].strip("/")
    assert Client().get(f"/j/{token}/").status_code == 302
    again = ruth.post("/locks/1/invite/", {"key": key, "person": pump.kim.pk}, follow=True)
    assert token not in again.content.decode()
    assert "were shown then" in words(again)
    assert AccessLink.objects.count() == 1
    stored = json.dumps(list(AccessLink.objects.values("token_hash", "code_hash", "path")))
    assert token not in stored and shown.context["code"].replace(" ", "") not in stored
    text = " ".join(Event.objects.values_list("body", flat=True))
    assert token not in text and shown.context["code"].replace(" ", "") not in text


def test_who_may_invite(pump: Pump) -> None:
    pump.begin()
    assert browser_of(pump.ana).get("/locks/1/invite/").status_code == 403
    refused = send(browser_of(pump.ruth), "/locks/1/invite/", person=str(pump.ben.pk))
    assert refused.status_code == 422


def test_without_a_box_nobody_is_invited_since_their_lock_has_no_place(pump: Pump) -> None:
    pump.begin(box=None)
    refused = send(browser_of(pump.ruth), "/locks/1/invite/", person=str(pump.kim.pk))
    assert "This lockout uses no box" in words(refused)
    assert not AccessLink.objects.exists()


def test_the_code_is_never_sent_back_with_a_page(phone: Phone) -> None:
    refused = phone.take_off(answers={})
    assert refused.status_code == 422
    assert phone.code not in refused.content.decode()


def test_a_late_moment_is_not_asked_of_a_contractor(phone: Phone) -> None:
    """What comes off comes off now: no earlier moment can be typed for it."""
    assert "happened_at" not in phone.page().context["forms"]["off"].fields
