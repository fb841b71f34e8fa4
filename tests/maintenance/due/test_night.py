"""At night every stored due item is worked out anew; faults put in by hand are all named and none is mended."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.management import CommandError, call_command

from assets.models import Event, NightReport, Role, Site
from maintenance.actions.nightly import at_night, carry_forward, compare_due_items
from maintenance.models import Occurrence, Plan
from maintenance.reads.due import DueFilter, due_page
from maintenance.reads.due_facts import stored_items
from maintenance.reads.nightly import last_night
from maintenance.tasks import nightly
from tests.conftest import Clock
from tests.make import make_person, make_position, make_site
from tests.make_upkeep import fixed, floating, make_done, make_plan, open_item

pytestmark = pytest.mark.django_db
TODAY = dt.date(2026, 11, 25)


@pytest.fixture
def site(clock: Clock) -> Site:
    return make_site()


@pytest.fixture
def plans(site: Site, clock: Clock) -> list[Plan]:
    """Three routines, each once done in time and due again."""
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    made = []
    for title in ("One", "Two", "Three"):
        plan = make_plan(make_position(site=site), by=ruth, title=title, from_day=dt.date(2026, 10, 1))
        make_done(plan, dt.datetime(2026, 10, 1, 12, tzinfo=site.zone), by=ruth)
        made.append(plan)
    return made


def extra_row(plan: Plan) -> None:
    days = dict.fromkeys(("raw", "due", "earliest", "latest"), dt.date(2026, 12, 24))
    Occurrence.objects.create(plan=plan, site=plan.site, turn="2026-12-24", **days)


def test_nothing_is_said_where_nothing_is_wrong(site: Site, plans: list[Plan]) -> None:
    report = compare_due_items(site=site, today=TODAY)
    assert (report.differences, report.text) == (0, "")


def test_each_seeded_fault_is_named_and_none_is_mended(site: Site, plans: list[Plan]) -> None:
    one, two, three = (open_item(plan) for plan in plans)
    Occurrence.objects.filter(pk=one.pk).update(due=one.due + dt.timedelta(days=5), latest=one.latest + dt.timedelta(5))
    two.delete()
    extra_row(plans[2])
    before = stored_items(plans)
    report = compare_due_items(site=site, today=TODAY)
    lines = report.text.splitlines()
    assert report.differences == 3
    assert "due 2026-11-05 instead of 2026-10-31, latest 2026-11-05 instead of 2026-10-31" in lines[0]
    assert lines[1].startswith(f"Two, {plans[1].position}") and "2026-10-31" in lines[1] and "is missing" in lines[1]
    assert "2026-12-24" in lines[2] and "nothing asks for it" in lines[2]
    assert stored_items(plans) == before
    assert three.due == open_item(plans[2]).due


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("raw", dt.date(2026, 10, 30)),
        ("earliest", dt.date(2026, 10, 1)),
        ("blocked_from", dt.date(2026, 10, 31)),
        ("missed_from", dt.date(2026, 11, 30)),
        ("why", "before use"),
        ("because", "locked"),
    ],
)
def test_a_fault_in_any_column_is_found(site: Site, plans: list[Plan], column: str, value: object) -> None:
    Occurrence.objects.filter(pk=open_item(plans[0]).pk).update(**{column: value})
    report = compare_due_items(site=site, today=TODAY)
    assert report.differences == 1
    assert column in report.text


def test_a_day_later_nothing_differs_without_a_fault(site: Site, clock: Clock) -> None:
    # What time alone brings, a fixed date that comes near, is no difference.
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    make_plan(make_position(site=site), by=ruth, interval=fixed(dt.date(2026, 11, 26), 1, "day"))
    for _ in range(5):
        clock.forward(days=1)
        assert compare_due_items(site=site, today=clock.now.astimezone(site.zone).date()).differences == 0


def test_days_are_carried_forward_but_a_fault_is_left_to_be_seen(site: Site, clock: Clock) -> None:
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    anchor = dt.date(2026, 11, 26)
    good, bad = (
        make_plan(make_position(site=site), by=ruth, interval=fixed(anchor, 1, "week"), title=t) for t in ("a", "b")
    )
    Occurrence.objects.filter(plan=bad, turn="2026-11-26").delete()
    clock.forward(days=30)
    today = clock.now.astimezone(site.zone).date()
    assert carry_forward(site=site, today=today) == 1
    assert Occurrence.objects.filter(plan=good, turn="2026-12-24").exists()
    assert not Occurrence.objects.filter(plan=bad, turn="2026-12-24").exists()
    assert Event.objects.filter(verb="due.carried_forward").count() == 1
    assert compare_due_items(site=site, today=today).differences == 1
    assert carry_forward(site=site, today=today) == 0


def test_turns_passed_while_nothing_ran_are_missed_and_the_newest_is_owed(site: Site, clock: Clock) -> None:
    # Weekly on fixed days from 26 November; on 11 December those of 26 November and 3 December have passed undone.
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    plan = make_plan(make_position(site=site), by=ruth, interval=fixed(dt.date(2026, 11, 26), 1, "week"))
    clock.forward(days=16)
    carry_forward(site=site, today=dt.date(2026, 12, 11))
    ended = dict(Occurrence.objects.filter(plan=plan, turn__startswith="2026").values_list("turn", "ended"))
    # Stored for the fortnight to come, up to 25 December, and the first one after it.
    ahead = {"2026-12-17": "open", "2026-12-24": "open", "2026-12-31": "open"}
    assert ended == {"2026-11-26": "missed", "2026-12-03": "missed", "2026-12-10": "open", **ahead}


def test_a_fortnight_without_the_task_loses_no_day_of_a_daily_routine(site: Site, clock: Clock) -> None:
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    first = clock.now.astimezone(site.zone).date()
    plan = make_plan(make_position(site=site), by=ruth, interval=fixed(first, 1, "day"))
    make_done(plan, clock.now, by=ruth)
    for days in range(1, 15):
        (row,) = [r for v in due_page(site, DueFilter(), first + dt.timedelta(days=days)).visits for r in v.rows]
        assert (row.due, row.state.word) == (first + dt.timedelta(days=days), "Due today")


def test_the_task_runs_once_a_night_after_two_oclock_at_the_site(site: Site, clock: Clock) -> None:
    clock.set(2026, 11, 26, 1, 30, tz=site.zone)
    assert at_night(site) is None
    clock.set(2026, 11, 26, 2, 30, tz=site.zone)
    assert nightly() == f"{site}: 0 differences"
    assert nightly() == "nothing to do"
    clock.set(2026, 11, 26, 23, 30, tz=site.zone)
    assert nightly() == "nothing to do"
    assert NightReport.objects.count() == 1


@pytest.mark.parametrize("day", [(3, 8), (11, 1)])
def test_neither_clock_change_skips_or_doubles_it(site: Site, clock: Clock, day: tuple[int, int]) -> None:
    # 8 March 2026 has no 02:30 in Denver, 1 November 2026 has 01:30 twice (IANA time zone database).
    clock.set(2026, *day, 0, 15, tz=site.zone)
    reports = 0
    for _ in range(24):
        reports += nightly() != "nothing to do"
        clock.forward(hours=1)
    assert reports == 1


def test_a_comparison_that_stopped_running_is_said_to_be_stale(site: Site, clock: Clock) -> None:
    assert last_night(site, TODAY) is None
    compare_due_items(site=site, today=TODAY)
    assert last_night(site, TODAY + dt.timedelta(days=1)).stale is False  # type: ignore[union-attr]
    assert last_night(site, TODAY + dt.timedelta(days=2)).stale is True  # type: ignore[union-attr]


def test_the_command_says_the_same_and_writes_nothing(
    site: Site, plans: list[Plan], capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("check_due")
    assert "agrees with the facts" in capsys.readouterr().out
    open_item(plans[0]).delete()
    events = Event.objects.count()
    with pytest.raises(CommandError, match="1 due items differ"):
        call_command("check_due", site=site.name)
    assert "is missing" in capsys.readouterr().out
    assert (Event.objects.count(), NightReport.objects.count()) == (events, 0)
    with pytest.raises(CommandError, match="no site named"):
        call_command("check_due", site="Nowhere")


def test_the_number_of_routines_adds_no_query(site: Site, clock: Clock, django_assert_num_queries: object) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from maintenance.reads.nightly import differences

    ruth = make_person(site=site, role=Role.SUPERVISOR)
    position = make_position(site=site)
    taken = []
    for number in (2, 18):
        for n in range(number):
            make_plan(position, by=ruth, title=f"{number} {n}", interval=floating(7))
        with CaptureQueriesContext(connection) as queries:
            assert not list(differences(site, TODAY))
        taken.append(len(queries))
    assert taken[0] == taken[1]
