"""The plant's pages of locks: who sees them, who may do what, and what happens to what was typed."""

from __future__ import annotations

import pytest
from django.test import Client

from assets.models import Event, Role
from maintenance.actions.isolation_procedures import write_procedure
from maintenance.models import (
    Application,
    EnergyProcedure,
    IsolationPoint,
    Lock,
    LockBox,
    Lockout,
    PointOfPosition,
    ProcedureVersion,
)
from tests.maintenance.lockout.browsers import browser_of, seen_at, send, words
from tests.make import PIN, make_person, make_position, make_site
from tests.make_locks import YES, Pump, make_neighbour, make_text

pytestmark = pytest.mark.django_db
READ = ["/locks/", "/locks/{n}/", "/locks/{n}/record/", "/locks/points/", "/locks/register/", "/locks/boxes/"]
READ += ["/locks/procedure/{position}/"]
OPERATE = ["tell-before", "down", "set/{line}", "relieve/{line}", "key/{application}", "box/close", "test/{line}"]
OPERATE += ["add-point", "charge", "on/{line}", "on/box", "answers", "fits", "run/ask", "run/begin", "run/end"]
OPERATE += ["close", "tell-after", "accept"]
OPERATE = [f"/locks/{{n}}/{act}/" for act in OPERATE]
OPERATE += ["/locks/new/{position}/", "/locks/procedure/revision/{version}/withdraw/"]
SUPERVISE = ["/locks/{n}/invite/", "/locks/points/new/", "/locks/points/{point}/serve/", "/locks/register/new/"]
SUPERVISE += ["/locks/boxes/new/", "/locks/procedure/{position}/new/", "/locks/procedure/revision/{version}/approve/"]
POST_ONLY = ["/locks/points/{point}/retire/", "/locks/points/served/{service}/end/", "/locks/register/{lock}/lost/"]
OFF = "/locks/{n}/off/{application}/"


def filled(path: str, pump: Pump) -> str:
    return path.format(
        n=pump.lockout.number,
        position=pump.position.pk,
        version=pump.version.pk,
        line=pump.lockout.lines.exclude(point=None).first().pk,
        application=pump.application("41").pk,
        point=pump.points["B-2"].pk,
        service=pump.points["B-2"].serves.get().pk,
        lock=pump.locks["44"].pk,
    )


def test_each_page_opens_for_a_supervisor_and_sends_the_signed_out_to_sign_in(verified: Pump) -> None:
    ruth = browser_of(verified.ruth)
    for path in [*READ, *OPERATE, *SUPERVISE, OFF]:
        here = filled(path, verified)
        assert ruth.get(here).status_code == 200, here
        assert ruth.put(here).status_code == 405, here
        signed_out = Client().get(here)
        assert signed_out.status_code == 302 and "sign-in" in signed_out["Location"], here


def test_every_lock_page_carries_the_caution(verified: Pump) -> None:
    ruth = browser_of(verified.ruth)
    procedures = {"/locks/points/new/", "/locks/points/{point}/serve/", "/locks/register/new/", "/locks/boxes/new/"}
    procedures.add("/locks/procedure/revision/{version}/withdraw/")  # words and registers, no machine's state
    for path in [*READ, *OPERATE, *SUPERVISE, OFF]:
        if path not in procedures:
            assert 'class="caution"' in ruth.get(filled(path, verified)).content.decode(), path


def test_a_viewer_does_none_of_it(verified: Pump) -> None:
    viewer = browser_of(make_person(site=verified.site, role=Role.VIEWER, qualified=True))
    before = Event.objects.count()
    for path in OPERATE + SUPERVISE + POST_ONLY:
        assert viewer.post(filled(path, verified), {"key": "k"}).status_code == 403, path
    assert Event.objects.count() == before


def test_an_operator_keeps_no_register_and_invites_nobody(verified: Pump) -> None:
    ana = browser_of(verified.ana)
    for path in SUPERVISE + POST_ONLY:
        assert ana.post(filled(path, verified), {"key": "k"}).status_code == 403, path


