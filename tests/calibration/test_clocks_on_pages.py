"""Clocks of monitors that are out: 40 CFR 141.174(b), from signed checks, fittings, grabs and the site's own days."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client

from assets.actions import ReadingFacts, record_reading
from assets.actions.fittings import fit_asset, take_out_asset
from assets.actions.site_rules import RuleTyped, add_holiday, set_rule, start_running, stop_running
from assets.history import act
from assets.models import Person, Position, Production, Role, Site
from calibration.actions.drafts import begin_correction, keep_draft
from calibration.reads import clocks
from calibration.reads.clocks import Clock, clocks_at
from calibration.reads.handover import tell_checks
from maintenance.reads.handover import told_at
from tests.conftest import Clock as Stopped
from tests.make import make_asset, make_fitting, make_person, make_position, make_site
from tests.make_checks import FAILING, Bench

pytestmark = pytest.mark.django_db

MINUTES = dt.timedelta(minutes=1)


class Works:
    """A site whose filtered water is watched by one turbidity meter, fitted since a week."""

    def __init__(self, clock: Stopped) -> None:
        self.clock = clock
        self.site: Site = make_site()
        self.ruth: Person = make_person(site=self.site, role=Role.SUPERVISOR)
        self.tag: Position = make_position(
            site=self.site, tag="AIT-350", quantity="turbidity", unit="NTU", compliance_point=True
        )
        before = clock.now - dt.timedelta(days=7)
        make_fitting(position=self.tag, asset=make_asset(site=self.site), by=self.ruth, from_at=before)

    def taken_away(self) -> None:
        take_out_asset(position=self.tag, by=self.ruth)

    def grab(self, **facts: object) -> None:
        typed = {"what": "turbidity", "entered": "0.12", "unit": "NTU", "face": "grab", **facts}
        record_reading(of=self.tag, facts=ReadingFacts(**typed), by=self.ruth)  # type: ignore[arg-type]

    @property
    def one(self) -> Clock:
        (only,) = clocks_at(self.site, self.clock.now)
        return only


def at_the_plant(clock: Stopped, *moment: int) -> None:
    """Set the clock by the time of the plant in summer, six hours behind."""
    clock.set(*moment)
    clock.forward(hours=6)


# Working days by hand from a calendar of 2026: 22 May is a Friday, 25 May Memorial Day, 29 June a Monday.
@pytest.mark.parametrize(
    ("failed", "holidays", "counted", "last_day"),
    [
        ((2026, 5, 22, 10, 0), ["2026-05-25"], "no", "2026-06-01"),
        ((2026, 5, 22, 10, 0), [], "no", "2026-05-29"),
        ((2026, 5, 22, 10, 0), ["2026-05-25"], "yes", "2026-05-29"),
        ((2026, 5, 22, 10, 0), [], "yes", "2026-05-28"),
        ((2026, 6, 29, 10, 0), ["2026-07-03"], "no", "2026-07-07"),
        ((2026, 6, 29, 10, 0), ["2026-07-03"], "yes", "2026-07-06"),
    ],
)
def test_five_working_days_by_the_sites_own_holidays_and_rules(
    clock: Stopped, failed: tuple[int, ...], holidays: list[str], counted: str, last_day: str
) -> None:
    at_the_plant(clock, *failed)
    works = Works(clock)
    for day in holidays:
        add_holiday(site=works.site, day=dt.date.fromisoformat(day), name="a holiday", by=works.ruth)
    today = clock.now.date()
    typed = RuleTyped("clock_counts_failure_day", counted, "state rule, invented", "as told by the state", today)
    if counted == "yes":
        set_rule(site=works.site, typed=typed, by=works.ruth)
    works.taken_away()
    assert works.one.last_day == dt.date.fromisoformat(last_day)
    # It ends with that day, at 24:00 of the plant: six hours later in UTC.
    end = dt.datetime.combine(works.one.last_day + dt.timedelta(days=1), dt.time(6), tzinfo=dt.UTC)
    assert works.one.ends == end
    clock.now = end
    assert works.one.shown.word == "Monitor out"
    clock.now = end + MINUTES
    assert works.one.shown.word == "Time is up"


def test_grabs_are_owed_every_four_hours_while_water_is_made(clock: Stopped) -> None:
    works = Works(clock)
    start_running(site=works.site, unit=None, by=works.ruth)
    works.taken_away()
    failed = clock.now
    assert works.one.next_grab == failed + dt.timedelta(hours=4)
    clock.forward(hours=3)
    works.grab()
    assert (works.one.said, works.one.next_grab) == ("1 grab sample in time", failed + dt.timedelta(hours=7))
    works.grab(entered="0.13", face="display")  # what the monitor shows is no grab
    works.grab(entered="7.10", what="pH", unit="pH")  # nor is another quantity
    assert works.one.next_grab == failed + dt.timedelta(hours=7)
    clock.forward(hours=4, minutes=1)
    assert works.one.said == "1 grab sample in time, 1 missed"
    stop_running(running=Production.objects.get(site=works.site), by=works.ruth)
    clock.forward(hours=30)
    assert works.one.missed == 2  # the one of the hour in which it still ran; none while it stood


def test_four_hours_really_pass_in_the_night_in_which_clocks_go_forward(clock: Stopped) -> None:
    clock.set(2026, 3, 8, 4, 0)  # 7 March, 21:00 in Denver
    works = Works(clock)
    clock.forward(hours=1)
    works.taken_away()
    due = works.one.next_grab
    assert due is not None
    assert f"{due.astimezone(works.site.zone):%d %b %H:%M}" == "08 Mar 03:00"


def test_what_no_rule_watches_without_a_gap_has_no_clock(clock: Stopped) -> None:
    works = Works(clock)
    for quantity, unit, point in (("pH", "pH", True), ("turbidity", "NTU", False), ("flow", "L/s", True)):
        tag = make_position(site=works.site, quantity=quantity, unit=unit, compliance_point=point)
        fitted = make_asset(site=works.site)
        make_fitting(position=tag, asset=fitted, by=works.ruth, from_at=clock.now - dt.timedelta(days=1))
        take_out_asset(position=tag, by=works.ruth)
    assert clocks_at(works.site, clock.now) == ()
    works.taken_away()
    assert works.one.position == works.tag
    clock.forward(hours=1)
    fit_asset(position=works.tag, asset=make_asset(site=works.site), by=works.ruth)
    assert clocks_at(works.site, clock.now) == ()


def test_a_monitor_out_for_a_year_is_still_told(clock: Stopped) -> None:
    works = Works(clock)
    works.taken_away()
    clock.forward(days=365)
    one = works.one
    assert one.shown.word == "Time is up"
    assert one.counted_from > one.since
    assert one.missed > 400


# ------------------------------------------------------------------------------------------------------ from the checks


@pytest.fixture
def watched(clock: Stopped, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """The bench's place as if a rule watched its quantity; how checks are folded does not depend on the quantity."""
    monkeypatch.setattr(clocks, "CLOCKED", ("pH",))
    bench = Bench()
    with act(site=bench.site, by=bench.supervisor) as opened:
        opened.change(bench.position, expect={}, compliance_point=True)
        opened.write("position.changed", subject=bench.position)
    return bench


