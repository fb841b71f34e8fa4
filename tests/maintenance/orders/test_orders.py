"""Work orders: one way from raised to accepted, each act once, by whom it may be done.

That nobody accepts their own work, and that a failure is confirmed by a second standard before parts are ordered, is
common practice, no source.
"""

from __future__ import annotations

import datetime as dt

import pytest

from assets.errors import NotAllowed, Refusal, Stale
from assets.models import Event, Person, Position, Role, Site
from maintenance.actions.order_steps import add_step, finish_step
from maintenance.actions.orders import (
    accept_order,
    confirm_order,
    finish_order,
    plan_order,
    resume_order,
    send_back_order,
    start_order,
    wait_order,
    withdraw_order,
    withdraw_unconfirmed,
)
from maintenance.actions.orders_from_due import raise_for_due_items
from maintenance.compute.orders import TRANSITIONS, NotNow, OrderAct, acts_from, next_state
from maintenance.models import OrderState, Performance, WorkOrder
from tests.conftest import Clock
from tests.make import make_area, make_asset, make_person, make_position, make_site
from tests.make_locks import make_pump
from tests.make_upkeep import make_order, make_plan, open_item

pytestmark = pytest.mark.django_db
KEY = "check-12"


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
    return make_position(site=site)


@pytest.fixture
def order(tag: Position, ines: Person) -> WorkOrder:
    return make_order(tag, by=ines)


def planned(order: WorkOrder, ruth: Person, in_charge: Person, steps: list[str] | None = None) -> WorkOrder:
    return plan_order(
        order=order,
        in_charge=in_charge,
        wanted_by=dt.date(2026, 11, 27),
        planned_minutes=90,
        steps=steps or [],
        by=ruth,
    )


# ------------------------------------------------------------------------------------------------ the table of states


def test_the_table_leads_from_raised_to_accepted_and_nowhere_from_an_end() -> None:
    state = "raised"
    for act in (OrderAct.PLAN, OrderAct.START, OrderAct.WAIT, OrderAct.RESUME, OrderAct.FINISH, OrderAct.ACCEPT):
        state = next_state(state, act)
    assert state == "accepted"
    assert acts_from("accepted") == acts_from("withdrawn") == ()
    assert {t.ends for t in TRANSITIONS.values()} | {"raised"} == set(OrderState.values)


@pytest.mark.parametrize("act", list(OrderAct))
@pytest.mark.parametrize("state", OrderState.values)
def test_every_act_leads_on_or_says_from_where_it_would(state: str, act: OrderAct) -> None:
    if act in acts_from(state):
        assert next_state(state, act) != state or act is OrderAct.PLAN
    else:
        with pytest.raises(NotNow, match=f"is {state}; only one that is"):
            next_state(state, act)


# ------------------------------------------------------------------------------------------------------------- raised


def test_one_record_raises_one_order_however_often_it_is_sent(tag: Position, ines: Person) -> None:
    first = make_order(tag, by=ines, origin_key=KEY)
    assert make_order(tag, by=ines, origin_key=KEY) == first
    assert WorkOrder.objects.count() == 1
    assert Event.objects.filter(verb="order.raised").count() == 1


def test_one_open_order_a_tag_and_routine(tag: Position, ruth: Person, ines: Person) -> None:
    plan = make_plan(tag, by=ruth)
    first = make_order(tag, by=ines, plan=plan, origin_key="check-1")
    again = make_order(tag, by=ines, plan=plan, origin_key="check-2")
    assert again == first
    assert Event.objects.filter(verb="order.asked_again").count() == 1
    withdraw_order(order=first, because="Raised for the wrong pump.", by=ruth)
    assert make_order(tag, by=ines, plan=plan, origin_key="check-3") != first


def test_numbers_follow_one_another_at_each_site(tag: Position, ines: Person) -> None:
    assert [make_order(tag, by=ines).number for _ in range(3)] == [1, 2, 3]
    other = make_site(name="Elsewhere")
    there = make_order(make_position(site=other), by=make_person(site=other))
    assert there.number == 1


@pytest.mark.parametrize("missing", ["title", "reason"])
def test_it_says_what_and_why(tag: Position, ines: Person, missing: str) -> None:
    from maintenance.actions.orders import raise_work_order

    said = {"title": "Replace", "reason": "Drips", missing: "  "}
    with pytest.raises(Refusal) as refused:
        raise_work_order(site=tag.site, position=tag, by=ines, **said)
    assert [reason.field for reason in refused.value.reasons] == [missing]


