"""Pages of work orders: what each role sees and may press, and what comes back when something was wrong."""

from __future__ import annotations

import datetime as dt
import secrets

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assets.models import Event, Person, Position, Role, Site
from maintenance.actions.order_steps import add_step
from maintenance.actions.orders import finish_order, plan_order, start_order
from maintenance.models import WorkOrder
from tests.conftest import Clock
from tests.make import make_area, make_person, make_position, make_site, make_use
from tests.make_locks import make_pump
from tests.make_upkeep import make_order, make_plan, open_item

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
    make_area(site=site)
    return make_position(site=site, tag="P-61", does="moves")


@pytest.fixture
def order(tag: Position, ines: Person) -> WorkOrder:
    return make_order(tag, by=ines)


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def sent(person: Person, name: str, *args: object, key: str = "", **typed: object):
    """Send a form as its page would, with a key of its own."""
    url = reverse(f"maintenance:{name}", args=args)
    return client_of(person).post(url, {"key": key or secrets.token_urlsafe(16), **typed})


def page(person: Person, name: str, *args: object, **asked: object) -> str:
    answer = client_of(person).get(reverse(f"maintenance:{name}", args=args), asked)
    assert answer.status_code == 200
    return answer.content.decode()


def state(order: WorkOrder) -> str:
    return WorkOrder.objects.get(pk=order.pk).state


# --------------------------------------------------------------------------------------------------------------- pages


def test_the_page_shows_where_it_stands_and_the_one_next_thing(order: WorkOrder, ruth: Person, ines: Person) -> None:
    at_the_desk = page(ruth, "order", order.number)
    assert "Next: plan it" in at_the_desk
    assert at_the_desk.count('class="do"') == 1
    assert "Plan the work" not in page(ines, "order", order.number)
    for said in ("P-61", "Drips more than the floor drain takes.", "Ines Calder", "Raised by hand", "No steps"):
        assert said in at_the_desk, said


def test_it_says_what_rests_on_it_and_links_to_what_raised_it(site: Site, ines: Person) -> None:
    position = make_position(site=site, tag="AIT-410")
    make_use(position=position, target=make_position(site=site, tag="P-41", does="moves"), by=ines)
    order = make_order(
        position,
        by=ines,
        origin_label="Calibration of 24 November",
        origin_path="/checks/12/",
        confirmed="not yet confirmed",
    )
    said = page(ines, "order", order.number)
    assert "Paces P-41." in said
    assert '<a class="go" href="/checks/12/">Calibration of 24 November</a>' in said
    assert "Not yet confirmed" in said


def test_the_next_step_is_recorded_on_the_page(order: WorkOrder, ines: Person) -> None:
    start_order(order=order, by=ines)
    add_step(order=order, text="Shut the valve", by=ines)
    add_step(order=order, text="Repack", by=ines)
    assert "Next: Shut the valve" in page(ines, "order", order.number)
    answer = sent(ines, "order-step-done", order.number, 1, note="V-62 shut")
    assert answer.url == order.get_absolute_url()
    said = page(ines, "order", order.number)
    assert "Next: Repack" in said
    assert "V-62 shut" in said
    assert "1 of 2 done" in said


def test_a_step_that_is_signed_elsewhere_leads_there(tag: Position, ruth: Person, ines: Person) -> None:
    item = open_item(make_plan(tag, by=ruth, kind="calibrate", title="Calibrate"))
    sent(ines, "order-new", line=item.pk, title="Calibrate", reason="Due.")
    order = WorkOrder.objects.get()
    start_order(order=order, by=ines)
    assert f'href="{reverse("do", args=[item.pk])}"' in page(ines, "order", order.number)


def test_locks_at_the_tag_are_shown_and_keep_the_order_open(clock: Clock) -> None:
    pump = make_pump()
    order = make_order(pump.position, by=pump.ana)
    start_order(order=order, by=pump.ana)
    pump.begin(order=order)
    pump.prepare()
    pump.lock_points()
    said = page(pump.ana, "order", order.number)
    assert "cannot be recorded as done while its own lockout is open" in said
    assert 'lock <span class="nb">41</span> on <span class="nb">B-2</span>, Ana' in said
    assert "does not prove" in said
    answer = sent(pump.ana, "order-finish", order.number, found="Bearing changed.")
    assert answer.status_code == 422
    assert "still open; close it first" in answer.content.decode()
    assert "Bearing changed." in answer.content.decode()


def test_the_log_tells_refusals_too(order: WorkOrder, ines: Person) -> None:
    start_order(order=order, by=ines)
    add_step(order=order, text="Repack", by=ines)
    sent(ines, "order-finish", order.number, found="Done.")
    said = page(ines, "order", order.number)
    assert "Ines Calder was refused: Not done yet: step 1." in said
    assert "Ines Calder raised it: Drips more" in said


