"""Due items as stored: each act rewrites them through the one formula, and nothing else does.

The days are worked by hand from the routine's terms, beside each story; that a late day counts from the due day and a
record dates from when the work was done, not from when it was entered, is common practice, no source.
"""

from __future__ import annotations

import datetime as dt

import pytest

from assets.actions.fittings import exchange_asset
from assets.actions.plant import retire_position
from assets.errors import NotAllowed, Refusal
from assets.models import Event, Person, Position, Role, Site
from maintenance.actions.routines import change_term, retire_routine
from maintenance.compute.schedule import not_fulfilled
from maintenance.models import Occurrence, Performance, Plan
from maintenance.reads.due_facts import known_of
from tests.conftest import Clock
from tests.make import make_area, make_asset, make_fitting, make_person, make_position, make_site
from tests.make_upkeep import fixed, floating, make_done, make_plan

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


@pytest.fixture
def ines(site: Site) -> Person:
    return make_person(site=site, role=Role.OPERATOR, name="Ines Calder")


@pytest.fixture
def tag(site: Site) -> Position:
    make_area(site=site)
    return make_position(site=site)


def at(site: Site, month: int, day: int, hour: int = 12, minute: int = 0) -> dt.datetime:
    return dt.datetime(2026, month, day, hour, minute, tzinfo=site.zone)


def on(month: int, day: int) -> dt.date:
    return dt.date(2026, month, day)


def stood(plan: Plan) -> list[tuple[str, str, str]]:
    """Return due day, how it ended, and on which day, of every due item."""
    rows = Occurrence.objects.filter(plan=plan).order_by("raw", "turn")
    return [(str(row.raw), row.ended, str(row.ended_on or "")) for row in rows]


def next_due(plan: Plan) -> dt.date:
    return Occurrence.objects.open().filter(plan=plan).order_by("due")[0].due


def test_a_new_routine_without_history_is_due_the_day_it_begins(clock: Clock, tag: Position, ruth: Person) -> None:
    clock.set(2026, 3, 2, 12, tz=tag.site.zone)
    plan = make_plan(tag, by=ruth)
    row = Occurrence.objects.get(plan=plan)
    assert (row.due, row.latest, row.why, row.ended) == (on(3, 2), on(3, 2), "no record", "open")


def test_the_month_end_comes_back_after_february(clock: Clock, tag: Position, ruth: Person, ines: Person) -> None:
    # Monthly from 31 January, calendar: 28 February, 31 March, 30 April, 31 May.
    clock.set(2026, 1, 31, 12, tz=tag.site.zone)
    plan = make_plan(tag, by=ruth, interval=fixed(on(1, 31)))
    for month, day in [(1, 31), (2, 28), (3, 31), (4, 30)]:
        clock.set(2026, month, day, 12, tz=tag.site.zone)
        make_done(plan, at(tag.site, month, day), by=ines)
    assert [due for due, *_ in stood(plan)] == [
        "2026-02-28",
        "2026-03-31",
        "2026-04-30",
        "2026-05-31",
    ]


def test_quarters_from_the_end_of_november_of_a_leap_year(clock: Clock, tag: Position, ruth: Person) -> None:
    # Calendar: 29 February 2028 exists; then 30 May, not 29 May.
    clock.set(2027, 12, 1, 12, tz=tag.site.zone)
    plan = make_plan(tag, by=ruth, interval=fixed(dt.date(2027, 11, 30), 3))
    for month, day in [(2, 29), (5, 30)]:
        clock.set(2028, month, day, 12, tz=tag.site.zone)
        make_done(plan, dt.datetime(2028, month, day, 12, tzinfo=tag.site.zone), by=ruth)
    assert [due for due, *_ in stood(plan)][-3:] == ["2028-02-29", "2028-05-30", "2028-08-30"]


