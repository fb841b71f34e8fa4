"""Kinds of work, how it failed, steps that read a value, locks of other work, checks before acceptance.

The kinds are those of EN 13306, the words of a failure those of ISO 14224 (annex B, from memory in part). Which kind a
failed check begins with is own judgement.
"""

from __future__ import annotations

import datetime as dt
import secrets

import pytest
from django.db import IntegrityError, connection, transaction
from django.http import HttpResponse
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from assets.actions.fittings import exchange_asset
from assets.compute.workbook import rows_in
from assets.errors import Refusal
from assets.models import Person, Position, Reading, Role, Site
from maintenance.actions.order_failures import FailureTyped, correct_failure
from maintenance.actions.order_steps import NewStep, add_step, finish_step
from maintenance.actions.orders import accept_order, ask_for_work, finish_order, plan_order, start_order
from maintenance.compute.failures import CAUSES, DETECTIONS, MECHANISMS, MODES, NOT_KNOWN, modes_for
from maintenance.compute.orders import usual_type
from maintenance.models import Failure, OrderType, WorkOrder
from maintenance.reads.failures import failure_panel
from maintenance.reads.order_checks import owed_checks
from maintenance.reads.reliability import reliability_of
from tests.assets.signed_in import browser_of
from tests.conftest import Clock
from tests.make import make_area, make_asset, make_fitting, make_person, make_position, make_site
from tests.make_checks import FAILING, Bench
from tests.make_locks import make_pump
from tests.make_orders import make_started
from tests.make_upkeep import make_done, make_order, make_override, make_plan, open_item

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
    return make_position(site=site, tag="AIT-410")


def sent(person: Person, name: str, *args: object, **typed: object) -> HttpResponse:
    url = reverse(f"maintenance:{name}", args=args)
    return browser_of(person).post(url, {"key": secrets.token_urlsafe(16), **typed})


def page(person: Person, name: str, *args: object, **asked: object) -> str:
    answer = browser_of(person).get(reverse(f"maintenance:{name}", args=args), asked)
    assert answer.status_code == 200
    return answer.content.decode()


# --------------------------------------------------------------------------------------------------------------- kinds


def test_the_kind_follows_from_what_raised_it() -> None:
    assert usual_type(origin_key="check-12-order", has_plan=True, matters_for="safety") == OrderType.IMMEDIATE
    assert usual_type(origin_key="check-12-order", has_plan=True, matters_for="other") == OrderType.DEFERRED
    assert usual_type(origin_key=None, has_plan=True, matters_for="safety") == OrderType.PREVENTIVE
    assert usual_type(origin_key=None, has_plan=False, matters_for="safety") == ""


def test_a_failed_check_raises_corrective_work(clock: Clock) -> None:
    bench = Bench()
    bench.check(FAILING)
    order = WorkOrder.objects.get()
    # pH of treated water is for compliance, so it is immediate until a person says otherwise.
    assert (order.type, order.plan) == (OrderType.IMMEDIATE, bench.plan)


def test_a_person_chooses_the_kind_when_raising_and_again_when_planning(
    tag: Position, ines: Person, ruth: Person
) -> None:
    sent(ines, "order-new", position=tag.pk, title="New cable", reason="Old one is hard.", type="improvement")
    order = WorkOrder.objects.get()
    assert order.type == OrderType.IMPROVEMENT
    sent(ruth, "order-plan", order.number, version=0, in_charge=ines.pk, type="corrective deferred")
    order.refresh_from_db()
    assert order.type == OrderType.DEFERRED
    assert "Corrective, deferred" in page(ines, "order", order.number)
    answer = sent(ines, "order-new", position=tag.pk, title="New", reason="Old.", type="urgent")
    assert answer.status_code == 422
    with pytest.raises(IntegrityError), transaction.atomic():
        WorkOrder.objects.filter(pk=order.pk).update(type="urgent")


def test_the_list_is_filtered_by_kind_and_tag_and_goes_out_as_files(tag: Position, ines: Person, site: Site) -> None:
    make_order(tag, by=ines, type=OrderType.PREVENTIVE)
    make_order(tag, by=ines, type=OrderType.IMMEDIATE)
    other = make_position(site=site, tag="P-9", does="moves")
    make_order(other, by=ines, type=OrderType.IMMEDIATE)
    said = page(ines, "orders", type="corrective-immediate", tag=other.label_code)
    assert ">No. 3<" in said.replace("\n", "")
    assert "No. 2" not in said
    assert "No. 1" not in said
    rows = rows_in(browser_of(ines).get(reverse("maintenance:orders-xlsx"), {"type": "preventive"}).content)
    assert [row[0] for row in rows] == ["number", "1"]
    csv = browser_of(ines).get(reverse("maintenance:orders-csv"), {"tag": tag.label_code}).content.decode()
    assert [line.split(",")[0] for line in csv.splitlines()] == ["number", "2", "1"]
    assert browser_of(ines).get(reverse("maintenance:orders"), {"type": "urgent"}).status_code == 404


