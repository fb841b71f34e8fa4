"""Every kind of interval as stored: each act of the plant rewrites the due items through the one formula.

Days are worked by hand beside each story; hours of a pump and pressures of a strainer are invented. That a routine by
use is told by readings alone, and a rolled over or exchanged counter is said and never assumed: common practice.
"""

from __future__ import annotations

import datetime as dt

import pytest

from assets.actions import (
    CounterBroken,
    ReadingFacts,
    RuleTyped,
    exchange_asset,
    record_reading,
    set_rule,
    start_running,
    stop_running,
    withdraw_running,
)
from assets.errors import NotAllowed, Refusal
from assets.models import Asset, Person, Position, Reading, Role, Signature, Site
from assets.reads.records import check_records
from maintenance.actions.deferrals import ask_deferral, decide_deferral
from maintenance.actions.nightly import compare_due_items
from maintenance.actions.routines import Interval, change_term
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
from maintenance.reads.due_words import by_use, state_of
from tests.conftest import Clock
from tests.make import make_asset, make_fitting, make_person, make_position, make_site, proof_of
from tests.make_upkeep import floating, make_done, make_plan

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(clock: Clock) -> Site:
    clock.set(2026, 3, 2, 19)  # 12:00 at the site, a Monday
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


@pytest.fixture
def ines(site: Site) -> Person:
    return make_person(site=site, name="Ines Calder")


@pytest.fixture
def pump(site: Site) -> Position:
    return make_position(site=site, tag="P-61", does="moves", quantity="", unit="")


def on(month: int, day: int) -> dt.date:
    return dt.date(2026, month, day)


def at(site: Site, month: int, day: int, hour: int = 12) -> dt.datetime:
    return dt.datetime(2026, month, day, hour, tzinfo=site.zone)


def read(of: Position | Asset, text: str, by: Person, *, what: str = "Run hours", unit: str = "h", **other) -> Reading:  # type: ignore[no-untyped-def]
    return record_reading(of=of, facts=ReadingFacts(what, text, unit, "display", **other), by=by)


def by_hours(**other: object) -> Interval:
    facts: dict[str, object] = {"use_every": "500", "use_early": "50", "use_late": "20", **other}
    return Interval(mode="usage", source="maker", reads="Run hours", reads_unit="h", **facts)  # type: ignore[arg-type]


def open_item(plan: Plan) -> Occurrence:
    """The earliest open due item of a routine that is not about reading its meter."""
    return Occurrence.objects.open().filter(plan=plan).exclude(why="read the meter").order_by("due", "id")[0]


def word(item: Occurrence, day: dt.date) -> str:
    item.refresh_from_db()
    return state_of(item, day).value


