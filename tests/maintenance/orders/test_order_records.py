"""Time, costs, photographs and files of work orders, and templates for a kind of machine."""

from __future__ import annotations

import hashlib
import secrets
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection, transaction
from django.http import HttpResponse
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assets.actions.files import read_file
from assets.errors import NotAllowed, Refusal, Stale
from assets.history import act
from assets.models import Event, KeptFile, Person, Position, Role, Site
from maintenance.actions.labour import TimeTyped, correct_labour, write_cost, write_labour
from maintenance.actions.order_ends import ask_for_checks
from maintenance.actions.order_files import add_order_files
from maintenance.actions.order_parts import use_part
from maintenance.actions.order_steps import NewStep
from maintenance.actions.order_templates import (
    add_template_part,
    add_template_step,
    end_template_step,
    raise_from_template,
    retire_template,
)
from maintenance.actions.orders import accept_order, finish_order
from maintenance.models import Labour, OrderFile, WorkOrder
from tests.assets.signed_in import browser_of
from tests.conftest import Clock
from tests.make import make_area, make_asset, make_fitting, make_person, make_position, make_site, picture
from tests.make_orders import make_part, make_started, make_template
from tests.make_upkeep import make_order, make_plan

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
def pump(site: Site, ines: Person) -> Position:
    make_area(site=site)
    position = make_position(site=site, tag="P-61", does="moves")
    make_fitting(position=position, asset=make_asset(site=site, kind="Lift pump"), by=ines)
    return position


@pytest.fixture
def order(pump: Position, ines: Person, ruth: Person) -> WorkOrder:
    return make_started(pump, by=ines, planner=ruth)


def sent(who: Person, name: str, *args: object, key: str = "", **typed: Any) -> HttpResponse:
    url = reverse(f"maintenance:{name}", args=args)
    return browser_of(who).post(url, {"key": key or secrets.token_urlsafe(16), **typed})


def page(person: Person, name: str, *args: object, **asked: object) -> str:
    answer = browser_of(person).get(reverse(f"maintenance:{name}", args=args), asked)
    assert answer.status_code == 200
    return answer.content.decode()


# ----------------------------------------------------------------------------------------------------------------- time


def test_everybody_writes_their_own_time_and_a_supervisor_that_of_others(
    order: WorkOrder, ines: Person, ruth: Person
) -> None:
    sent(ines, "order-labour", order.number, minutes="45", what="packing out")
    # An operator's form has no name in it: a name sent along changes nothing.
    sent(ines, "order-labour", order.number, minutes="5", person=ruth.pk)
    sent(ruth, "order-labour", order.number, person=ines.pk, from_at="2026-11-25 06:00", to_at="2026-11-25 06:20")
    assert list(Labour.objects.values_list("person__name", "minutes")) == [("Ines Calder", n) for n in (45, 5, 20)]
    with pytest.raises(NotAllowed):
        write_labour(order=order, person=ruth, time=TimeTyped(minutes=5), by=ines)
    said = page(ines, "order", order.number)
    assert "<b>1:10</b> of 1:00 planned" in said
    assert "06:00 to 06:20" in said


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({}, "one of the two"),
        ({"minutes": "10", "from_at": "2026-11-25 06:00"}, "one of the two"),
        ({"from_at": "2026-11-25 06:00"}, "Write both"),
        ({"from_at": "2026-11-25 06:00", "to_at": "2026-11-25 05:00"}, "not after the beginning"),
        ({"minutes": "0"}, "at least one minute"),
        ({"minutes": "half"}, "whole number"),
    ],
)
def test_time_that_is_none_is_asked_about(order: WorkOrder, ines: Person, typed: dict[str, str], says: str) -> None:
    answer = sent(ines, "order-labour", order.number, **typed)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not Labour.objects.exists()


def test_time_is_corrected_by_a_newer_row_and_nothing_is_written_on_accepted_work(
    order: WorkOrder, ines: Person, ruth: Person
) -> None:
    row = write_labour(order=order, person=ines, time=TimeTyped(minutes=600), by=ines)
    sent(ines, "order-labour-correct", order.number, row.pk, minutes="60")
    with pytest.raises(Refusal, match="corrected already"):
        correct_labour(labour=row, time=TimeTyped(minutes=50), by=ines)
    assert "<b>1:00</b>" in page(ines, "order", order.number)
    with pytest.raises(IntegrityError), transaction.atomic():
        Labour.objects.filter(pk=row.pk).update(minutes=60)
    finish_order(order=order, found="Done.", by=ines)
    accept_order(order=order, by=ruth)
    with pytest.raises(Refusal, match="is accepted"):
        write_labour(order=order, person=ines, time=TimeTyped(minutes=5), by=ines)


