"""Photographs and files handed in when work is raised or asked for; checks named and taken back until it is done."""

from __future__ import annotations

import hashlib
import secrets
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone

from assets.errors import NotAllowed, Refusal
from assets.models import Event, KeptFile, Person, Position, Role, Site
from maintenance.actions.order_checks import ask_checks, take_back_check
from maintenance.actions.orders import accept_order, finish_order, send_back_order
from maintenance.models import OrderFile, ReturnCheck, WorkOrder
from tests.assets.signed_in import browser_of
from tests.conftest import Clock
from tests.make import make_area, make_person, make_position, make_site, picture
from tests.make_orders import make_return_check, make_started, make_template
from tests.make_upkeep import make_done, make_plan, open_item

pytestmark = pytest.mark.django_db

SAID = {"title": "Repack the gland", "reason": "Drips on the floor."}


@pytest.fixture
def site(clock: Clock, settings: Any, tmp_path: Path) -> Site:
    settings.DATA = tmp_path
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


@pytest.fixture
def ines(site: Site) -> Person:
    return make_person(site=site, name="Ines Calder")


@pytest.fixture
def tag(site: Site) -> Position:
    make_area(site=site)
    return make_position(site=site, tag="AIT-410")


def upload(name: str, data: bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data)


def sent(person: Person, where: str, **typed: object) -> HttpResponse:
    return browser_of(person).post(where, {"key": secrets.token_urlsafe(16), **typed})


def url(name: str, *args: object) -> str:
    return reverse(f"maintenance:{name}", args=args)


# ---------------------------------------------------------------------------------------------- photographs, at raising


def test_a_photograph_and_a_file_are_kept_with_the_order_that_they_show(tag: Position, ines: Person) -> None:
    shot, note = picture(), b"%PDF-1.4 drawing"
    files = {"shot": upload("now.png", shot), "attached": [upload("gland.pdf", note)]}
    sent(ines, url("order-new"), position=tag.pk, **SAID, **files)
    order = WorkOrder.objects.get()
    rows = [row.file for row in OrderFile.objects.filter(order=order).order_by("pk")]
    assert [file.sha256 for file in rows] == [hashlib.sha256(data).hexdigest() for data in (shot, note)]
    assert [file.words for file in rows] == ["Repack the gland"] * 2
    raised = Event.objects.about(order).get()
    assert raised.verb == "order.raised"
    assert all(file.sha256 in raised.body for file in rows)
    said = browser_of(ines).get(order.get_absolute_url()).content.decode()
    assert "(with now.png, gland.pdf)" in said
    assert reverse("assets:file-shown", args=[rows[0].pk]) in said


def test_the_form_opens_the_camera_of_a_phone_and_takes_what_is_there(tag: Position, ines: Person) -> None:
    said = browser_of(ines).get(url("order-new"), {"tag": tag.label_code}).content.decode()
    assert 'capture="environment"' in said
    assert 'enctype="multipart/form-data"' in said


def test_who_only_reads_hands_in_a_photograph_with_a_request_and_no_later_file(
    tag: Position, site: Site, ines: Person
) -> None:
    viewer = make_person(site=site, role=Role.VIEWER, name="Ada Moss")
    sent(viewer, url("order-ask"), position=tag.pk, **SAID, shot=upload("now.png", picture()))
    order = WorkOrder.objects.get()
    assert order.files.get().file.recorded_by == viewer
    assert sent(viewer, url("order-files", order.number), attached=[upload("x.png", picture())]).status_code == 403


def test_orders_from_a_template_and_from_the_due_list_take_files_too(tag: Position, ines: Person, ruth: Person) -> None:
    template = make_template(site=tag.site, by=ruth)
    where = f"{url('order-new')}?template={template.pk}"
    sent(ines, where, position=tag.pk, **SAID, attached=[upload("a.txt", b"seen")])
    item = open_item(make_plan(tag, by=ruth))
    sent(ines, url("order-new"), line=item.pk, **SAID, attached=[upload("b.txt", b"seen too")])
    assert [order.files.count() for order in WorkOrder.objects.all()] == [1, 1]