# ---------------------------------------------------------------------------------------------------------------- acts


def test_planned_started_waiting_resumed_done_accepted(order: WorkOrder, ruth: Person, ines: Person) -> None:
    number = order.number
    sent(
        ruth,
        "order-plan",
        number,
        version=0,
        in_charge=ines.pk,
        wanted_by="2026-11-27",
        minutes="90",
        steps="Shut\n\nFit",
    )
    assert state(order) == "planned"
    assert order.steps.count() == 2
    sent(ines, "order-start", number)
    sent(ines, "order-wait", number, waiting_for="seal ring")
    assert state(order) == "waiting"
    sent(ines, "order-resume", number)
    for step in (1, 2):
        sent(ines, "order-step-done", number, step)
    sent(ines, "order-finish", number, found="Repacked.")
    assert state(order) == "done"
    assert "Ines Calder did it." in page(ruth, "order", number)
    sent(ruth, "order-accept", number)
    assert state(order) == "accepted"
    assert "Nothing is left to do." in page(ruth, "order", number)


def test_own_work_is_not_offered_for_acceptance(order: WorkOrder, ruth: Person) -> None:
    start_order(order=order, by=ruth)
    finish_order(order=order, found="Done.", by=ruth)
    assert "another supervisor accepts it" in page(ruth, "order", order.number)
    answer = sent(ruth, "order-accept", order.number)
    assert answer.status_code == 422
    assert "does not accept it" in answer.content.decode()


@pytest.mark.parametrize(
    ("name", "typed", "says"),
    [
        (
            "order-plan",
            {"wanted_by": "27.11.", "minutes": "an hour", "steps": "Shut"},
            "Write the day like 2026-11-25.",
        ),
        ("order-plan", {"minutes": "an hour"}, "Write the time in whole minutes"),
        ("order-plan", {"steps": "x" * 201}, "Line 1 is longer than 200 letters"),
        ("order-wait", {"waiting_for": ""}, "Nothing is written here yet"),
        ("order-withdraw", {"because": ""}, "Nothing is written here yet"),
        ("order-step-new", {"text": ""}, "Nothing is written here yet"),
    ],
)
def test_wrong_input_says_what_is_wrong_and_keeps_what_was_typed(
    order: WorkOrder, ruth: Person, name: str, typed: dict[str, str], says: str
) -> None:
    answer = sent(ruth, name, order.number, **typed)
    said = answer.content.decode()
    assert answer.status_code == 422
    assert says in said
    for text in typed.values():
        assert text in said
    assert state(order) == "raised"


def test_a_form_sent_twice_counts_once(tag: Position, ines: Person) -> None:
    typed = {"position": tag.pk, "title": "Repack", "reason": "Drips."}
    first = sent(ines, "order-new", key="the-same-key", **typed)
    again = sent(ines, "order-new", key="the-same-key", **typed)
    assert first.url == again.url
    assert WorkOrder.objects.count() == 1


def test_an_act_out_of_turn_says_so_and_writes_one_refusal(order: WorkOrder, ines: Person) -> None:
    answer = sent(ines, "order-resume", order.number)
    assert answer.status_code == 422
    assert "The work order is raised; only one that is waiting can be taken up again." in answer.content.decode()
    assert Event.objects.filter(verb="refused").count() == 1
    assert not Event.objects.filter(verb="order.resumed").exists()


def test_raised_by_hand_from_a_tag(tag: Position, ines: Person, clock: Clock) -> None:
    form = page(ines, "order-new", tag=tag.label_code)
    assert f'<option value="{tag.pk}" selected>' in form
    past = sent(ines, "order-new", position=tag.pk, title="Repack", reason="Drips.", wanted_by="2026-11-24")
    assert past.status_code == 422
    assert "24 November 2026 has passed; write today or a later day" in past.content.decode()
    answer = sent(ines, "order-new", position=tag.pk, title="Repack", reason="Drips.", wanted_by="2026-11-30")
    assert answer.url == WorkOrder.objects.get().get_absolute_url()
    assert WorkOrder.objects.get().wanted_by == dt.date(2026, 11, 30)


def test_a_tag_of_another_site_is_no_choice(tag: Position, ines: Person) -> None:
    other = make_position(site=make_site(name="Elsewhere"))
    answer = sent(ines, "order-new", position=other.pk, title="Repack", reason="Drips.")
    assert answer.status_code == 422
    assert "not in use at this site" in answer.content.decode()
    assert client_of(ines).get(reverse("maintenance:order-new"), {"tag": other.label_code}).status_code == 404