def test_a_failed_check_starts_it_at_the_time_of_the_readings_and_as_left_ends_it(
    watched: Bench, clock: Stopped
) -> None:
    assert clocks_at(watched.site, clock.now) == ()
    check = watched.check(FAILING)
    clock.forward(minutes=20)
    (one,) = clocks_at(watched.site, clock.now)
    assert one.since == check.sets.get().performed_at
    assert (one.because, one.url) == (f"check {check.number} failed", check.get_absolute_url())
    clock.forward(minutes=20)
    watched.sign(watched.draft({"done": "adjusted"}, stage="as left", check=check))
    clock.forward(minutes=1)
    assert clocks_at(watched.site, clock.now) == ()


def test_a_second_fail_does_not_start_it_anew_and_a_second_standard_that_passes_ends_it(
    watched: Bench, clock: Stopped
) -> None:
    check = watched.check(FAILING)
    since = check.sets.get().performed_at
    clock.forward(minutes=10)
    other = ("7b", "10b")
    watched.sign(watched.draft({"point1_shown": "7.20"}, stage="confirming", check=check, lots=other))
    clock.forward(days=1)
    assert [one.since for one in clocks_at(watched.site, clock.now)] == [since]


def test_a_good_second_standard_says_the_monitor_was_never_out(watched: Bench, clock: Stopped) -> None:
    check = watched.check(FAILING)
    clock.forward(minutes=10)
    watched.sign(watched.draft({}, stage="confirming", check=check, lots=("7b", "10b")))
    clock.forward(minutes=1)
    assert clocks_at(watched.site, clock.now) == ()