def test_a_routine_by_use_falls_due_when_its_meter_says_so(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    read(pump, "1000.0", ines)
    plan = make_plan(pump, by=ruth, interval=by_hours(), title="Change oil")
    make_done(plan, at(site, 3, 2, 11), by=ines)
    item = open_item(plan)
    # From the total of 1,000 h at the work: can be done at 1,450, due at 1,500, overdue above 1,520.
    assert by_use(item).startswith("At 1500 h; 1000 h now")
    assert word(item, on(3, 2)) == "not yet"
    for day, hours, said in ((5, "1449.9", "not yet"), (6, "1450", "can be done now"), (9, "1500", "due")):
        clock.now = at(site, 3, day)
        read(pump, hours, ines)
        assert word(item, on(3, day)) == said, hours
    clock.now = at(site, 3, 11)
    read(pump, "1520.1", ines)
    assert word(item, on(3, 11)) == "overdue", "from the day on which it was known"
    assert item.due == on(3, 9)
    make_done(plan, at(site, 3, 11), by=ines)
    assert by_use(open_item(plan)).startswith("At 2020.1 h")


def test_an_exchanged_counter_gives_the_same_next_turn_as_one_that_was_not(
    site: Site, ruth: Person, ines: Person, clock: Clock
) -> None:
    due = []
    for number, exchanged in ((1, False), (2, True)):
        clock.now = at(site, 3, 2)
        pump = make_position(site=site, tag=f"P-{number}", does="moves", quantity="", unit="")
        read(pump, "99900", ines)
        plan = make_plan(pump, by=ruth, interval=by_hours())
        make_done(plan, at(site, 3, 2, 11), by=ines)
        clock.now = at(site, 3, 20)
        # 300 h: to 100,200; or 99,950 on the old one, then 250 on the new; or round past 100,000 to 200.
        broken = CounterBroken(old_last="99950", new_first="0") if exchanged else CounterBroken(modulus="100000")
        read(pump, "250" if exchanged else "200", ines, broken=broken)
        clock.now = at(site, 3, 25)
        read(pump, "450" if exchanged else "400", ines)
        due.append((open_item(plan).due, by_use(open_item(plan)).split("; ")[1]))
    assert due[0][0] == due[1][0] == on(3, 25)


def test_hours_belong_to_the_machine_so_an_exchanged_pump_begins_its_own_count(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    old, new = make_asset(site=site), make_asset(site=site)
    make_fitting(position=pump, asset=old, by=ruth)
    read(old, "1000", ines)
    plan = make_plan(pump, by=ruth, interval=by_hours(), follows="asset")
    make_done(plan, at(site, 3, 2, 11), by=ines)
    read(new, "40", ines)
    clock.now = at(site, 3, 10)
    exchange_asset(position=pump, asset=new, by=ines)
    assert open_item(plan).why == "before use"
    make_done(plan, at(site, 3, 10, 12), by=ines)
    assert by_use(open_item(plan)).startswith("At 540 h; 40 h now")


def test_a_meter_that_nobody_reads_becomes_due_itself_and_a_reading_ends_that(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    read(pump, "1000", ines)
    plan = make_plan(pump, by=ruth, interval=by_hours())
    make_done(plan, at(site, 3, 2, 11), by=ines)
    clock.now = at(site, 4, 5)
    from maintenance.actions.nightly import carry_forward

    carry_forward(site=site, today=on(4, 5))
    stale = Occurrence.objects.get(plan=plan, why="read the meter")
    assert stale.due == on(4, 1), "30 days after 2 March, the site's own rule or ours"
    assert word(stale, on(4, 5)) == "overdue"
    read(pump, "1100", ines)
    assert not Occurrence.objects.open().filter(plan=plan, why="read the meter", due__lte=on(4, 5)).exists()
    rule = RuleTyped("stale_meter_days", "7", "own", "the walk is daily", on(4, 5))
    set_rule(site=site, typed=rule, by=ruth)
    assert Occurrence.objects.open().get(plan=plan, why="read the meter").due == on(4, 12)


def test_whichever_comes_first_resets_both(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    read(pump, "0", ines)
    both = Interval(
        mode="first of", source="maker", every=3, unit="month", early=0, reads="Run hours", reads_unit="h",
        use_every="500",
    )  # fmt: skip
    plan = make_plan(pump, by=ruth, interval=both)
    make_done(plan, at(site, 3, 2, 11), by=ines)
    assert open_item(plan).due == on(6, 2)
    clock.now = at(site, 4, 10)
    read(pump, "500", ines)
    item = open_item(plan)
    assert (item.due, word(item, on(4, 10))) == (on(4, 10), "due")
    clock.forward(hours=1)
    make_done(plan, at(site, 4, 10, 13), by=ines)
    assert open_item(plan).due == on(7, 10)


def test_once_in_each_period_is_missed_past_its_end_and_never_overdue(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    quarter = Interval(mode="period", source="permit", every=3, unit="month", spacing=30)
    plan = make_plan(pump, by=ruth, interval=quarter)
    make_done(plan, at(site, 3, 2, 11), by=ines)
    clock.now = at(site, 4, 2)
    make_done(plan, at(site, 4, 1, 11), by=ines)
    turns = dict(Occurrence.objects.filter(plan=plan).values_list("raw", "ended"))
    assert turns[on(6, 30)] == "done", "2 March and 1 April are 30 days apart: each counts for its quarter"
    assert turns[on(9, 30)] == "open"


def test_a_test_of_each_running_day_is_owed_when_the_unit_starts(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    plan = make_plan(pump, by=ruth, interval=Interval(mode="running", source="40 CFR 141.719"))
    make_done(plan, at(site, 3, 2, 11), by=ines)
    assert not Occurrence.objects.open().filter(plan=plan).exists()
    clock.now = at(site, 3, 8, 1)
    run = start_running(site=site, unit=pump, at=at(site, 3, 8, 0) + dt.timedelta(minutes=10), by=ines)
    assert open_item(plan).due == on(3, 8)
    stop_running(running=run, at=at(site, 3, 8, 0) + dt.timedelta(minutes=40), by=ines)
    assert list(Occurrence.objects.open().filter(plan=plan).values_list("due", flat=True)) == [on(3, 8)]
    withdraw_running(running=run, because="it was the other unit", by=ruth)
    assert not Occurrence.objects.open().filter(plan=plan).exists()


def test_a_condition_is_owed_when_seen_and_raised_again_by_newer_values_only(
    site: Site, ruth: Person, ines: Person, clock: Clock
) -> None:
    strainer = make_position(site=site, tag="PDIT-05", quantity="pressure difference", unit="kPa")
    high = Interval(
        mode="condition", source="maker", reads="pressure difference", reads_unit="kPa", high="35", answer_days=2
    )
    plan = make_plan(strainer, by=ruth, interval=high, title="Clean the strainer")
    make_done(plan, at(site, 3, 2, 11), by=ines)

    def seen(day: int, text: str, unit: str = "kPa") -> list[dt.date]:
        clock.now = at(site, 3, day)
        read(strainer, text, ines, what="Pressure difference", unit=unit)
        return list(Occurrence.objects.open().filter(plan=plan).values_list("due", flat=True))

    assert seen(3, "35") == [], "at the limit itself it is inside"
    assert seen(4, "0.36", "bar") == [on(3, 6)], "36 kPa on 4 March, two days to answer"
    assert seen(5, "38") == [on(3, 6)], "it is owed once"
    make_done(plan, at(site, 3, 5), by=ines)
    assert seen(6, "12") == [], "the old high value raises nothing after the work"
    assert seen(7, "35") == []
    assert seen(8, "36") == [on(3, 10)]
    make_done(plan, at(site, 3, 8), by=ines)
    assert seen(9, "37") == [on(3, 11)], "a cleaning that did not help is not silent"


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


@pytest.mark.parametrize(
    ("interval", "box"),
    [
        (Interval(mode="usage", source="x", reads="Run hours", reads_unit="h"), "use_every"),
        (Interval(mode="usage", source="x", use_every="500"), "reads"),
        (Interval(mode="usage", source="x", reads="Run hours", reads_unit="hopes", use_every="500"), "reads_unit"),
        (Interval(mode="usage", source="x", reads="Run hours", reads_unit="h", use_every="five"), "use_every"),
        (Interval(mode="condition", source="x", reads="Level", reads_unit="m"), "low"),
        (Interval(mode="condition", source="x", reads="Level", reads_unit="m", low="4", high="2"), "low"),
        (Interval(mode="period", source="x", every=5, unit="day"), "unit"),
        (Interval(mode="period", source="x", every=1, unit="month", spacing=40), "spacing"),
        (Interval(mode="fixed", source="x", every=1, unit="month"), "anchor"),
        (Interval(mode="floating", source=" ", every=1, unit="month"), "source"),
    ],
)
def test_terms_that_no_due_day_follows_from_are_refused_at_their_box(
    site: Site, ruth: Person, pump: Position, interval: Interval, box: str
) -> None:
    plan = make_plan(pump, by=ruth)
    with pytest.raises(Refusal) as refused:
        change_term(plan=plan, interval=interval, from_day=on(3, 2), why="a try", by=ruth)
    assert box in [reason.field for reason in refused.value.reasons]
    assert plan.terms.count() == 1


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