def test_a_second_record_confirms_or_withdraws(tag: Position, ines: Person) -> None:
    failed = make_order(tag, by=ines, confirmed="not yet confirmed", origin_key="check-1")
    confirm_order(order=failed, because="Lot 2611-B fails too.", by=ines)
    assert failed.confirmed == "confirmed"
    good = make_order(tag, by=ines, confirmed="not yet confirmed", origin_key="check-2")
    withdraw_unconfirmed(order=good, because="Good with lot 2611-B.", by=ines)
    assert (good.state, good.withdrawn_because) == ("withdrawn", "Good with lot 2611-B.")


def test_work_that_has_begun_is_not_withdrawn_by_a_good_record(tag: Position, ines: Person) -> None:
    order = make_order(tag, by=ines, confirmed="not yet confirmed")
    start_order(order=order, by=ines)
    withdraw_unconfirmed(order=order, because="Good with lot 2611-B.", by=ines)
    order.refresh_from_db()
    assert order.state == "under way"
    assert Event.objects.filter(verb="order.doubted").count() == 1


# ------------------------------------------------------------------------------------------------------- carried out


def test_the_whole_way_leaves_one_event_an_act(order: WorkOrder, ruth: Person, ines: Person) -> None:
    planned(order, ruth, ines, ["Shut the valve", "", "Fit the probe"])
    start_order(order=order, by=ines)
    wait_order(order=order, waiting_for="seal ring", by=ines)
    resume_order(order=order, by=ines)
    add_step(order=order, text="Flush", by=ines)
    for step in order.steps.all():
        finish_step(step=step, note="", by=ines)
    finish_order(order=order, found="Coated glass; probe replaced.", by=ines)
    accept_order(order=order, by=ruth)
    verbs = list(Event.objects.about(order).order_by("id").values_list("verb", flat=True))
    assert verbs == [
        "order.raised",
        "order.planned",
        "order.started",
        "order.waiting",
        "order.resumed",
        "order.step_added",
        *["order.step_done"] * 3,
        "order.done",
        "order.accepted",
    ]
    assert (order.state, order.waiting_for, order.done_by, order.accepted_by) == ("accepted", "", ines, ruth)
    assert [s.text for s in order.steps.all()] == ["Shut the valve", "Fit the probe", "Flush"]


def test_nobody_accepts_their_own_work(order: WorkOrder, ruth: Person, site: Site) -> None:
    start_order(order=order, by=ruth)
    finish_order(order=order, found="Done.", by=ruth)
    with pytest.raises(Refusal, match="does not accept it"):
        accept_order(order=order, by=ruth)
    assert accept_order(order=order, by=make_person(site=site, role=Role.SUPERVISOR)).state == "accepted"


def test_work_sent_back_is_under_way_again(order: WorkOrder, ruth: Person, ines: Person) -> None:
    start_order(order=order, by=ines)
    finish_order(order=order, found="Tightened.", by=ines)
    send_back_order(order=order, because="Still drips.", by=ruth)
    assert (order.state, order.done_by, order.done_at) == ("under way", None, None)
    assert "Tightened." in Event.objects.get(verb="order.sent_back").body


def test_steps_come_before_the_end(order: WorkOrder, ines: Person) -> None:
    start_order(order=order, by=ines)
    step = add_step(order=order, text="Flush", by=ines)
    with pytest.raises(Refusal, match="step 1"):
        finish_order(order=order, found="Done.", by=ines)
    finish_step(step=step, note="clear", by=ines)
    assert finish_order(order=order, found="Done.", by=ines).state == "done"


def test_a_step_is_done_once(order: WorkOrder, ines: Person) -> None:
    start_order(order=order, by=ines)
    step = add_step(order=order, text="Flush", by=ines)
    finish_step(step=step, note="", by=ines)
    with pytest.raises(Stale):
        finish_step(step=step, note="again", by=ines)
    assert step.order.steps.get().note == ""


def test_a_step_waits_for_the_start(order: WorkOrder, ines: Person) -> None:
    step = add_step(order=order, text="Flush", by=ines)
    with pytest.raises(Refusal, match="while it is under way"):
        finish_step(step=step, note="", by=ines)


def test_an_order_with_its_own_lockout_open_is_neither_done_nor_withdrawn(clock: Clock) -> None:
    pump = make_pump()
    order = make_order(pump.position, by=pump.ana)
    start_order(order=order, by=pump.ana)
    pump.begin(order=order)
    for end in (
        lambda: finish_order(order=order, found="Bearing changed.", by=pump.ana),
        lambda: withdraw_order(order=order, because="Not needed.", by=pump.ruth),
    ):
        with pytest.raises(Refusal, match="still open; close it first"):
            end()
    order.refresh_from_db()
    assert order.state == "under way"