def test_neither_locks_nor_kinds_add_a_query_to_the_list(clock: Clock) -> None:
    pump = make_pump()
    pump.make_verified()
    taken = []
    for number in (2, 30):
        while WorkOrder.objects.count() < number:
            make_order(pump.position, by=pump.ana)
        with CaptureQueriesContext(connection) as queries:
            said = page(pump.ana, "orders")
        taken.append(len(queries))
        assert said.count("Blocked: locked for other work") == number
    assert taken[0] == taken[1]


def test_a_viewer_asks_for_work_and_a_supervisor_plans_it(tag: Position, site: Site, ruth: Person) -> None:
    viewer = make_person(site=site, role=Role.VIEWER, name="Ada Moss")
    answer = sent(viewer, "order-ask", position=tag.pk, title="Lamp is out", reason="Seen on the way in.")
    order = WorkOrder.objects.get()
    assert answer.url == order.get_absolute_url()
    assert (order.state, order.raised_by, order.type) == ("raised", viewer, "")
    assert "Asked for by Ada Moss" in page(ruth, "order", order.number)
    assert "Ada Moss asked for it: Seen on the way in." in page(ruth, "order", order.number)
    with pytest.raises(Refusal):
        ask_for_work(
            site=site, position=make_position(site=make_site(name="Elsewhere")), title="x", reason="y", by=ruth
        )


# ------------------------------------------------------------------------------------------------------- how it failed


def test_every_list_of_a_failure_has_not_known_and_fits_a_phone() -> None:
    for words in (MECHANISMS, CAUSES, DETECTIONS, modes_for(measures=True), modes_for(measures=False)):
        assert list(words)[-1] == NOT_KNOWN
        assert len(words) <= 13
    assert set(modes_for(measures=True)) | set(modes_for(measures=False)) == set(MODES)


def test_corrective_work_ends_with_four_taps_and_other_work_without(tag: Position, ines: Person) -> None:
    order = make_started(tag, by=ines, kind=OrderType.DEFERRED)
    answer = sent(ines, "order-finish", order.number, found="Glass slow.", shows="drifts")
    assert answer.status_code == 422
    assert answer.content.decode().count("“not known” is an answer too") >= 3
    assert "Glass slow." in answer.content.decode()
    taps = {"shows": "drifts", "mechanism": "material", "cause": "not known", "detected": "functional test"}
    sent(ines, "order-finish", order.number, found="Glass slow.", **taps)
    said = page(ines, "order", order.number)
    assert "Drifts. Mechanism: material: worn or broken. Cause: not known." in said
    plain = make_started(tag, by=ines, kind=OrderType.PREVENTIVE)
    sent(ines, "order-finish", plain.number, found="Wiped.")
    assert not Failure.objects.filter(order=plain).exists()


def test_what_is_known_better_is_a_newer_row_that_names_the_older(tag: Position, ines: Person) -> None:
    order = make_started(tag, by=ines, kind=OrderType.IMMEDIATE)
    finish_order(order=order, found="Dead.", by=ines)
    first = Failure.objects.get()
    assert {first.shows, first.mechanism, first.cause, first.detected} == {NOT_KNOWN}
    correct_failure(order=order, failure=FailureTyped(shows="no output", mechanism="electrical"), by=ines)
    newest = Failure.objects.get(replaced_by=None)
    assert (newest.replaces, newest.shows) == (first, "no output")
    with pytest.raises(Refusal, match="not known"):
        correct_failure(order=order, failure=FailureTyped(cause="gremlins"), by=ines)
    with pytest.raises(IntegrityError), transaction.atomic():
        Failure.objects.filter(pk=first.pk).update(cause="design")