def test_viewers_and_operators_read_all_of_it_and_administrators_nothing(verified: Pump) -> None:
    for role, status in ((Role.VIEWER, 200), (Role.OPERATOR, 200), (Role.ADMINISTRATOR, 403)):
        person = browser_of(make_person(site=verified.site, role=role))
        for path in READ:
            assert person.get(filled(path, verified)).status_code == status, (path, role)


def test_what_is_another_sites_is_not_there(verified: Pump) -> None:
    elsewhere = make_site(name="Other Works")
    stranger = browser_of(make_person(site=elsewhere, role=Role.SUPERVISOR, qualified=True))
    before = Event.objects.count()
    for path in [p for p in [*READ, *OPERATE, *SUPERVISE, *POST_ONLY, OFF] if "{" in p]:
        here = filled(path, verified)
        if path not in POST_ONLY:
            assert stranger.get(here).status_code == 404, here
        if path not in READ:
            assert stranger.post(here, {"key": "k"}).status_code == 404, here
    assert Event.objects.count() == before


def test_buttons_of_the_registers_are_posts(verified: Pump) -> None:
    for path in POST_ONLY:
        assert browser_of(verified.ruth).get(filled(path, verified)).status_code == 405, path


def test_a_lockout_from_its_beginning_to_tested_through_the_pages(pump: Pump) -> None:
    ana, ben = browser_of(pump.ana), browser_of(pump.ben)
    begun = send(
        ana, f"/locks/new/{pump.position.pk}/", why="bearing", in_charge=str(pump.ana.pk), box=str(pump.box.pk)
    )
    assert begun["Location"] == "/locks/1/"
    pump.lockout = Lockout.objects.get()
    lines = {line.point.name: line for line in pump.lockout.lines.select_related("point")}
    assert "Next: Tell those concerned" in words(ana.get("/locks/1/"))
    assert send(ana, "/locks/1/tell-before/", name="Ines Calder", how="radio").status_code == 302
    assert send(ana, "/locks/1/down/", selector="hand").status_code == 302
    for line in lines.values():
        assert send(ana, f"/locks/1/set/{line.pk}/").status_code == 302
    assert "Not locked out yet" in words(ana.get("/locks/1/"))
    for number, name, who in (("41", "B-2", ana), ("42", "V-21", ana), ("43", "V-22", ben)):
        typed = {"lock": str(pump.locks[number].pk), **seen_at(pump, number, name), "proof": PIN}
        assert send(who, f"/locks/1/on/{lines[name].pk}/", **typed).status_code == 302
    assert "Next: Put the key of lock 43 into box 3" in words(ben.get("/locks/1/"))
    assert "Waiting for keys" in words(browser_of(pump.ruth).get("/locks/1/"))
    for number, who in (("41", ana), ("42", ana), ("43", ben)):
        assert send(who, f"/locks/1/key/{pump.application(number).pk}/").status_code == 302
    assert send(ana, "/locks/1/box/close/").status_code == 302
    assert "Locks on, NOT yet tested" in words(ana.get("/locks/1/"))
    relief = send(ana, f"/locks/1/relieve/{lines['V-22'].pk}/", found="gauge PI-72 at 0 kPa")
    assert relief.status_code == 302
    for line in lines.values():
        typed = {"tester": str(pump.tester.pk), "reading": "0", "proof": PIN}
        assert send(ana, f"/locks/1/test/{line.pk}/", **typed).status_code == 302
    typed = {"lock": str(pump.locks["44"].pk), **seen_at(pump, "44", "box"), "proof": PIN}
    assert send(ben, "/locks/1/on/box/", **typed).status_code == 302
    assert "May work now Ben" in words(ben.get("/locks/1/"))
    assert "Next: Work done? Take your own lock 44 off" in words(ben.get("/locks/1/"))


