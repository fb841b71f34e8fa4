"""What bears on a routine: pauses, work that counts for another, putting off, what must be so first; and the night.

Days are worked by hand beside each story.
"""

from __future__ import annotations

import pytest

from assets.actions import (
    start_running,
)
from assets.errors import NotAllowed, Refusal
from assets.models import Person, Position, Role, Signature, Site
from assets.reads.records import check_records
from maintenance.actions.deferrals import ask_deferral, decide_deferral
from maintenance.actions.nightly import carry_forward, compare_due_items
from maintenance.actions.routines import Interval
from maintenance.actions.stretches import (
    NeedTyped,
    declare_fulfils,
    end_fulfils,
    end_need,
    end_pause,
    pause,
    require_first,
)
from maintenance.models import Deferral, Occurrence, Plan
from maintenance.reads.bearing import needs_of
from tests.assets.signed_in import browser_of
from tests.conftest import Clock
from tests.maintenance.due.running import at, by_hours, on, open_item, read, word
from tests.make import make_person, make_position, proof_of
from tests.make_upkeep import floating, make_done, make_plan

pytestmark = pytest.mark.django_db


def test_a_pause_leaves_no_phantoms_and_asks_once_before_use(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    weekly = Interval(mode="fixed", source="own", every=1, unit="week", anchor=on(3, 2), early=1)
    plan = make_plan(pump, by=ruth, interval=weekly)
    make_done(plan, at(site, 3, 2, 11), by=ines)
    rest = pause(target=pump, from_day=on(3, 3), because="out of season", by=ruth)
    assert not Occurrence.objects.open().filter(plan=plan).exists()
    clock.now = at(site, 4, 15)
    end_pause(pause=rest, to_day=on(4, 15), by=ruth)
    rows = Occurrence.objects.filter(plan=plan)
    assert not rows.filter(ended="missed").exists()
    assert rows.open().get(due=on(4, 15)).why == "before use"
    with pytest.raises(Refusal, match="began on"):
        end_pause(pause=pause(target=plan, from_day=on(4, 20), because="drained", by=ruth), to_day=on(4, 19), by=ruth)


def test_declared_work_of_another_routine_counts_and_nothing_else(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    calibrate = make_plan(pump, by=ruth, title="Calibrate", interval=floating(90))
    verify = make_plan(pump, by=ruth, title="Verify", interval=floating(7, early=0))
    make_done(calibrate, at(site, 3, 2, 11), by=ines)
    assert open_item(verify).why == "no record", "never guessed"
    said = declare_fulfils(plan=calibrate, fulfils=verify, from_day=on(3, 2), by=ruth)
    assert open_item(verify).due == on(3, 9)
    end_fulfils(declared=said, to_day=on(3, 3), by=ruth)
    assert open_item(verify).due == on(3, 9), "what counted then still does"
    clock.now = at(site, 3, 8)
    make_done(calibrate, at(site, 3, 8, 11), by=ines)
    assert open_item(verify).due == on(3, 9)
    with pytest.raises(Refusal, match="another routine"):
        declare_fulfils(plan=verify, fulfils=verify, from_day=on(3, 8), by=ruth)


def test_a_deferral_is_another_persons_decision_and_moves_the_due_day(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    plan = make_plan(pump, by=ruth, interval=floating(30, early=0), title="Replace packing")
    make_done(plan, at(site, 2, 8, 11), by=ines)
    item = open_item(plan)
    assert item.due == on(3, 10)
    for to, because, risk, box in (
        (on(3, 10), "x", "y", "to_day"),
        (on(3, 20).replace(year=2199), "x", "y", "to_day"),
        (on(3, 20), " ", "y", "because"),
        (on(3, 20), "x", "", "risk"),
    ):
        with pytest.raises(Refusal) as refused:
            ask_deferral(occurrence=item, to_day=to, because=because, risk=risk, by=ines)
        assert [reason.field for reason in refused.value.reasons] == [box]
    asked = ask_deferral(occurrence=item, to_day=on(3, 20), because="packing comes on 18 March", risk="drips", by=ines)
    assert word(item, on(3, 11)) == "overdue", "asking moves nothing"
    with pytest.raises(Refusal, match="waits to be decided"):
        ask_deferral(occurrence=item, to_day=on(3, 21), because="x", risk="y", by=ruth)
    with pytest.raises(NotAllowed):
        decide_deferral(deferral=asked, approved=True, because="", proof=proof_of(ines), by=ines)
    decide_deferral(deferral=asked, approved=True, because="", proof=proof_of(ruth), by=ruth)
    with pytest.raises(Refusal, match=f"{ruth.name} approved it on .* already"):
        decide_deferral(deferral=asked, approved=False, because="too late", proof=None, by=ruth)
    assert [word(item, on(3, day)) for day in (9, 10, 19, 20, 21)] == [
        "deferred",
        "deferred",
        "deferred",
        "due",
        "overdue",
    ]
    assert item.raw == on(3, 10)
    assert Signature.objects.count() == 1
    own = ask_deferral(occurrence=item, to_day=on(3, 25), because="x", risk="y", by=ruth)
    with pytest.raises(Refusal, match="Nobody approves"):
        decide_deferral(deferral=own, approved=True, because="", proof=proof_of(ruth), by=ruth)
    edda = make_person(site=site, role=Role.SUPERVISOR)
    with pytest.raises(Refusal, match="why it is refused"):
        decide_deferral(deferral=own, approved=False, because=" ", proof=None, by=edda)
    decide_deferral(deferral=own, approved=False, because="do it now", proof=None, by=edda)
    assert Deferral.objects.filter(approved=False).count() == 1
    assert item.due == on(3, 20)


def test_what_a_rule_demands_is_never_put_off(site: Site, ruth: Person, ines: Person, pump: Position) -> None:
    plan = make_plan(pump, by=ruth, interval=floating(5, early=0, by_rule=True))
    with pytest.raises(Refusal, match="A rule demands"):
        ask_deferral(occurrence=open_item(plan), to_day=on(3, 9), because="x", risk="y", by=ines)


def test_what_must_be_so_first_is_said_with_what_was_found(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    store = make_position(site=site, tag="LIT-601", quantity="level", unit="m")
    plan = make_plan(pump, by=ruth)
    need = NeedTyped(kind="reading", words="storage above 4 m", position=store, reads="Level", unit="m", low="4")
    row = require_first(plan=plan, need=need, by=ruth)

    def said() -> tuple[bool, str]:
        [one] = needs_of([plan])[plan.pk]
        return one.need.met, one.need.because

    assert said() == (False, "storage above 4 m: it was never read")
    for day, text, unit, met in ((3, "3.99", "m", False), (4, "4000", "mm", True)):
        clock.now = at(site, 3, day)
        read(store, text, ines, what="level", unit=unit)
        assert said()[0] is met, text
    end_need(need=row, by=ruth)
    assert needs_of([plan]) == {}
    for wrong, box in (
        (NeedTyped(kind="reading", words="x", position=store, reads="Level", unit="m"), "low"),
        (NeedTyped(kind="routine", words="x"), "routine"),
        (NeedTyped(kind="lockout", words=" "), "words"),
    ):
        with pytest.raises(Refusal) as refused:
            require_first(plan=plan, need=wrong, by=ruth)
        assert [reason.field for reason in refused.value.reasons] == [box]


def test_the_night_finds_nothing_after_all_of_it_and_every_fault_that_is_seeded(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    read(pump, "1000", ines)
    by_use_plan = make_plan(pump, by=ruth, interval=by_hours())
    make_done(by_use_plan, at(site, 3, 2, 11), by=ines)
    dated = make_plan(pump, by=ruth, interval=floating(30, early=0))
    make_done(dated, at(site, 2, 8, 11), by=ines)
    asked = ask_deferral(occurrence=open_item(dated), to_day=on(3, 20), because="x", risk="y", by=ines)
    decide_deferral(deferral=asked, approved=True, because="", proof=proof_of(ruth), by=ruth)
    pause(target=make_plan(pump, by=ruth), from_day=on(3, 2), because="drained", by=ruth)
    assert compare_due_items(site=site, today=on(3, 2)).differences == 0
    assert check_records() == []
    faults = [
        (open_item(by_use_plan), {"use_next": "1600 h"}),
        (
            open_item(by_use_plan),
            {"day_due": None, "raw": on(9, 9), "due": on(9, 9), "earliest": on(9, 9), "latest": on(9, 9)},
        ),
        (open_item(dated), {"deferred_until": None}),
    ]
    for item, wrong in faults:
        before = {name: getattr(item, name) for name in wrong}
        Occurrence.objects.filter(pk=item.pk).update(**wrong)
        clock.forward(days=1)
        today = clock.now.astimezone(site.zone).date()
        assert compare_due_items(site=site, today=today).differences >= 1, wrong
        Occurrence.objects.filter(pk=item.pk).update(**before)


def test_the_number_of_queries_does_not_grow_with_the_routines(
    site: Site, ruth: Person, ines: Person, django_assert_max_num_queries
) -> None:  # type: ignore[no-untyped-def]
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from maintenance.reads.due_facts import known_of

    def queries(plans: list[Plan]) -> int:
        with CaptureQueriesContext(connection) as caught:
            known_of(plans)
        return len(caught)

    plans = []
    for number in range(8):
        tag = make_position(site=site, tag=f"P-{number}", does="moves", quantity="", unit="")
        read(tag, "10", ines)
        plans += [make_plan(tag, by=ruth, interval=by_hours()), make_plan(tag, by=ruth)]
        start_running(site=site, unit=tag, by=ines)
        plans.append(make_plan(tag, by=ruth, interval=Interval(mode="running", source="x")))
    sited = list(Plan.objects.filter(pk__in=[plan.pk for plan in plans]).select_related("site").order_by("pk"))
    assert queries(sited[:3]) == queries(sited)


def test_what_is_overdue_already_is_put_off_from_the_day_after_and_the_pages_say_so(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    plan = make_plan(pump, by=ruth, interval=floating(30, early=0), title="Repack")
    make_done(plan, at(site, 2, 8, 11), by=ines)
    item, browser = open_item(plan), browser_of(ruth)
    words = "it stays overdue today and is put off from tomorrow"
    clock.now = at(site, 3, 10)
    asked = ask_deferral(occurrence=item, to_day=on(3, 20), because="packing comes", risk="drips", by=ines)
    approve = f"/upkeep/later/{asked.pk}/approve/"
    # On the due day itself it is not overdue: approved then, it is put off at once.
    assert words not in browser.get(approve).content.decode()
    clock.now = at(site, 3, 12)
    assert word(item, on(3, 12)) == "overdue"
    page = browser.get(approve).content.decode()
    assert f"approved now, {words}, 13 March 2026." in page
    assert "Put off to 20 March 2026" in page
    decide_deferral(deferral=asked, approved=True, because="", proof=proof_of(ruth), by=ruth)
    record = f"/upkeep/due/{item.pk}/record/"
    for where in (record, plan.get_absolute_url()):
        assert f"It was overdue already, so {words}." in browser_of(ines).get(where).content.decode()
    clock.now = at(site, 3, 13)
    carry_forward(site=site, today=on(3, 13))
    assert word(item, on(3, 13)) == "deferred"
    assert words not in browser_of(ines).get(record).content.decode()