def test_review_counts_the_newest_word_of_each_failure_of_twelve_months(
    clock: Clock, tag: Position, ines: Person, site: Site
) -> None:
    for mechanism in ("material", "material", "electrical"):
        order = make_started(tag, by=ines, kind=OrderType.DEFERRED)
        finish_order(order=order, found="x", failure=FailureTyped(mechanism=mechanism, shows="drifts"), by=ines)
    correct_failure(order=order, failure=FailureTyped(mechanism="instrument", shows="drifts"), by=ines)
    today = clock().astimezone(site.zone).date()
    panel = failure_panel(site, today)
    assert [(one.word, one.n) for one in panel.by_mechanism] == [("Material", 2), ("Instrument", 1)]
    assert [(one.word, one.n, one.shows) for one in panel.by_tag] == [("AIT-410", 3, "drifts 3")]
    assert failure_panel(site, today + dt.timedelta(days=366)).n == 0
    review = browser_of(ines).get(reverse("review")).content.decode()
    assert "n = 3" in review


def test_only_corrective_work_is_a_failure_where_a_kind_is_written(
    clock: Clock, tag: Position, ines: Person, ruth: Person
) -> None:
    make_fitting(position=tag, asset=make_asset(site=tag.site), by=ines)
    for kind in ("", *OrderType.values):
        clock.forward(days=10)
        make_order(tag, by=ines, type=kind)
    clock.forward(days=10)
    make_order(tag, by=ines, plan=make_plan(tag, by=ruth), type=OrderType.DEFERRED)
    clock.forward(days=10)
    found = reliability_of(tag, clock().astimezone(tag.site.zone).date())
    # Nothing written and no routine; immediate; deferred; deferred found at a routine's turn.
    assert len(found.failures) == 4


# ---------------------------------------------------------------------------------------------------------------- steps

PRESSURE = NewStep("Read the pressure", None, "discharge pressure", "bar", "2", "4")


def test_a_step_asks_for_a_value_and_keeps_it_as_a_reading_of_the_tag(tag: Position, ines: Person) -> None:
    order = make_started(tag, by=ines)
    add_step(order=order, text="", asks=PRESSURE, by=ines)
    said = page(ines, "order", order.number)
    assert "Discharge pressure" in said
    assert "2 to 4 bar" in said
    assert sent(ines, "order-step-done", order.number, 1).status_code == 422
    sent(ines, "order-step-done", order.number, 1, entered="4.0", note="steady")
    row = Reading.objects.get(position=tag)
    assert (row.what, row.entered, row.unit, row.source) == (
        "discharge pressure",
        "4.0",
        "bar",
        f"Work order {order.number}, step 1",
    )
    assert order.steps.get().reading == row
    assert "4.0 bar" in page(ines, "order", order.number)


@pytest.mark.parametrize(("entered", "side"), [("4.001", "above 4 bar"), ("1.999", "below 2 bar")])
def test_a_value_outside_is_asked_about_at_once(tag: Position, ines: Person, entered: str, side: str) -> None:
    order = make_started(tag, by=ines)
    add_step(order=order, text="", asks=PRESSURE, by=ines)
    answer = sent(ines, "order-step-done", order.number, 1, entered=entered)
    said = answer.content.decode()
    assert answer.status_code == 422
    assert side in said
    assert f'value="{entered}"' in said
    assert 'name="answer"' in said
    sent(ines, "order-step-done", order.number, 1, entered=entered, answer="throttled V-62")
    assert order.steps.get().answer == "throttled V-62"
    assert "Outside its limits: throttled V-62" in page(ines, "order", order.number)


def test_at_its_limits_a_value_is_inside(tag: Position, ines: Person) -> None:
    order = make_started(tag, by=ines)
    for number, entered in enumerate(("2", "4", "2,0"), 1):
        step = add_step(order=order, text="", asks=PRESSURE, by=ines)
        finish_step(step=step, note="", entered=entered, by=ines)
        assert order.steps.get(number=number).answer == ""


@pytest.mark.parametrize(
    ("step", "says"),
    [
        (NewStep("Read", None, "pressure", "barg", "", ""), "is not a unit"),
        (NewStep("Read", None, "", "bar", "", ""), "Write what is read"),
        (NewStep("Read", None, "pressure", "bar", "4", "2"), "is above the highest"),
        (NewStep("Read", None, "pH", "bar", "", ""), "measures something else"),
        (NewStep("", None, "pressure", "bar", "", ""), "write what is to be done"),
    ],
)
def test_a_step_that_cannot_be_read_is_refused(tag: Position, ines: Person, step: NewStep, says: str) -> None:
    with pytest.raises(Refusal, match=says):
        add_step(order=make_order(tag, by=ines), text="", asks=step, by=ines)


# --------------------------------------------------------------------------------------------------- what keeps it open