def monthly_done_in_february(clock: Clock, tag: Position, ruth: Person) -> Plan:
    clock.set(2026, 2, 28, 12, tz=tag.site.zone)
    plan = make_plan(tag, by=ruth, interval=fixed(on(1, 31)), from_day=on(2, 28))
    make_done(plan, at(tag.site, 2, 28), by=ruth)
    return plan


def test_fixed_and_late_keeps_its_dates(clock: Clock, tag: Position, ruth: Person) -> None:
    plan = monthly_done_in_february(clock, tag, ruth)
    clock.set(2026, 4, 5, 12, tz=tag.site.zone)
    make_done(plan, at(tag.site, 4, 5), by=ruth)
    assert stood(plan)[-2:] == [("2026-03-31", "done", "2026-04-05"), ("2026-04-30", "open", "")]


def test_one_job_closes_the_newest_and_the_older_one_is_missed(clock: Clock, tag: Position, ruth: Person) -> None:
    clock.set(2026, 1, 31, 12, tz=tag.site.zone)
    plan = make_plan(tag, by=ruth, interval=fixed(on(1, 31), early=0))
    make_done(plan, at(tag.site, 1, 31), by=ruth)
    clock.set(2026, 4, 2, 12, tz=tag.site.zone)
    make_done(plan, at(tag.site, 4, 2), by=ruth)
    assert stood(plan)[-3:] == [
        ("2026-02-28", "missed", "2026-03-31"),
        ("2026-03-31", "done", "2026-04-02"),
        ("2026-04-30", "open", ""),
    ]


@pytest.mark.parametrize(("day", "closed"), [(25, True), (20, False)])
def test_the_early_window_is_a_week(clock: Clock, tag: Position, ruth: Person, day: int, closed: bool) -> None:
    plan = monthly_done_in_february(clock, tag, ruth)
    clock.set(2026, 3, day, 12, tz=tag.site.zone)
    make_done(plan, at(tag.site, 3, day), by=ruth)
    row = Occurrence.objects.get(plan=plan, turn="2026-03-31")
    assert (row.ended == "done") is closed
    assert row.earliest == on(3, 24)


def done_on_10_march(clock: Clock, tag: Position, ruth: Person, *, key: str = "first") -> Plan:
    clock.set(2026, 3, 1, 12, tz=tag.site.zone)
    plan = make_plan(tag, by=ruth, interval=floating(30))
    clock.set(2026, 3, 14, 12, tz=tag.site.zone)
    make_done(plan, at(tag.site, 3, 10), by=ruth, key=key)
    return plan


def test_it_counts_from_the_day_of_the_work_not_of_its_entry(clock: Clock, tag: Position, ruth: Person) -> None:
    # 10 March + 30 days = 9 April.
    assert next_due(done_on_10_march(clock, tag, ruth)) == on(4, 9)


def test_a_late_record_of_earlier_work_moves_nothing(clock: Clock, tag: Position, ruth: Person) -> None:
    plan = done_on_10_march(clock, tag, ruth)
    clock.set(2026, 3, 20, 12, tz=tag.site.zone)
    make_done(plan, at(tag.site, 3, 5), by=ruth)
    assert next_due(plan) == on(4, 9)
    assert ("2026-04-04", "done", "2026-03-10") in stood(plan)  # 5 March + 30 days, done by the job of 10 March


def test_a_correction_of_the_day_moves_the_next_one(clock: Clock, tag: Position, ruth: Person) -> None:
    plan = done_on_10_march(clock, tag, ruth)
    wrong = Performance.objects.get(plan=plan)
    clock.set(2026, 4, 1, 12, tz=tag.site.zone)
    make_done(plan, at(tag.site, 3, 1), by=ruth, replaces=wrong)
    assert next_due(plan) == on(3, 31)  # 1 March + 30 days
    assert Event.objects.filter(verb="performance.corrected").count() == 1