def test_wrong_characters_keep_what_else_was_typed_and_are_written_as_refused(pump: Pump) -> None:
    pump.begin()
    pump.prepare()
    line = pump.lockout.lines.first()
    typed = {"lock": str(pump.locks["41"].pk), "stamp": "QQQ", "plate": "PLB2", "proof": PIN}
    refused = send(browser_of(pump.ana), f"/locks/1/on/{line.pk}/", **typed)
    assert refused.status_code == 422
    page = refused.content.decode()
    assert "These are not the last three characters stamped on lock 41" in page
    assert 'value="PLB2"' in page
    assert PIN not in page
    assert Event.objects.filter(verb="refused", by=pump.ana).count() == 1
    assert not Application.objects.exists()


def test_a_wrong_pin_puts_nothing_on_and_is_recorded_once(pump: Pump) -> None:
    pump.begin()
    pump.prepare()
    line = pump.lockout.lines.first()
    typed = {"lock": str(pump.locks["41"].pk), **seen_at(pump, "41", "B-2"), "proof": "000000"}
    refused = send(browser_of(pump.ana), f"/locks/1/on/{line.pk}/", **typed)
    assert "neither your PIN nor your password" in words(refused)
    assert Event.objects.filter(verb="proof.refused").count() == 1
    assert not Event.objects.filter(verb="refused").exists()
    assert not Application.objects.exists()


def test_only_ones_own_free_locks_are_offered(verified: Pump) -> None:
    line = verified.lockout.lines.first()
    page = browser_of(verified.ben).get(f"/locks/1/on/{line.pk}/")
    assert [lock.number for lock in page.context["own_locks"]] == ["44"]
    none = words(browser_of(verified.ana).get(f"/locks/1/on/{line.pk}/"))
    assert "No lock of yours is free" in none


def test_a_late_moment_is_shown_as_entered_late(pump: Pump, clock) -> None:
    pump.begin()
    clock.forward(hours=1)
    earlier = clock.now.astimezone(pump.site.zone)
    clock.forward(hours=2)
    moment = f"{earlier:%Y-%m-%d %H:%M}"
    answer = send(browser_of(pump.ana), "/locks/1/tell-before/", name="Ines", how="phone", happened_at=moment)
    assert answer.status_code == 302
    page = words(browser_of(pump.ana).get("/locks/1/"))
    assert "Entered late" in page
    event = Event.objects.get(verb="lockout.told_before")
    assert event.happened_at < event.recorded_at
    assert "entered later than it happened" in event.body


def test_a_tester_out_of_date_is_named_with_its_day(verified: Pump) -> None:
    from tests.make import make_asset

    other = make_asset(site=verified.site, kind="voltage tester", serial="M-9")
    line = verified.lockout.lines.first()
    page = browser_of(verified.ana).get(f"/locks/1/test/{line.pk}/")
    assert [t.asset for t in page.context["testers"]] == [verified.tester]
    typed = {"tester": str(other.pk), "reading": "0 V", "proof": PIN}
    refused = send(browser_of(verified.ana), f"/locks/1/test/{line.pk}/", **typed)
    assert refused.status_code == 422 and 'value="0 V"' in refused.content.decode()