# ----------------------------------------------------------------------------------------------------------------- cost


def test_the_cost_states_its_parts(order: WorkOrder, site: Site, ines: Person, ruth: Person) -> None:
    priced = make_part(site=site, by=ruth, name="Packing", unit="m", stock="5", price="12.50")
    bare = make_part(site=site, by=ruth, name="Grease", stock="3")
    sent(ines, "order-part", order.number, part=priced.pk, amount="1.5", way="use")
    sent(ines, "order-part", order.number, part=bare.pk, amount="1", way="use")
    sent(ruth, "order-cost", order.number, amount="120", what="Crane")
    wrong = order.costs.get()
    sent(ruth, "order-cost-correct", order.number, wrong.pk, amount="240.25", what="Crane, two hours")
    said = page(ruth, "order", order.number)
    # 1.5 m at 12.50 are 18.75; with 240.25 for the crane 259.00.
    for words in ("18.75", "without Grease: no price is written", "Crane, two hours", "<b>259.00</b>"):
        assert words in said, words
    assert sent(ruth, "order-cost", order.number, amount="a lot", what="").status_code == 422
    with pytest.raises(NotAllowed):
        write_cost(order=order, amount="1", what="x", by=ines)


# ---------------------------------------------------------------------------------------------------------------- files


@pytest.fixture
def kept_here(settings: Any, tmp_path: Path) -> Path:
    settings.DATA = tmp_path
    return tmp_path


def upload(name: str, data: bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data)


def test_several_files_are_kept_byte_for_byte_in_one_act(order: WorkOrder, ines: Person, kept_here: Path) -> None:
    shot, note = picture(), b"Grooved where the packing sat.\r\n"
    attached = [upload("groove.png", shot), upload("note.txt", note)]
    sent(ines, "order-files", order.number, attached=attached, words="The sleeve")
    files = list(KeptFile.objects.order_by("pk"))
    assert [file.sha256 for file in files] == [hashlib.sha256(data).hexdigest() for data in (shot, note)]
    assert Event.objects.about(order).filter(verb="order.files_added").count() == 1
    assert files[0].sha256 in Event.objects.about(order).filter(verb="order.files_added").get().body
    browser = browser_of(ines)
    assert browser.get(files[0].get_absolute_url()).content == shot
    said = page(ines, "order", order.number)
    assert reverse("assets:file-shown", args=[files[0].pk]) in said
    assert reverse("assets:file-shown", args=[files[1].pk]) not in said
    shown = browser.get(reverse("assets:file-shown", args=[files[0].pk]))
    assert shown["Content-Type"] == "image/jpeg"
    assert shown.content != shot


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ([], "Choose at least one photograph or file."),
        ([("pump.exe", b"MZ\x00\x90")], "This is no JPEG, PNG or WebP picture, PDF, text or XLSX."),
        ([("broken.png", b"\x89PNG\r\n\x1a\n" + b"\x00" * 20)], "picture"),
        ([(f"{n}.txt", b"x") for n in range(7)], "7 files were chosen; at most 6 go at once"),
    ],
)
def test_what_is_not_kept_says_why_and_keeps_none_of_them(
    order: WorkOrder, ines: Person, kept_here: Path, files: list[tuple[str, bytes]], says: str
) -> None:
    attached = [upload(name, data) for name, data in files]
    answer = sent(ines, "order-files", order.number, attached=attached, words="The sleeve")
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert "The sleeve" in answer.content.decode()
    assert not OrderFile.objects.exists()


