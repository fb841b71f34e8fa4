"""Conditions on values that are worked out, as stored: readings of any input move them, late, corrected or forgotten.

Worked by hand beside each story from dp (Qref / Q)^2 - clean; pressures, flows and hours are invented.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from django.db import IntegrityError, transaction

from assets import hooks
from assets.actions import CounterBroken, ReadingFacts, correct_reading, exchange_asset
from assets.errors import Refusal
from assets.models import Person, Position, Site
from maintenance.actions.nightly import carry_forward, compare_due_items
from maintenance.actions.routines import Interval, change_term
from maintenance.actions.walks import begin_walk
from maintenance.actions.worked_out import WorkedOut
from maintenance.models import Occurrence, Plan, TermInput
from maintenance.reads.due_words import by_use
from tests.conftest import Clock
from tests.maintenance.due.running import at, on, read
from tests.make import make_asset, make_fitting, make_position
from tests.make_upkeep import make_done, make_plan
from tests.make_walks import make_line, make_point, make_round, stop_of, write

pytestmark = pytest.mark.django_db


@pytest.fixture
def flow(site: Site) -> Position:
    return make_position(site=site, tag="FIT-02", quantity="flow", unit="m³/h")


@pytest.fixture
def strainer(site: Site) -> Position:
    return make_position(site=site, tag="PDIT-05", quantity="pressure difference", unit="kPa")


def fouling(strainer: Position, flow: Position, **other: object) -> Interval:
    what = WorkedOut(
        kind="strainer",
        readings={"pressure": (strainer, "Pressure difference"), "flow": (flow, "Flow")},
        numbers={"reference": ("100", "m³/h"), "clean": ("12", "kPa")},
        baseline_from="measured after cleaning, 1 March 2026",
    )
    facts: dict[str, object] = {"reads_unit": "kPa", "high": "25.5", "answer_days": 2, "worked_out": what, **other}
    return Interval(mode="condition", source="trade practice, from memory", **facts)  # type: ignore[arg-type]


@pytest.fixture
def plan(strainer: Position, flow: Position, ruth: Person, ines: Person, site: Site) -> Plan:
    made = make_plan(strainer, by=ruth, interval=fouling(strainer, flow), title="Clean the strainer")
    make_done(made, at(site, 3, 2, 11), by=ines)
    return made


def owed(plan: Plan) -> list[dt.date]:
    return list(Occurrence.objects.open().filter(plan=plan).values_list("due", flat=True))


def test_a_worked_out_value_outside_is_owed_with_its_value_its_inputs_and_its_limit(
    plan: Plan, strainer: Position, flow: Position, ines: Person, site: Site, clock: Clock
) -> None:
    clock.now = at(site, 3, 3)
    read(strainer, "24", ines, what="Pressure difference", unit="kPa")
    assert owed(plan) == [], "a pressure alone says nothing"
    read(flow, "80", ines, what="Flow", unit="m³/h")
    assert owed(plan) == [], "25.5 kPa: at the limit itself it is inside"
    clock.now = at(site, 3, 4)
    read(flow, "22", ines, what="Flow", unit="L/s")  # 79.2 m3/h
    assert owed(plan) == [], "the pressure of yesterday is not of this moment"
    read(strainer, "0.245", ines, what="pressure difference", unit="bar")
    # 24.5 x (100 / 79.2)^2 - 12 = 27.0585...
    assert owed(plan) == [on(3, 6)]
    item = Occurrence.objects.open().get(plan=plan)
    assert item.why == "outside its limits"
    assert by_use(item) == (
        "27.1 kPa, worked out from differential pressure 0.245 bar, flow through it 22 L/s, read 4 March 2026, 12:00; "
        "reference flow 100 m³/h, clean 12 kPa. Good is up to 25.5 kPa."
    )
    make_done(plan, clock.now, by=ines)
    assert owed(plan) == [], "the old value raises nothing after the work"


def test_readings_of_any_input_late_or_corrected_move_it(
    plan: Plan, strainer: Position, flow: Position, ines: Person, site: Site, clock: Clock
) -> None:
    clock.now = at(site, 3, 4)
    read(strainer, "24.5", ines, what="Pressure difference", unit="kPa")
    clock.now = at(site, 3, 6)
    late = read(flow, "79.2", ines, what="Flow", unit="m³/h", taken_at=at(site, 3, 4) + dt.timedelta(minutes=9))
    assert owed(plan) == [on(3, 8)], "known only on 6 March, two days to answer from then"
    slip = ReadingFacts("Flow", "97.2", "m³/h", "display")
    fixed = correct_reading(reading=late, facts=slip, by=ines)
    assert owed(plan) == [], "24.5 x (100 / 97.2)^2 - 12 = 13.9"
    # Put right under another name it is no flow any more, and the pressure stands alone.
    correct_reading(reading=fixed, facts=ReadingFacts("Flow", "79.2", "m³/h", "display"), by=ines)
    assert owed(plan) == [on(3, 8)]
    newest = fixed.replaced_by
    correct_reading(reading=newest, facts=ReadingFacts("Speed", "79.2", "1/min", "display"), by=ines)
    assert owed(plan) == []
    assert compare_due_items(site=site, today=on(3, 6)).differences == 0


def test_at_night_a_reading_that_nobody_told_the_routine_of_is_found(
    plan: Plan,
    strainer: Position,
    flow: Position,
    ines: Person,
    site: Site,
    clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clock.now = at(site, 3, 4)
    read(strainer, "24.5", ines, what="Pressure difference", unit="kPa")
    monkeypatch.setattr(hooks, "after_reading", [])
    read(flow, "79.2", ines, what="Flow", unit="m³/h")
    report = compare_due_items(site=site, today=on(3, 4))
    assert report.differences == 1
    assert "Clean the strainer" in report.text and "is missing" in report.text
    assert owed(plan) == [], "it repairs nothing"


def test_words_of_a_value_that_were_never_kept_are_no_fault_and_come_with_the_night(
    plan: Plan, strainer: Position, flow: Position, ines: Person, site: Site, clock: Clock
) -> None:
    clock.now = at(site, 3, 4)
    read(strainer, "24.5", ines, what="Pressure difference", unit="kPa")
    read(flow, "79.2", ines, what="Flow", unit="m³/h")
    Occurrence.objects.filter(plan=plan).update(use_now="", use_next="")
    assert compare_due_items(site=site, today=on(3, 4)).differences == 0
    clock.now = at(site, 3, 5)
    carry_forward(site=site, today=on(3, 5))
    assert by_use(Occurrence.objects.open().get(plan=plan)).startswith("27.1 kPa")
    Occurrence.objects.filter(plan=plan).update(use_now="2 kPa")
    assert compare_due_items(site=site, today=on(3, 5)).differences == 1


def test_limits_of_one_condition_never_judge_the_values_of_another(
    strainer: Position, flow: Position, ruth: Person, ines: Person, site: Site, clock: Clock
) -> None:
    """20 kPa read was inside of 15 psi (103 kPa); from 5 March the worked out value counts, above 12 kPa."""
    plain = Interval(mode="condition", source="maker", reads="Pressure difference", reads_unit="psi", high="15")
    plan = make_plan(strainer, by=ruth, interval=plain)
    make_done(plan, at(site, 3, 2, 11), by=ines)
    clock.now = at(site, 3, 3)
    read(strainer, "20", ines, what="Pressure difference", unit="kPa")
    read(flow, "80", ines, what="Flow", unit="m³/h")
    clock.now = at(site, 3, 5)
    change_term(plan=plan, interval=fouling(strainer, flow, high="12"), from_day=on(3, 5), why="a try", by=ruth)
    assert owed(plan) == []
    read(strainer, "20", ines, what="Pressure difference", unit="kPa")
    read(flow, "80", ines, what="Flow", unit="m³/h")
    assert owed(plan) == [on(3, 7)]  # 19.25 kPa


def test_what_was_owed_in_the_morning_stays_owed_when_the_condition_is_put_otherwise_at_noon(
    plan: Plan, strainer: Position, flow: Position, ruth: Person, ines: Person, site: Site, clock: Clock
) -> None:
    """24.5 kPa at 79.2 m3/h are 27.06 kPa: above 25.5. From noon 30 is good, and pressures go with another flow."""
    clock.now = at(site, 3, 4, 8)
    read(strainer, "24.5", ines, what="Pressure difference", unit="kPa")
    read(flow, "79.2", ines, what="Flow", unit="m³/h")
    (before,) = Occurrence.objects.open().filter(plan=plan)
    clock.now = at(site, 3, 4, 12)
    other = make_position(site=site, tag="FIT-03", quantity="flow", unit="m³/h")
    looser = fouling(strainer, other, high="30", answer_days=0)
    change_term(plan=plan, interval=looser, from_day=on(3, 4), why="the other meter", by=ruth)
    (after,) = Occurrence.objects.open().filter(plan=plan)
    assert (after.pk, after.due, after.earliest, after.use_now) == (before.pk, on(3, 6), on(3, 4), before.use_now)
    assert by_use(after).endswith(
        "read 4 March 2026, 08:00; reference flow 100 m³/h, clean 12 kPa. "
        "Good is up to 25.5 kPa by the terms until 4 March 2026."
    )
    # Its inputs still bear on it: put right, the pressure was good in the morning already, and then it was not.
    slip = strainer.readings.get()
    put_right = correct_reading(
        reading=slip, facts=ReadingFacts("Pressure difference", "23", "kPa", "display"), by=ines
    )
    assert owed(plan) == [], "23 x (100 / 79.2)^2 - 12 = 24.7"
    correct_reading(reading=put_right, facts=ReadingFacts("Pressure difference", "24.5", "kPa", "display"), by=ines)
    assert owed(plan) == [on(3, 6)]
    Occurrence.objects.filter(plan=plan, turn=before.turn).update(use_next="up to 25.5 kPa")
    assert compare_due_items(site=site, today=on(3, 4)).differences == 0, "stored before the change was said"
    clock.now = at(site, 3, 5)
    carry_forward(site=site, today=on(3, 5))
    assert Occurrence.objects.open().get(plan=plan).use_next == "up to 25.5 kPa by the terms until 4 March 2026"
    make_done(plan, clock.now, by=ines)
    assert owed(plan) == []
    clock.now = at(site, 3, 6)
    for place, what, number in ((strainer, "Pressure difference", "25.5"), (other, "Flow", "79.2")):
        read(place, number, ines, what=what, unit=place.unit)
    assert owed(plan) == [], "25.5 x (100 / 79.2)^2 - 12 = 28.7: good by the new terms"
    assert compare_due_items(site=site, today=on(3, 6)).differences == 0


def test_a_reading_after_new_terms_is_no_partner_of_one_before_them(
    plan: Plan, strainer: Position, flow: Position, ruth: Person, ines: Person, site: Site, clock: Clock
) -> None:
    """The pressure of 11:58 goes with the flow of 11:50; that of 12:01 is nearer and belongs to the new terms."""
    noon = at(site, 3, 4, 12)
    for minutes, place, number in ((-10, flow, "79.2"), (-2, strainer, "24.5")):
        clock.now = noon + dt.timedelta(minutes=minutes)
        read(place, number, ines, what="Flow" if place is flow else "Pressure difference", unit=place.unit)
    assert owed(plan) == [on(3, 6)]
    clock.now = noon
    change_term(plan=plan, interval=fouling(strainer, flow, high="30"), from_day=on(3, 4), why="a try", by=ruth)
    clock.now = noon + dt.timedelta(minutes=1)
    read(flow, "95", ines, what="Flow", unit="m³/h")
    assert owed(plan) == [on(3, 6)]
    assert compare_due_items(site=site, today=on(3, 4)).differences == 0


def test_the_share_of_twins_goes_on_over_an_exchanged_machine(
    site: Site, ruth: Person, ines: Person, pump: Position, clock: Clock
) -> None:
    """10 days: P-61 ran 60 h on the old and 100 h on the new machine, P-62 40 h: 80 % against 30 to 70 %."""
    twin = make_position(site=site, tag="P-62", does="moves", quantity="", unit="")
    old, new = make_asset(site=site), make_asset(site=site)
    make_fitting(position=pump, asset=old, by=ruth)
    what = WorkedOut(
        kind="twins",
        readings={"first": (pump, "Run hours"), "second": (twin, "Run hours")},
        numbers={"over": ("10", "d")},
    )
    share = Interval(
        mode="condition", source="common practice", reads_unit="%", low="30", high="70", worked_out=what
    )  # fmt: skip
    plan = make_plan(pump, by=ruth, interval=share, title="Change the duty pump")
    make_done(plan, at(site, 3, 2, 11), by=ines)
    read(old, "1000", ines)
    read(twin, "99990", ines)
    clock.now = at(site, 3, 6)
    read(old, "1060", ines)
    read(new, "7", ines)
    exchange_asset(position=pump, asset=new, by=ines)
    clock.forward(minutes=1)
    read(new, "7", ines)
    clock.now = at(site, 3, 12)
    read(new, "107", ines)
    assert owed(plan) == []
    read(twin, "30", ines, broken=CounterBroken(modulus="100000"))
    assert owed(plan) == [on(3, 12)]
    assert by_use(Occurrence.objects.open().get(plan=plan)).startswith(
        "80 %, worked out from hours of the first 1000 h"
    )
    assert compare_due_items(site=site, today=on(3, 12)).differences == 0


def test_readings_of_one_walk_belong_together_where_the_terms_say_so(
    strainer: Position, flow: Position, ruth: Person, ines: Person, site: Site, clock: Clock
) -> None:
    """The pressure 40 minutes before the flow: too far apart, but of one walk; corrected they still are."""
    both = fouling(strainer, flow)
    assert both.worked_out is not None
    walked = replace(both, worked_out=replace(both.worked_out, same_walk=True))
    plans = [make_plan(strainer, by=ruth, interval=one, title=f"{n}") for n, one in enumerate((both, walked))]
    for plan in plans:
        make_done(plan, at(site, 3, 2, 11), by=ines)
    asked = make_round(site=site, by=ruth)
    for place, what in ((strainer, "Pressure difference"), (flow, "Flow")):
        make_line(make_point(asked, by=ruth), by=ruth, kind="reading", what=what, position=place, unit=place.unit)
    clock.now = at(site, 3, 4)
    walk = begin_walk(round=asked, by=ines)
    write(stop_of(walk, 1), by=ines, typed="24.5")
    clock.forward(minutes=40)
    write(stop_of(walk, 2), by=ines, typed="79.2")
    assert [owed(plan) for plan in plans] == [[], [on(3, 6)]]
    reading = flow.readings.get()
    correct_reading(reading=reading, facts=ReadingFacts("Flow", "78", "m³/h", "display"), by=ines)
    assert [owed(plan) for plan in plans] == [[], [on(3, 6)]]
    assert compare_due_items(site=site, today=on(3, 4)).differences == 0


@pytest.mark.parametrize(
    ("change", "box", "says"),
    [
        ({"readings": {}}, "in_pressure", "choose where it is read"),
        ({"numbers": {"clean": ("12", "kPa")}}, "n_reference", "write the number"),
        ({"numbers": {"reference": ("0", "m³/h"), "clean": ("12", "kPa")}}, "n_reference", "above 0"),
        ({"numbers": {"reference": ("hundred", "m³/h"), "clean": ("12", "kPa")}}, "n_reference", "not a number"),
        ({"numbers": {"reference": ("100", "kPa"), "clean": ("12", "kPa")}}, "n_reference", "something else"),
        ({"together": 999}, "together", "not of one moment"),
        ({"baseline_from": " "}, "baseline_from", "when and by whom"),
    ],
)
def test_what_no_value_follows_from_is_refused_at_its_box(
    plan: Plan, strainer: Position, flow: Position, ruth: Person, change: dict[str, object], box: str, says: str
) -> None:
    good = fouling(strainer, flow)
    assert good.worked_out is not None
    wrong = replace(good, worked_out=replace(good.worked_out, **change))  # type: ignore[arg-type]
    with pytest.raises(Refusal) as refused:
        change_term(plan=plan, interval=wrong, from_day=on(3, 2), why="a try", by=ruth)
    assert [says in reason.sentence for reason in refused.value.reasons if reason.field == box][:1] == [True]
    assert plan.terms.count() == 1
    assert TermInput.objects.count() == 4


def test_nonsense_written_past_the_actions_fails(plan: Plan) -> None:
    term = plan.terms.get()
    for wrong in ({"number": "5"}, {"reads": "Flow"}, {"reads": "Flow", "number": "5", "unit": "h"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            TermInput.objects.create(term=term, name="x", **wrong)
    for columns in ({"computes": "strainer", "mode": "floating"}, {"season_first": dt.date(2000, 5, 1)}):
        made = {f.attname: getattr(term, f.attname) for f in term._meta.concrete_fields if not f.primary_key}
        with pytest.raises(IntegrityError), transaction.atomic():
            type(term).objects.create(**{**made, **columns})