def test_points_locks_and_boxes_are_registered_and_kept(pump: Pump) -> None:
    ruth = browser_of(pump.ruth)
    typed = {"name": "V-30", "what": "drain", "kind": "valve", "energy": "water", "plate_code": "Q7K", "positions": []}
    assert send(ruth, "/locks/points/new/", **typed).status_code == 422
    typed["positions"] = [str(pump.position.pk)]
    assert send(ruth, "/locks/points/new/", **typed)["Location"] == "/locks/points/"
    twice = send(ruth, "/locks/points/new/", **{**typed, "name": "V-31"})
    assert "it may be the same point." in words(twice) and 'value="V-31"' in twice.content.decode()
    assert "Q7K" not in ruth.get("/locks/points/").content.decode()
    typed = {"number": "77", "stamp": "ZZ-9QR", "issued_to": str(pump.ana.pk)}
    assert send(ruth, "/locks/register/new/", **typed)["Location"] == "/locks/register/"
    assert "9QR" not in ruth.get("/locks/register/").content.decode()
    assert Lock.objects.get(number="77").stamp_hash != "9QR"
    assert send(ruth, "/locks/boxes/new/", name="9", plate_code="BX9")["Location"] == "/locks/boxes/"
    assert LockBox.objects.filter(name="9").exists()
    point = IsolationPoint.objects.get(name="V-30")
    other = make_position(site=pump.site, does="moves")
    assert send(ruth, f"/locks/points/{point.pk}/serve/", position=str(other.pk)).status_code == 302
    service = PointOfPosition.objects.get(point=point, position=other)
    assert ruth.post(f"/locks/points/served/{service.pk}/end/", {"key": "e1"}).status_code == 302
    assert ruth.post(f"/locks/points/{point.pk}/retire/", {"key": "e2"}).status_code == 302
    lock = Lock.objects.get(number="77")
    assert ruth.post(f"/locks/register/{lock.pk}/lost/", {"key": "e3"}).status_code == 302
    lock.refresh_from_db()
    assert lock.lost_at is not None


@pytest.mark.parametrize("path", POST_ONLY)
def test_a_register_button_against_a_lock_that_is_on_is_refused_with_the_list(verified: Pump, path: str) -> None:
    here = filled(path, verified).replace(f"/{verified.locks['44'].pk}/lost", f"/{verified.locks['41'].pk}/lost")
    refused = browser_of(verified.ruth).post(here, {"key": "k1"})
    assert refused.status_code == 422
    assert "Nothing was changed" in words(refused)
    assert Event.objects.filter(verb="refused").count() == 1


def test_a_procedure_is_written_approved_by_another_and_withdrawn(pump: Pump) -> None:
    ruth, noor = browser_of(pump.ruth), browser_of(pump.version.written_by)
    path = f"/locks/procedure/{pump.position.pk}/new/"
    start = ruth.get(path).context["form"]
    typed = {name: start[name].value() or "" for name in start.fields if name not in {"key", "version"}}
    refused = send(ruth, path, **{**typed, "test4": "look", "energy4": ""})
    assert "Write which energy this source is." in words(refused)
    assert send(ruth, path, **{**typed, "test2": ""}).status_code == 302
    version = ProcedureVersion.objects.get(revision=2)
    approve = f"/locks/procedure/revision/{version.pk}/approve/"
    own = ruth.get(approve)
    assert "another supervisor approves it" in words(own) and "Approve this revision" not in words(own)
    refused = send(noor, approve, proof=PIN)
    assert "Source 2, suction pressure: has no test that shows its absence." in words(refused)
    assert send(ruth, path, **typed).status_code == 302
    version = ProcedureVersion.objects.get(revision=3)
    assert send(noor, f"/locks/procedure/revision/{version.pk}/approve/", proof=PIN).status_code == 302
    page = words(noor.get(f"/locks/procedure/{pump.position.pk}/"))
    assert "Revision 3: in force" in page and "Revision 2: not approved" in page
    out = send(browser_of(pump.ana), f"/locks/procedure/revision/{version.pk}/withdraw/", why="second feed")
    assert out.status_code == 302
    page = words(noor.get(f"/locks/procedure/{pump.position.pk}/"))
    assert "Revision 3: withdrawn as unsafe" in page
    assert "No approved procedure is in force" in words(noor.get(f"/locks/new/{pump.position.pk}/"))


def test_the_list_says_what_is_locked_waits_and_alarms(verified: Pump) -> None:
    from maintenance.actions.isolation_procedures import withdraw_procedure

    second = make_neighbour(verified)
    page = words(browser_of(verified.ana).get("/locks/"))
    assert "Locked now, 1" in page and "Open, no lock on, 1" in page
    assert "41 (Ana) on breaker B-2" in page and f"In charge: Ana, {verified.ana.phone}" in page
    withdraw_procedure(version=verified.version, why="second feed", by=verified.ana)
    page = words(browser_of(verified.ana).get("/locks/"))
    assert "See to this at once" in page and "Revision 1 was withdrawn as unsafe: second feed" in page
    second.hang("44", verified.points["B-2"])
    verified.end()
    page = words(browser_of(verified.ana).get("/locks/"))
    assert "Locks off, not in service, 1" in page
    assert "Locked now, 1" in page