def test_a_file_that_is_too_large_is_refused_with_its_size(
    order: WorkOrder, ines: Person, kept_here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("maintenance.forms.order_files.LARGEST", 10)
    answer = sent(ines, "order-files", order.number, attached=[upload("long.txt", b"x" * 11)])
    assert answer.status_code == 422
    assert "long.txt has 0 MB; at most 20 MB are kept." in answer.content.decode()


def test_other_files_from_a_page_that_came_back_are_another_act(
    order: WorkOrder, ines: Person, kept_here: Path
) -> None:
    for data in (b"first", b"first", b"second"):
        sent(ines, "order-files", order.number, key="same", attached=[upload("note.txt", data)])
    assert OrderFile.objects.count() == 2


# ------------------------------------------------------------------------------------------------------------ templates


def test_an_order_from_a_template_gets_its_steps_readings_and_parts(
    site: Site, pump: Position, ines: Person, ruth: Person
) -> None:
    template = make_template(site=site, by=ruth, machine="lift pump", steps=("Shut the valve", "Drain the oil"))
    add_template_step(
        template=template, step=NewStep("Read the vibration", None, "vibration", "mm", "", "0.5"), by=ruth
    )
    end_template_step(step=template.steps.get(number=2), by=ruth)
    oil = make_part(site=site, by=ruth, name="Oil", unit="L")
    add_template_part(template=template, part=oil, amount="2.5", by=ruth)
    assert template.title in page(ines, "order-new", tag=pump.label_code)
    other = make_position(site=site, tag="P-9", does="moves")
    assert template.title not in page(ines, "order-new", tag=other.label_code)
    url = f"{reverse('maintenance:order-new')}?tag={pump.label_code}&template={template.pk}"
    browser = browser_of(ines)
    assert "Read the vibration" in browser.get(url).content.decode()
    browser.post(url, {"key": "k", "position": pump.pk, "title": template.title, "reason": "Year is over."})
    order = WorkOrder.objects.get()
    assert (order.type, order.origin_path) == ("preventive", template.get_absolute_url())
    assert [(step.text, step.quantity, step.high) for step in order.steps.all()] == [
        ("Shut the valve", "", ""),
        ("Read the vibration", "vibration", "0.5"),
    ]
    assert order.needed.get().thousandths == 2500
    assert "2.5" in page(ines, "order", order.number)


def test_a_template_is_kept_through_its_pages_by_supervisors(site: Site, pump: Position, ruth: Person) -> None:
    answer = sent(
        ruth,
        "order-template-new",
        machine="Lift pump",
        title="Yearly look",
        type="preventive",
        minutes="90",
        steps="Shut\nOpen",
    )
    pk = int(answer.url.rstrip("/").rsplit("/", 1)[-1])
    sent(ruth, "order-template-step", pk, text="Read", quantity="pressure", unit="bar", low="2", high="4")
    wrong = sent(ruth, "order-template-step", pk, text="Read", quantity="pressure", unit="barg")
    assert wrong.status_code == 422
    assert "is not a unit" in wrong.content.decode()
    said = page(ruth, "order-template", pk)
    assert "Asks for pressure, 2 to 4 bar" in said
    assert "1:30" in page(ruth, "order-templates")
    twice = sent(ruth, "order-template-new", machine="Lift pump", title="yearly look", type="preventive")
    assert "of this title for this kind of machine already" in twice.content.decode()


def test_a_retired_template_raises_nothing_and_a_line_is_taken_out_once(
    site: Site, pump: Position, ruth: Person
) -> None:
    template = make_template(site=site, by=ruth)
    step = template.steps.get()
    end_template_step(step=step, by=ruth)
    step.refresh_from_db()
    with pytest.raises(Stale):
        end_template_step(step=template.steps.get(), by=ruth)
    retire_template(template=template, because="the pump is gone", by=ruth)
    with pytest.raises(Refusal, match="is retired"):
        raise_from_template(template=template, position=pump, title="x", reason="y", wanted_by=None, by=ruth)
    assert not WorkOrder.objects.exists()


# ----------------------------------------------------------------------------------------------------------------- flat


def test_however_much_is_written_on_an_order_its_page_and_the_files_ask_the_same(
    order: WorkOrder, pump: Position, site: Site, ines: Person, ruth: Person, kept_here: Path
) -> None:
    browser, taken = browser_of(ruth), []
    for number in (2, 12):
        while order.labour.count() < number:
            part = make_part(site=site, by=ruth, stock="2", price="1")
            use_part(order=order, part=part, amount="1", by=ines)
            write_labour(order=order, person=ines, time=TimeTyped(minutes=5), by=ines)
            write_cost(order=order, amount="3", what="Courier", by=ruth)
            file = read_file(data=f"note {order.labour.count()}".encode(), name="note.txt")
            add_order_files(order=order, files=[file], words="", by=ines)
            with act(site=site, by=ruth) as made:
                ask_for_checks(made, order, [make_plan(pump, by=ruth, kind="verify", title=f"Compare {number}")])
                made.write("order.planned", subject=order, facts={"in_charge": ines.name})
            make_order(pump, by=ines)
        for name, args in (("order", [order.number]), ("orders-csv", []), ("orders-xlsx", [])):
            with CaptureQueriesContext(connection) as queries:
                assert browser.get(reverse(f"maintenance:{name}", args=args)).status_code == 200
            taken.append(len(queries))
    assert taken[:3] == taken[3:]
