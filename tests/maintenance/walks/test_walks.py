"""A walk as the actions keep it: what it was asked, what was written, what counts, what it fulfils."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from assets.actions.readings import CounterBroken
from assets.errors import NotAllowed, Refusal
from assets.models import CounterBreak, Event, Person, Position, Reading, Role, Site
from maintenance.actions.walks import begin_walk, end_walk, take_second
from maintenance.actions.walks_rounds import (
    LineAsked,
    PointTyped,
    add_line,
    change_point,
    end_line,
    move_point,
    retire_point,
    retire_round,
)
from maintenance.compute.walk import Answered
from maintenance.models import Performance, StopAnswer, Walk, WalkEntry, WalkStop, WorkOrder
from maintenance.reads.walks_stop import lines_of
from tests.conftest import Clock
from tests.make import make_person, make_position, make_site
from tests.make_upkeep import make_plan, open_item
from tests.make_walks import (
    line_of,
    make_gauge,
    make_line,
    make_point,
    make_round,
    make_small_round,
    make_walk,
    stop_of,
    write,
)

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
def gauge(site: Site, ruth: Person) -> Position:
    return make_gauge(site=site, by=ruth)


@pytest.fixture
def walk(site: Site, ruth: Person, ines: Person, gauge: Position) -> Walk:
    """A walk of one check point that asks a pressure."""
    made = make_round(site=site, by=ruth)
    point = make_point(made, by=ruth, position=gauge)
    make_line(point, by=ruth, kind="reading", what="Discharge pressure", unit="kPa")
    return begin_walk(round=made, by=ines)


def test_a_number_becomes_a_reading_as_typed_with_its_face_and_the_walk_as_its_source(walk: Walk, ines: Person) -> None:
    write(stop_of(walk), by=ines, typed="688,5")
    reading = Reading.objects.get()
    assert (reading.entered, reading.unit, reading.value) == ("688,5", "kPa", 688.5)
    assert (reading.face, reading.what, reading.source) == ("display", "Discharge pressure", "walk 1, check point 1")
    assert reading.walk_entry.answer.written_by == ines


def test_what_lay_on_a_phone_keeps_the_time_it_was_written_and_the_time_it_arrived(
    walk: Walk, ines: Person, clock: Clock
) -> None:
    written = clock.forward(minutes=13)
    arrived = clock.forward(minutes=23)
    answer = write(stop_of(walk), by=ines, typed="688", waited=23 * 60)
    assert (answer.written_at, answer.recorded_at, answer.came_late) == (written, arrived, True)
    assert Reading.objects.get().taken_at == written
    assert Event.objects.about(walk).filter(verb="walk.point_written").get().happened_at == written


@pytest.mark.parametrize("waited", [-1, 8 * 24 * 3600])
def test_a_clock_that_was_changed_meanwhile_is_told(walk: Walk, ines: Person, waited: int) -> None:
    with pytest.raises(Refusal, match="clock of this phone"):
        write(stop_of(walk), by=ines, typed="688", waited=waited)


def test_the_same_key_again_is_the_same_answer(walk: Walk, ines: Person) -> None:
    first, again = (write(stop_of(walk), by=ines, typed="688", key="one", waited=waited) for waited in (0, 40))
    assert first == again
    assert (StopAnswer.objects.count(), Reading.objects.count()) == (1, 1)


def test_of_two_answers_the_first_counts_and_the_other_is_kept_as_typed_beside_it(
    walk: Walk, ines: Person, ruth: Person
) -> None:
    first, second = (
        write(stop_of(walk), by=ines, typed="688"),
        write(stop_of(walk), by=ruth, typed="742", order="corrective deferred"),
    )
    assert (second.beside, first.beside) == (first, None)
    assert [reading.entered for reading in Reading.objects.all()] == ["688"]
    assert second.entries.get().typed == "742"
    assert not WorkOrder.objects.exists()


def test_the_second_answer_can_be_taken_instead_with_the_time_it_was_written(
    walk: Walk, ines: Person, ruth: Person, clock: Clock
) -> None:
    first = write(stop_of(walk), by=ines, typed="688")
    at = clock.forward(minutes=2)
    second = write(stop_of(walk), by=ruth, typed="742")
    clock.forward(minutes=5)
    taken = take_second(second=second, by=ines, shown=first.pk)
    assert StopAnswer.objects.counting().get() == taken
    assert (taken.written_by, taken.recorded_by, taken.written_at, taken.replaces) == (ruth, ines, at, first)
    assert Reading.objects.get(entered="742").taken_at == at
    with pytest.raises(Refusal, match="counts already"):
        take_second(second=second, by=ines)


def test_read_again_the_newer_answer_counts_and_both_readings_stay(walk: Walk, ines: Person) -> None:
    first = write(stop_of(walk), by=ines, outcome="could not", because="the room is locked")
    again = write(stop_of(walk), by=ines, typed="688", shown=first.pk)
    assert StopAnswer.objects.counting().get() == again
    assert again.replaces == first


def test_questions_and_their_answers_are_kept_and_a_work_order_is_raised_once(walk: Walk, ines: Person) -> None:
    asked = (
        Answered(key="limit-high", head="Above the operating limit, 720 kPa", sentence="742…", answer="Still 742"),
    )
    for _ in range(2):
        write(
            stop_of(walk),
            by=ines,
            key="k",
            typed="742",
            first_typed="7420",
            words="told Ruth",
            asked=asked,
            order="improvement",
        )
    entry, order = WalkEntry.objects.get(), WorkOrder.objects.get()
    assert entry.order == order
    assert (entry.first_typed, "Still 742" in entry.asked) == ("7420", True)
    assert order.title == "Discharge pressure 742 kPa; Above the operating limit, 720 kPa"
    assert (order.origin_label, order.origin_path) == ("Walk 1, check point 1", f"/walk/{walk.number}/1/")


def test_a_drawdown_is_worked_out_and_keeps_what_was_typed(site: Site, ruth: Person, ines: Person) -> None:
    pump = make_position(site=site, does="moves", tag="P-31")
    made = make_round(site=site, by=ruth)
    make_line(make_point(made, by=ruth, position=pump), by=ruth, kind="drawdown", what="Feed of hypochlorite")
    stop = stop_of(begin_walk(round=made, by=ines))
    write(stop, by=ines, typed="50", seconds="41,2")
    reading = Reading.objects.get()
    # 50 mL in 41.2 s: 50 * 60 / 41.2 = 72.815533980... mL/min, by hand
    assert (reading.entered, reading.unit, reading.face) == ("72.815534", "mL/min", "computed")
    assert reading.walk_entry.typed == "50 mL in 41,2 s"


def test_a_counter_that_was_exchanged_keeps_both_numbers(site: Site, ruth: Person, ines: Person) -> None:
    pump = make_position(site=site, does="moves", tag="P-61")
    made = make_round(site=site, by=ruth)
    make_line(make_point(made, by=ruth, position=pump), by=ruth, kind="counter", what="Run hours", unit="h")
    stop = stop_of(begin_walk(round=made, by=ines))
    write(stop, by=ines, typed="0.4", broken=CounterBroken(old_last="18410.2", new_first="0"))
    assert CounterBreak.objects.get().old_last == "18410.2"


def test_a_walk_keeps_what_it_was_asked_whatever_the_round_asks_later(
    walk: Walk, ruth: Person, ines: Person, clock: Clock
) -> None:
    clock.forward(minutes=1)
    stop = stop_of(walk)
    line = line_of(stop)
    add_line(point=stop.point, typed=LineAsked(kind="look", what="Noise"), by=ruth)
    add_line(
        point=stop.point,
        typed=LineAsked(kind="reading", what="Discharge pressure", unit="bar"),
        by=ruth,
        instead_of=line,
    )
    change_point(point=stop.point, typed=PointTyped(name="Elsewhere"), by=ruth, version=None)
    again = stop_of(walk)
    assert [one.pk for one in lines_of(again)] == [line.pk]
    assert again.name == stop.name
    end_walk(walk=walk, by=ines)
    clock.forward(minutes=1)
    later = stop_of(begin_walk(round=walk.round, by=ines))
    assert [(one.what, one.unit) for one in lines_of(later)] == [("Discharge pressure", "bar"), ("Noise", "")]
    assert later.name == "Elsewhere"


def test_check_points_are_put_in_another_order_and_left_out(site: Site, ruth: Person) -> None:
    made = make_small_round(site=site, by=ruth, points=3)
    first, second, third = made.points.standing()
    move_point(point=third, to=1, by=ruth)
    assert [one.pk for one in made.points.standing()] == [third.pk, first.pk, second.pk]
    retire_point(point=first, by=ruth)
    end_line(line=second.lines.get(), by=ruth)
    assert [stop.name for stop in begin_walk(round=made, by=ruth).stops.all()] == [third.name, second.name]


def test_the_end_names_what_was_left_undone_and_fulfils_the_routine(site: Site, ruth: Person, ines: Person) -> None:
    plan = make_plan(make_position(site=site), by=ruth, title="The morning walk")
    made = make_round(site=site, by=ruth, plan=plan)
    for name in ("Intake screen", "Flotation 1", "UV"):
        make_line(make_point(made, by=ruth, name=name), by=ruth)
    was = open_item(plan).due
    walk = begin_walk(round=made, by=ines)
    write(stop_of(walk, 1), by=ines)
    ended = end_walk(walk=walk, by=ines)
    assert ended.left_undone == "2 of 3 check points left undone: Flotation 1, UV."
    done = Performance.objects.get(plan=plan)
    assert (done.counts, done.source_path) == (True, f"/walk/{walk.number}/")
    assert done.source_label == "Walk 1. 2 of 3 check points left undone: Flotation 1, UV."
    assert open_item(plan).due - was == dt.timedelta(days=30)
    with pytest.raises(Refusal, match="ended already"):
        end_walk(walk=walk, by=ines)


def test_a_walk_on_which_nothing_was_done_fulfils_nothing(site: Site, ruth: Person) -> None:
    plan = make_plan(make_position(site=site), by=ruth)
    made = make_round(site=site, by=ruth, plan=plan)
    make_point(made, by=ruth, name="UV")
    end_walk(walk=begin_walk(round=made, by=ruth), by=ruth)
    assert (Performance.objects.get().counts, Performance.objects.get().because) == (False, "no check point was done")


def test_beginning_again_goes_on_with_the_walk_of_today_and_asks_to_end_that_of_yesterday(
    site: Site, ruth: Person, ines: Person, clock: Clock
) -> None:
    made = make_small_round(site=site, by=ruth)
    walk = begin_walk(round=made, by=ines)
    assert begin_walk(round=made, by=ruth) == walk
    clock.forward(days=1)
    with pytest.raises(Refusal, match="Walk 1 of 25 November 2026 was never ended; end it first"):
        begin_walk(round=made, by=ines)


def test_after_its_end_a_walk_takes_only_what_was_written_before(walk: Walk, ines: Person, clock: Clock) -> None:
    clock.forward(minutes=10)
    end_walk(walk=walk, by=ines)
    clock.forward(minutes=10)
    with pytest.raises(Refusal, match="has ended; begin a new one"):
        write(stop_of(walk), by=ines, typed="688", waited=60)
    assert write(stop_of(walk), by=ines, typed="688", waited=15 * 60).written_at < timezone.now()


def test_who_only_reads_walks_nothing_and_an_operator_keeps_no_round(site: Site, ruth: Person, ines: Person) -> None:
    made = make_small_round(site=site, by=ruth)
    with pytest.raises(NotAllowed):
        begin_walk(round=made, by=make_person(site=site, role=Role.VIEWER))
    with pytest.raises(NotAllowed):
        make_point(made, by=ines)
    walk = begin_walk(round=made, by=ines)
    with pytest.raises(Refusal, match="being walked"):
        retire_round(round=made, by=ruth)
    end_walk(walk=walk, by=ines)
    retire_round(round=made, by=ruth)
    with pytest.raises(Refusal, match="no check point"):
        begin_walk(round=made, by=ines)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"kind": "reading", "what": "Flow", "unit": "furlong", "tagged": True}, "is not a unit"),
        ({"kind": "reading", "what": "Flow", "unit": "L/s"}, "belongs to a tag"),
        ({"kind": "counter", "what": "Run hours", "unit": "h", "modulus": "many", "tagged": True}, "not a number"),
    ],
)
def test_what_cannot_be_asked_is_told(site: Site, ruth: Person, asked: dict[str, object], says: str) -> None:
    tag = make_position(site=site) if asked.get("tagged") else None
    asked = {name: value for name, value in asked.items() if name != "tagged"}
    point = make_point(make_round(site=site, by=ruth), by=ruth, position=tag)
    with pytest.raises(Refusal, match=says):
        make_line(point, by=ruth, **asked)


def test_the_database_itself_keeps_one_answer_a_check_point_and_one_open_walk_a_round(walk: Walk, ines: Person) -> None:
    answer = write(stop_of(walk), by=ines, typed="688")
    answer.pk, answer.key = None, "another"
    with pytest.raises(IntegrityError), transaction.atomic():
        answer.save(force_insert=True)
    with pytest.raises(IntegrityError), transaction.atomic():
        Walk(site=walk.site, number=9, round=walk.round, begun_at=walk.begun_at, begun_by=ines).save(force_insert=True)
    with pytest.raises(IntegrityError), transaction.atomic():
        WalkStop.objects.filter(walk=walk).update(name="Elsewhere")


def test_a_look_that_is_not_good_says_because_at_every_door(site: Site, ines: Person) -> None:
    stop = stop_of(make_walk(site=site))
    with pytest.raises(Refusal, match="Say what is not good"):
        write(stop, by=ines, good=False)
    assert write(stop, by=ines, good=False, words="a drop a second").entries.get().good is False
    assert dt.timedelta(0) <= timezone.now() - StopAnswer.objects.get().written_at