def test_a_record_is_corrected_once(clock: Clock, tag: Position, ruth: Person) -> None:
    plan = done_on_10_march(clock, tag, ruth)
    wrong = Performance.objects.get(plan=plan)
    make_done(plan, at(tag.site, 3, 9), by=ruth, replaces=wrong)
    with pytest.raises(Refusal, match="corrected already"):
        make_done(plan, at(tag.site, 3, 8), by=ruth, replaces=wrong)


@pytest.mark.parametrize("because", ["failed, not restored", "not valid"])
def test_work_that_does_not_count_leaves_it_due(clock: Clock, tag: Position, ruth: Person, because: str) -> None:
    clock.set(2026, 2, 8, 12, tz=tag.site.zone)
    plan = make_plan(tag, by=ruth, interval=floating(30))
    make_done(plan, at(tag.site, 2, 8), by=ruth)
    clock.set(2026, 3, 10, 12, tz=tag.site.zone)
    make_done(plan, at(tag.site, 3, 10), by=ruth, because=because)
    assert next_due(plan) == on(3, 10)  # 8 February + 30 days
    second = not_fulfilled(known_of([plan])[plan.pk].facts, on(3, 10))
    assert second is not None and second.because == because


def test_twice_on_one_day_is_once_and_extra(clock: Clock, tag: Position, ruth: Person) -> None:
    clock.set(2026, 2, 8, 12, tz=tag.site.zone)
    plan = make_plan(tag, by=ruth, interval=floating(30))
    make_done(plan, at(tag.site, 2, 8), by=ruth)
    clock.set(2026, 3, 10, 20, tz=tag.site.zone)
    make_done(plan, at(tag.site, 3, 10, 9), by=ruth)
    make_done(plan, at(tag.site, 3, 10, 15), by=ruth)
    assert stood(plan) == [("2026-03-10", "done", "2026-03-10"), ("2026-04-09", "open", "")]


def test_the_same_key_again_is_nothing(clock: Clock, tag: Position, ruth: Person) -> None:
    plan = done_on_10_march(clock, tag, ruth, key="sent")
    events = Event.objects.count()
    again = make_done(plan, at(tag.site, 3, 10), by=ruth, key="sent")
    assert again == Performance.objects.get(plan=plan)
    assert Event.objects.count() == events


def test_a_key_of_another_routine_is_refused(clock: Clock, tag: Position, ruth: Person) -> None:
    done_on_10_march(clock, tag, ruth, key="sent")
    other = make_plan(tag, by=ruth, title="Another")
    with pytest.raises(Refusal, match="one record fulfils one routine"):
        make_done(other, at(tag.site, 3, 10), by=ruth, key="sent")


@pytest.mark.parametrize(("decided", "due"), [(20, on(3, 20)), (10, on(3, 15))])
def test_a_shorter_interval_is_not_late_before_it_was_decided(
    clock: Clock, tag: Position, ruth: Person, decided: int, due: dt.date
) -> None:
    # Last done 1 March; 14 days are 15 March, but nobody was asked before the decision.
    clock.set(2026, 3, 1, 12, tz=tag.site.zone)
    plan = make_plan(tag, by=ruth, interval=floating(30))
    make_done(plan, at(tag.site, 3, 1), by=ruth)
    clock.set(2026, 3, decided, 12, tz=tag.site.zone)
    change_term(plan=plan, interval=floating(14), from_day=on(3, decided), why="Two failures in a row.", by=ruth)
    assert next_due(plan) == due


def test_a_longer_interval_cures_nothing_overdue(clock: Clock, tag: Position, ruth: Person) -> None:
    plan = done_on_10_march(clock, tag, ruth)
    clock.set(2026, 4, 20, 12, tz=tag.site.zone)
    change_term(plan=plan, interval=floating(90), from_day=on(4, 20), why="Stable for years.", by=ruth)
    assert next_due(plan) == on(4, 9)