@pytest.mark.parametrize("door", ["order-new", "order-ask"])
@pytest.mark.parametrize(
    ("files", "says"),
    [
        ({"attached": [("pump.exe", b"MZ\x00\x90")]}, "This is no JPEG, PNG or WebP picture, PDF, text or XLSX."),
        ({"shot": [("broken.png", picture()[:60])]}, "This picture is damaged"),
        ({"shot": [("empty.png", b"")]}, "empty"),
        ({"attached": [("long.txt", b"x" * 65)]}, "long.txt has 0 MB; at most 20 MB are kept. Send a smaller one."),
        (
            {"shot": [("one.txt", b"x")], "attached": [(f"{n}.txt", b"x") for n in range(6)]},
            "At most 6 go at once, the one taken now among them.",
        ),
    ],
)
def test_what_is_not_kept_says_why_raises_nothing_and_keeps_what_was_typed(
    door: str,
    files: dict[str, list[tuple[str, bytes]]],
    says: str,
    tag: Position,
    ines: Person,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("maintenance.forms.order_files.LARGEST", 64)
    given = {name: [upload(*one) for one in these] for name, these in files.items()}
    answer = sent(ines, url(door), position=tag.pk, **SAID, **given)
    assert answer.status_code == 422
    said = answer.content.decode()
    for text in (says, "Repack the gland", "Drips on the floor.", "Choose them again"):
        assert text in said
    assert not WorkOrder.objects.exists()
    assert not KeptFile.objects.exists()


def test_six_files_go_at_once(tag: Position, ines: Person) -> None:
    given = {"shot": upload("0.txt", b"0"), "attached": [upload(f"{n}.txt", b"%d" % n) for n in range(1, 6)]}
    sent(ines, url("order-new"), position=tag.pk, **SAID, **given)
    assert OrderFile.objects.count() == 6


def test_the_same_words_with_another_photograph_are_another_order(tag: Position, ines: Person) -> None:
    for data in (b"first", b"first", b"second"):
        sent(ines, url("order-new"), key="same", position=tag.pk, **SAID, attached=[upload("n.txt", data)])
    assert WorkOrder.objects.count() == 2


# ------------------------------------------------------------------------------------------- checks before acceptance


def test_a_check_named_under_way_keeps_the_work_from_being_accepted(
    clock: Clock, tag: Position, ines: Person, ruth: Person
) -> None:
    plan = make_plan(tag, by=ruth, kind="verify", title="Compare with a grab")
    order = make_started(tag, by=ines)
    assert "Name a check" in browser_of(ines).get(order.get_absolute_url()).content.decode()
    sent(ines, url("order-checks", order.number), checks=[plan.pk])
    said = browser_of(ines).get(order.get_absolute_url()).content.decode()
    assert "Asked for by Ines Calder" in said
    assert "Name a check" not in said
    finish_order(order=order, found="Repacked.", by=ines)
    with pytest.raises(Refusal, match="Compare with a grab is owed"):
        accept_order(order=order, by=ruth)
    clock.forward(minutes=5)
    make_done(plan, timezone.now(), by=ines)
    assert accept_order(order=order, by=ruth).state == "accepted"
    assert "Recorded" in browser_of(ines).get(order.get_absolute_url()).content.decode()


def test_a_check_is_taken_back_with_a_reason_and_may_be_asked_again(tag: Position, ines: Person, ruth: Person) -> None:
    order = make_started(tag, by=ines)
    check = make_return_check(order, by=ruth)
    there = url("order-check-end", order.number, check.pk)
    assert sent(ines, there, because="Not needed.").status_code == 403
    answer = sent(ruth, there, because="")
    assert answer.status_code == 422
    assert ReturnCheck.objects.get().ended_at is None
    sent(ruth, there, because="Only the bracket was painted.")
    check.refresh_from_db()
    assert (check.ended_by, check.because) == (ruth, "Only the bracket was painted.")
    log = browser_of(ines).get(order.get_absolute_url()).content.decode()
    assert f"took back that it needs a record of {check.plan.title}: Only the bracket was painted." in log
    assert sent(ruth, there, because="Again.").status_code == 404
    assert ask_checks(order=order, checks=[check.plan], by=ines) == [check.plan]
    with pytest.raises(Refusal, match="asked for already"):
        ask_checks(order=order, checks=[check.plan], by=ines)


def test_nothing_is_named_or_taken_back_once_the_work_is_handed_over(tag: Position, ines: Person, ruth: Person) -> None:
    order = make_started(tag, by=ines)
    check = make_return_check(order, by=ruth)
    other = make_plan(tag, by=ruth, kind="calibrate", title="Two points")
    finish_order(order=order, found="Repacked.", by=ines)
    for refused in (
        lambda: ask_checks(order=order, checks=[other], by=ines),
        lambda: take_back_check(check=check, because="Late.", by=ruth),
    ):
        with pytest.raises(Refusal, match="send it back, then change"):
            refused()
    assert "Take it back" not in browser_of(ruth).get(order.get_absolute_url()).content.decode()
    send_back_order(order=order, because="Look again.", by=ruth)
    take_back_check(check=check, because="Late.", by=ruth)
    finish_order(order=order, found="Repacked.", by=ines)
    assert accept_order(order=order, by=ruth).state == "accepted"
    with pytest.raises(Refusal, match="is accepted; only an open one"):
        ask_checks(order=order, checks=[other], by=ines)


def test_wrong_choices_of_checks_say_so(tag: Position, ines: Person, ruth: Person) -> None:
    order = make_started(tag, by=ines)
    by_hand = make_plan(tag, by=ruth)
    make_return_check(order, by=ruth)
    there = url("order-checks", order.number)
    assert "No further signed check is registered at this tag." in browser_of(ines).get(there).content.decode()
    make_plan(tag, by=ruth, kind="calibrate", title="Two points")
    assert "Choose at least one check." in sent(ines, there).content.decode()
    assert "is not registered at this tag; choose another" in sent(ines, there, checks=[by_hand.pk]).content.decode()
    viewer = make_person(site=tag.site, role=Role.VIEWER)
    with pytest.raises(NotAllowed):
        ask_checks(order=order, checks=[by_hand], by=viewer)


def test_a_check_taken_back_without_a_reason_fails_in_the_database(tag: Position, ines: Person, ruth: Person) -> None:
    check = make_return_check(make_started(tag, by=ines), by=ruth)
    with pytest.raises(IntegrityError), transaction.atomic():
        ReturnCheck.objects.filter(pk=check.pk).update(ended_at=timezone.now(), ended_by=ruth)