def test_raised_for_chosen_due_items(tag: Position, ruth: Person, ines: Person) -> None:
    items = [open_item(make_plan(tag, by=ruth, title=t)) for t in ("Grease", "Look")]
    form = client_of(ines).get(reverse("maintenance:order-new"), {"line": [i.pk for i in items]}).content.decode()
    assert "P-61: Grease" in form and "P-61: Look" in form
    assert not WorkOrder.objects.exists()
    lines = [item.pk for item in items]
    sent(ines, "order-new", line=lines, title="Morning work", reason="Due.")
    assert WorkOrder.objects.get().steps.count() == 2


def test_with_nothing_chosen_in_the_due_list_that_is_said_and_no_empty_form_opened(ines: Person) -> None:
    answer = client_of(ines).get(reverse("maintenance:order-new"), {"from": "due"}, follow=True)
    assert answer.redirect_chain == [(reverse("maintenance:due"), 302)]
    assert "No due item was chosen." in answer.content.decode()


def test_due_items_of_another_site_are_not_there(ines: Person) -> None:
    other = make_site(name="Elsewhere")
    item = open_item(make_plan(make_position(site=other), by=make_person(site=other, role=Role.SUPERVISOR)))
    assert client_of(ines).get(reverse("maintenance:order-new"), {"line": item.pk}).status_code == 404


# ------------------------------------------------------------------------------------------------------ list, queries


def test_the_list_by_state_and_by_person(tag: Position, ruth: Person, ines: Person) -> None:
    first, second = make_order(tag, by=ines), make_order(tag, by=ines)
    plan_order(order=second, in_charge=ruth, wanted_by=dt.date(2026, 11, 24), planned_minutes=None, steps=[], by=ruth)
    everything = page(ruth, "orders")
    assert first.get_absolute_url() in everything and second.get_absolute_url() in everything
    assert "24 November 2026" in everything
    mine = page(ruth, "orders", whose="mine")
    assert first.get_absolute_url() not in mine and second.get_absolute_url() in mine
    assert first.get_absolute_url() not in page(ruth, "orders", state="planned")
    assert client_of(ruth).get(reverse("maintenance:orders"), {"state": "nonsense"}).status_code == 404


def queries_of(person: Person, name: str, *args: object) -> int:
    client = client_of(person)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(reverse(f"maintenance:{name}", args=args)).status_code == 200
    return len(queries)


def test_the_number_of_orders_adds_no_query(tag: Position, ines: Person) -> None:
    taken = []
    for number in (2, 20):
        while WorkOrder.objects.count() < number:
            make_order(tag, by=ines)
        taken.append(queries_of(ines, "orders"))
    assert taken[0] == taken[1]


def test_the_number_of_steps_adds_no_query(order: WorkOrder, ines: Person) -> None:
    taken = []
    for number in (2, 20):
        while order.steps.count() < number:
            add_step(order=order, text="Look", by=ines)
        taken.append(queries_of(ines, "order", order.number))
    assert taken[0] == taken[1]


# --------------------------------------------------------------------------------------------------------------- doors

PRESSED = ["order-start", "order-resume", "order-accept"]
FORMS = ["order-plan", "order-wait", "order-finish", "order-send-back", "order-withdraw", "order-step-new"]
SUPERVISED = ["order-plan", "order-accept", "order-send-back", "order-withdraw"]


@pytest.mark.parametrize("name", PRESSED + FORMS)
def test_every_door_asks_who_and_where(order: WorkOrder, site: Site, ines: Person, name: str) -> None:
    url = reverse(f"maintenance:{name}", args=[order.number])
    assert Client().post(url).status_code == 302
    assert client_of(make_person(site=site, role=Role.VIEWER)).post(url).status_code == 403
    assert client_of(ines).post(url).status_code == (403 if name in SUPERVISED else 422)
    other = make_person(site=make_site(name="Elsewhere"), role=Role.SUPERVISOR)
    assert client_of(other).post(url, {"key": "k"}).status_code == 404
    assert client_of(ines).delete(url).status_code == 405
    if name in PRESSED:
        assert client_of(ines).get(url).status_code == 405
    assert state(order) == "raised"


def test_the_page_of_another_sites_order_is_not_there(order: WorkOrder) -> None:
    other = make_person(site=make_site(name="Elsewhere"), role=Role.SUPERVISOR)
    url = reverse("maintenance:order", args=[order.number])
    assert client_of(other).get(url).status_code == 404
    assert Client().get(url).status_code == 302
    assert client_of(other).post(url).status_code == 405