def test_the_record_for_paper_has_both_times_and_a_tag_for_each_lock(verified: Pump) -> None:
    page = words(browser_of(verified.ana).get("/locks/1/record/"))
    assert page.count("DANGER") == 4
    assert page.count("; entered ") == len(verified.story().notes) + 4 + 3
    assert "no proof that the machine is safe" in page


def test_a_closed_lockout_goes_on_to_acceptance_and_a_worker_does_not_accept(verified: Pump) -> None:
    verified.hang("44", verified.box)
    verified.take("44")
    verified.end()
    page = words(browser_of(verified.ben).get("/locks/1/"))
    assert "Next: Operations take it back" in page
    refused = send(browser_of(verified.ben), "/locks/1/accept/", proof=PIN)
    assert "Whoever worked under this lockout does not accept it" in words(refused)
    again = browser_of(verified.ana).get(f"/locks/1/off/{verified.application('41').pk}/")
    assert again.status_code == 404


def test_an_empty_plant_says_that_nothing_is_written(db: None) -> None:
    site = make_site()
    ruth = browser_of(make_person(site=site, role=Role.SUPERVISOR))
    for path in ("/locks/", "/locks/points/", "/locks/register/", "/locks/boxes/"):
        page = ruth.get(path)
        assert page.status_code == 200
        assert "nothing is written" in words(page)
    position = make_position(site=site, does="moves")
    assert "No procedure is written" in words(ruth.get(f"/locks/procedure/{position.pk}/"))
    assert not EnergyProcedure.objects.exists()


def test_answers_after_a_test_run_can_be_given_alone(verified: Pump) -> None:
    path = "/locks/1/answers/"
    assert send(browser_of(verified.ana), path).status_code == 422
    assert send(browser_of(verified.ana), path, q1="yes", q8="no").status_code == 302
    answers = {n.topic: n.answer for n in verified.story().told("answered")}
    assert answers == {list(YES)[0]: "yes", list(YES)[7]: "no"}


def test_a_further_point_comes_in_by_its_page(verified: Pump) -> None:
    from tests.make_locks import make_point

    drain = make_point(site=verified.site, by=verified.ruth, name="V-29", positions=[verified.position])
    typed = {"point": str(drain.pk), "energy": "seal water", "safe_state": "shut", "relief": "none, because open"}
    refused = send(browser_of(verified.ana), "/locks/1/add-point/", **typed)
    assert refused.status_code == 422 and 'value="seal water"' in refused.content.decode()
    assert send(browser_of(verified.ana), "/locks/1/add-point/", **typed, test="look").status_code == 302
    assert "Not locked out yet" in words(browser_of(verified.ana).get("/locks/1/"))
    assert "Next: Set valve V-29: shut" in words(browser_of(verified.ana).get("/locks/1/"))


def test_charge_is_taken_from_the_page(verified: Pump) -> None:
    assert send(browser_of(verified.ben), "/locks/1/charge/", proof=PIN).status_code == 302
    assert "In charge: Ben." in words(browser_of(verified.ben).get("/locks/1/"))
    assert "in charge already" in words(send(browser_of(verified.ben), "/locks/1/charge/", proof=PIN))


def test_revisions_written_twice_by_two_people_get_numbers_of_their_own(pump: Pump) -> None:
    for _ in range(2):
        write_procedure(position=pump.position, text=make_text(pump.points), by=pump.ruth)
    revisions = ProcedureVersion.objects.order_by("revision").values_list("revision", flat=True)
    assert list(revisions) == [1, 2, 3]