def test_a_corrected_check_counts_no_more(watched: Bench, clock: Stopped) -> None:
    check = watched.check(FAILING)
    clock.forward(minutes=10)
    draft = begin_correction(check=check, why="read as 7.20, it was 7.02", by=watched.operator)
    typed = {**draft.typed["fields"], "point1_shown": "7.02", "next": "nothing"}
    draft = keep_draft(draft=draft, fields=typed, answers={}, version=draft.version, settles=False, by=watched.operator)
    watched.sign(draft)
    assert clocks_at(watched.site, clock.now) == ()


# ------------------------------------------------------------------------------------------------------------ on pages


def test_it_stands_on_today_on_the_tag_in_review_and_at_the_change_of_shift(clock: Stopped, client: Client) -> None:
    works = Works(clock)
    client.force_login(works.ruth, backend="django.contrib.auth.backends.ModelBackend")
    pages = ("/", f"/tag/{works.tag.label_code}/", "/review/")
    assert all("Monitors out" not in client.get(page).content.decode() for page in pages)
    works.taken_away()
    clock.forward(minutes=1)
    for page in pages:
        html = client.get(page).content.decode()
        assert "Monitors out, 1" in html
        assert "was taken away and nothing is fitted" in html
    told = [one for one in told_at(works.site, works.ruth, clock.now - dt.timedelta(hours=8), clock.now) if one.key]
    assert [(one.kind, one.tag, one.key) for one in told] == [("Monitor out", "AIT-350", f"clock {works.tag.pk}")]


def test_a_grab_sample_is_written_from_the_panel(clock: Stopped, client: Client) -> None:
    works = Works(clock)
    works.taken_away()
    clock.forward(minutes=5)
    client.force_login(works.ruth, backend="django.contrib.auth.backends.ModelBackend")
    there = f"/plant/tags/{works.tag.pk}/readings/new/?face=grab"
    assert f'href="{there}"' in client.get("/").content.decode()
    assert client.get(there).context["page"].form["face"].value() == "grab"
    answer = client.post(there, {"what": "turbidity", "entered": "0.11", "unit": "NTU", "face": "grab", "key": "k1"})
    assert answer.status_code == 302
    assert works.one.taken == 1


def test_the_handover_tells_a_clock_with_days_as_every_page_writes_them(clock: Stopped) -> None:
    at_the_plant(clock, 2026, 5, 22, 10, 0)
    works = Works(clock)
    start_running(site=works.site, unit=None, by=works.ruth)
    works.taken_away()
    told = [one for one in tell_checks(works.site, works.ruth, clock.now, clock.now) if one.key]
    assert told[0].title == "Out since 22 May 2026, 10:00, back by the end of 29 May 2026"
    assert told[0].text.startswith("Next grab sample by 22 May 2026, 14:00.")