def test_a_stale_page_changes_nothing(order: WorkOrder, ruth: Person, ines: Person) -> None:
    seen = WorkOrder.objects.get(pk=order.pk)
    start_order(order=order, by=ines)
    with pytest.raises(Stale):
        withdraw_order(order=seen, because="Not needed.", by=ruth)
    order.refresh_from_db()
    assert order.state == "under way"


@pytest.mark.parametrize("act", [OrderAct.FINISH, OrderAct.ACCEPT, OrderAct.WAIT, OrderAct.RESUME, OrderAct.SEND_BACK])
def test_out_of_turn_is_refused_with_a_sentence(order: WorkOrder, ruth: Person, act: OrderAct) -> None:
    do = {
        OrderAct.FINISH: lambda: finish_order(order=order, found="Done.", by=ruth),
        OrderAct.ACCEPT: lambda: accept_order(order=order, by=ruth),
        OrderAct.WAIT: lambda: wait_order(order=order, waiting_for="part", by=ruth),
        OrderAct.RESUME: lambda: resume_order(order=order, by=ruth),
        OrderAct.SEND_BACK: lambda: send_back_order(order=order, because="no", by=ruth),
    }
    events = Event.objects.count()
    with pytest.raises(Refusal, match="Work order 1: The work order is raised"):
        do[act]()
    assert Event.objects.count() == events


def test_who_may(order: WorkOrder, ruth: Person, ines: Person, site: Site, tag: Position) -> None:
    viewer = make_person(site=site, role=Role.VIEWER)
    for forbidden in (
        lambda: make_order(tag, by=viewer),
        lambda: start_order(order=order, by=viewer),
        lambda: planned(order, ines, ines),
        lambda: withdraw_order(order=order, because="Not needed.", by=ines),
        lambda: accept_order(order=order, by=ines),
        lambda: confirm_order(order=order, because="Fails.", by=viewer),
    ):
        with pytest.raises(NotAllowed):
            forbidden()


def test_in_charge_is_somebody_who_works_here(order: WorkOrder, ruth: Person, site: Site) -> None:
    with pytest.raises(Refusal) as refused:
        planned(order, ruth, make_person(site=site, role=Role.VIEWER))
    assert [reason.field for reason in refused.value.reasons] == ["in_charge"]


# -------------------------------------------------------------------------------------------- from the due list, steps


def test_an_order_for_several_due_items_stands_at_the_tag_that_matters_most(ruth: Person, site: Site) -> None:
    ends = [make_position(site=site, matters_for=word) for word in ("other", "compliance", "production", "compliance")]
    items = [open_item(make_plan(end, by=ruth)) for end in ends]
    order = raise_for_due_items(site=site, items=items, title="Morning", reason="Due", wanted_by=None, by=ruth)
    assert order.position == ends[1]


def test_one_order_for_chosen_due_items_a_step_each(tag: Position, ruth: Person, ines: Person, site: Site) -> None:
    inspect = make_plan(tag, by=ruth, title="Look at the drip")
    calibrate = make_plan(make_position(site=site), by=ruth, kind="calibrate", title="Calibrate pH")
    items = [open_item(inspect), open_item(calibrate)]
    order = raise_for_due_items(site=site, items=items, title="Morning", reason="Due", wanted_by=None, by=ines)
    assert [s.text for s in order.steps.all()] == [
        f"{tag}: Look at the drip",
        f"{calibrate.position}: Calibrate pH",
    ]
    start_order(order=order, by=ines)
    for step in order.steps.all():
        finish_step(step=step, note="", by=ines)
    # In words only what is recorded in words; the calibration is still owed until its record is signed.
    assert [p.plan for p in Performance.objects.all()] == [inspect]
    assert open_item(calibrate).pk == items[1].pk


def test_a_single_due_item_whose_routine_has_an_order_gives_that_order(
    tag: Position, ruth: Person, ines: Person
) -> None:
    plan = make_plan(tag, by=ruth)
    both = [
        raise_for_due_items(site=tag.site, items=[open_item(plan)], title="Drip", reason="Due", wanted_by=None, by=ines)
        for _ in range(2)
    ]
    assert both[0] == both[1]
    assert both[0].steps.count() == 1


def test_due_items_of_carried_things_alone_make_no_order(site: Site, ruth: Person) -> None:
    plan = make_plan(make_asset(site=site, kind="Voltage tester"), by=ruth)
    with pytest.raises(Refusal, match="a work order names the tag"):
        raise_for_due_items(site=site, items=[open_item(plan)], title="x", reason="y", wanted_by=None, by=ruth)