def test_a_retired_routine_is_withdrawn_not_missed(clock: Clock, tag: Position, ruth: Person) -> None:
    plan = done_on_10_march(clock, tag, ruth)
    retire_routine(plan=plan, because="replaced by the weekly one", by=ruth)
    row = Occurrence.objects.get(plan=plan, raw=on(4, 9))
    assert (row.ended, row.because) == ("withdrawn", "replaced by the weekly one")


def test_routines_end_with_their_tag(clock: Clock, tag: Position, ruth: Person) -> None:
    plan = make_plan(tag, by=ruth)
    retire_position(position=tag, by=ruth)
    row = Occurrence.objects.get(plan=plan)
    assert (row.ended, row.because) == ("withdrawn", "the tag was retired")
    assert Event.objects.filter(verb="routine.retired").count() == 1


def test_a_swapped_asset_owes_its_routines_before_use(clock: Clock, tag: Position, ruth: Person) -> None:
    # Done 1 March on the old probe; the new one fitted 5 March 09:00 owes it that day, then 5 March + 30 = 4 April.
    make_fitting(position=tag, asset=make_asset(site=tag.site), by=ruth, from_at=at(tag.site, 1, 10))
    clock.set(2026, 3, 1, 12, tz=tag.site.zone)
    plan = make_plan(tag, by=ruth, interval=floating(30), follows="asset")
    make_done(plan, at(tag.site, 3, 1), by=ruth)
    clock.set(2026, 3, 5, 9, tz=tag.site.zone)
    probe = make_asset(site=tag.site)
    exchange_asset(position=tag, asset=probe, by=ruth)
    row = Occurrence.objects.open().get(plan=plan)
    assert (row.due, row.why) == (on(3, 5), "before use")
    clock.set(2026, 3, 5, 16, tz=tag.site.zone)
    make_done(plan, at(tag.site, 3, 5, 15), by=ruth, asset=probe)
    assert next_due(plan) == on(4, 4)


def test_the_day_of_the_work_is_the_plants_not_that_of_greenwich(clock: Clock, tag: Position, ruth: Person) -> None:
    # 4 March 23:50 in Denver is 5 March in UTC; 4 March + 5 days = 9 March.
    clock.set(2026, 3, 4, 23, 55, tz=tag.site.zone)
    plan = make_plan(tag, by=ruth, interval=floating(5))
    done = make_done(plan, at(tag.site, 3, 4, 23, 50), by=ruth)
    assert done.performed_on == on(3, 4)
    assert next_due(plan) == on(3, 9)


def test_work_in_the_future_is_refused_at_its_field(clock: Clock, tag: Position, ruth: Person) -> None:
    plan = make_plan(tag, by=ruth)
    with pytest.raises(Refusal) as refused:
        make_done(plan, clock.now + dt.timedelta(hours=1), by=ruth)
    assert [reason.field for reason in refused.value.reasons] == ["performed_at"]
    assert not Performance.objects.exists()


def test_who_may(clock: Clock, tag: Position, ruth: Person, ines: Person) -> None:
    plan = make_plan(tag, by=ruth)
    viewer = make_person(site=tag.site, role=Role.VIEWER)
    with pytest.raises(NotAllowed):
        make_done(plan, clock.now, by=viewer)
    with pytest.raises(NotAllowed):
        change_term(plan=plan, interval=floating(14), from_day=on(11, 25), why="shorter", by=ines)
    with pytest.raises(NotAllowed):
        retire_routine(plan=plan, because="not needed", by=ines)
    with pytest.raises(NotAllowed):
        make_plan(tag, by=ines)


def test_each_act_leaves_one_event_of_its_verb(clock: Clock, tag: Position, ruth: Person) -> None:
    plan = done_on_10_march(clock, tag, ruth)
    change_term(plan=plan, interval=floating(14), from_day=on(3, 14), why="Two failures.", by=ruth)
    retire_routine(plan=plan, because="replaced", by=ruth)
    for verb in ("routine.registered", "performance.recorded", "routine.term_changed", "routine.retired"):
        assert Event.objects.filter(verb=verb).count() == 1, verb