def test_locks_of_other_work_block_the_end_and_the_page_says_so(clock: Clock) -> None:
    pump = make_pump()
    order = make_started(pump.position, by=pump.ana)
    pump.begin()
    pump.prepare()
    pump.lock_points()
    with pytest.raises(Refusal, match=r"P-2 is locked for other work: lock 41 on B-2, Ana"):
        finish_order(order=order, found="Painted.", by=pump.ana)
    said = page(pump.ana, "order", order.number)
    assert "Blocked" in said
    assert "of other work" in said
    assert "Record the work as done</a>" not in said
    assert sent(pump.ana, "order-finish", order.number, found="Painted.").status_code == 422


def test_it_is_not_accepted_while_a_forced_value_stands(tag: Position, ines: Person, ruth: Person) -> None:
    make_override(tag, by=ines)
    order = make_started(tag, by=ines)
    finish_order(order=order, found="Probe cleaned.", by=ines)
    said = page(ruth, "order", order.number)
    assert "It is accepted when nothing keeps it open any more: forced value 1" in said
    assert "Accept the work" not in said
    answer = sent(ruth, "order-accept", order.number)
    assert answer.status_code == 422
    assert "stands at AIT-410" in answer.content.decode()
    assert WorkOrder.objects.get().state == "done"


def test_corrective_work_is_not_accepted_before_what_the_new_probe_owes_before_use(
    clock: Clock, tag: Position, ines: Person, ruth: Person, site: Site
) -> None:
    plan = make_plan(tag, by=ruth, kind="inspect", title="Look at the new probe", follows="asset")
    make_fitting(position=tag, asset=make_asset(site=site), by=ines)
    make_done(plan, timezone.now(), by=ines)
    clock.forward(days=1)
    order = make_started(tag, by=ines, kind=OrderType.DEFERRED)
    exchange_asset(position=tag, asset=make_asset(site=site), by=ines)
    clock.forward(minutes=5)
    finish_order(order=order, found="Probe replaced.", by=ines)
    assert [check.why for check in owed_checks(order)] == ["before use"]
    said = page(ruth, "order", order.number)
    assert "Look at the new probe" in said
    assert "Accept the work" not in said
    with pytest.raises(Refusal, match="Look at the new probe is owed at AIT-410 before use"):
        accept_order(order=order, by=ruth)
    make_done(plan, timezone.now(), by=ines)
    accept_order(order=order, by=ruth)


def test_work_that_is_no_repair_does_not_wait_for_what_is_owed_before_use(
    clock: Clock, tag: Position, ines: Person, ruth: Person, site: Site
) -> None:
    plan = make_plan(tag, by=ruth, kind="inspect", title="Look at the new probe", follows="asset")
    make_fitting(position=tag, asset=make_asset(site=site), by=ines)
    make_done(plan, timezone.now(), by=ines)
    clock.forward(days=1)
    exchange_asset(position=tag, asset=make_asset(site=site), by=ines)
    assert open_item(plan).why == "before use"
    order = make_started(tag, by=ines, kind=OrderType.PREVENTIVE)
    finish_order(order=order, found="Bracket painted.", by=ines)
    assert accept_order(order=order, by=ruth).state == "accepted"


def test_checks_that_the_plan_names_are_recorded_before_acceptance(
    clock: Clock, tag: Position, ines: Person, ruth: Person
) -> None:
    plan = make_plan(tag, by=ruth, kind="verify", title="Compare with a grab")
    make_done(plan, timezone.now() - dt.timedelta(hours=1), by=ines)
    order = make_order(tag, by=ines, type=OrderType.IMPROVEMENT)
    sent(ruth, "order-plan", order.number, version=0, in_charge=ines.pk, type="improvement", checks=[plan.pk])
    order.refresh_from_db()
    start_order(order=order, by=ines)
    finish_order(order=order, found="New cable.", by=ines)
    with pytest.raises(Refusal, match="Compare with a grab is owed at AIT-410 before this work is accepted"):
        accept_order(order=order, by=ruth)
    clock.forward(minutes=30)
    make_done(plan, timezone.now(), by=ines, because="not valid")
    assert owed_checks(order)
    make_done(plan, timezone.now(), by=ines)
    assert not owed_checks(order)
    assert accept_order(order=order, by=ruth).state == "accepted"


def test_a_routine_of_another_site_is_no_check(tag: Position, ines: Person, ruth: Person) -> None:
    other = make_plan(make_position(site=make_site(name="Elsewhere")), kind="verify")
    with pytest.raises(Refusal, match="no routine in force at this site"):
        plan_order(
            order=make_order(tag, by=ines),
            in_charge=ines,
            wanted_by=None,
            planned_minutes=None,
            steps=[],
            checks=[other],
            by=ruth,
        )
