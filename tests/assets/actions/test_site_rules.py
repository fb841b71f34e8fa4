"""Rules of the site with their dates, holidays, and when units ran; and what each refuses."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assets import actions
from assets.actions import CounterBroken, ReadingFacts, RuleTyped
from assets.compute.site_rules import BY_NAME, RULES, as_written
from assets.errors import NotAllowed, Refusal, Stale
from assets.models import CounterBreak, Event, Holiday, Person, Production, Reading, Role, Setting, Site
from assets.reads.site_rules import holidays_of, rules_on
from tests.make import make_person, make_position, make_site

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 11, 25)


@pytest.fixture
def site(clock: object) -> Site:
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR)


@pytest.fixture
def ines(site: Site) -> Person:
    return make_person(site=site)


def typed(name: str = "grab_hours", value: str = "2", **other: object) -> RuleTyped:
    facts = {"source": "permit 12", "why": "asked for by the state", "from_day": DAY, **other}
    return RuleTyped(name=name, value=value, **facts)  # type: ignore[arg-type]


def fields(refused: pytest.ExceptionInfo[Refusal]) -> list[str]:
    return [reason.field for reason in refused.value.reasons]


def test_every_default_is_a_value_that_could_be_typed_and_names_its_source() -> None:
    for rule in RULES:
        assert bool(rule.default) == bool(rule.source), rule.name
        if rule.default:
            assert as_written(rule, rule.default) == rule.default, rule.name


@pytest.mark.parametrize(
    ("name", "value", "kept"),
    [
        ("grab_hours", "2,5", "2.5"),
        ("clock_days", "14", "14"),
        ("shift_times", "18:30, 6:30", "06:30 18:30"),
        ("clock_counts_failure_day", "yes", "yes"),
        ("hours_a_week", "22", "22"),
    ],
)
def test_a_value_is_kept_in_one_spelling(name: str, value: str, kept: str) -> None:
    assert as_written(BY_NAME[name], value, decimal_mark=",") == kept


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("grab_hours", "four", "is not a number"),
        ("grab_hours", "0.5", "is outside 1 to 24"),
        ("grab_hours", "25", "is outside 1 to 24"),
        ("clock_days", "4.5", "is no whole number"),
        ("clock_counts_failure_day", "perhaps", "Choose one of"),
        ("digest_time", "25:00", "is not understood"),
        ("digest_time", "06:00 07:00", "write one time"),
        ("shift_times", "06:30 6:30", "names one time twice"),
        ("shift_times", "", "is not understood"),
    ],
)
def test_a_value_that_cannot_be_meant_says_what_would_be_right(name: str, value: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        as_written(BY_NAME[name], value)


def test_the_newest_rule_of_a_day_counts_and_the_default_where_none_is_written(site: Site, ruth: Person) -> None:
    assert rules_on(site, DAY).number("grab_hours") == 4
    assert rules_on(site, DAY).number("hours_a_week") is None
    first = actions.set_rule(site=site, typed=typed(value="2"), by=ruth)
    actions.set_rule(site=site, typed=typed(value="3", from_day=DAY + dt.timedelta(days=5)), by=ruth)
    assert rules_on(site, DAY - dt.timedelta(days=1)).number("grab_hours") == 4
    assert rules_on(site, DAY).number("grab_hours") == 2
    assert rules_on(site, DAY + dt.timedelta(days=5)).number("grab_hours") == 3
    known = first.recorded_at - dt.timedelta(seconds=1)
    assert rules_on(site, DAY, known=known).number("grab_hours") == Fraction(4)
    assert Event.objects.filter(verb="rule.set").count() == 2


def test_a_rule_says_where_it_comes_from_and_why_and_only_a_supervisor_sets_it(
    site: Site, ruth: Person, ines: Person
) -> None:
    with pytest.raises(Refusal) as refused:
        actions.set_rule(site=site, typed=typed(value="x", source=" ", why=""), by=ruth)
    assert fields(refused) == ["value", "source", "why"]
    with pytest.raises(NotAllowed):
        actions.set_rule(site=site, typed=typed(), by=ines)
    assert not Setting.objects.exists()
    with pytest.raises(IntegrityError), transaction.atomic():
        Setting.objects.create(
            site=site, name="grab_hours", value="", source="x", why="y", from_day=DAY, recorded_at=timezone.now(),
            recorded_by=ruth,
        )  # fmt: skip


def test_a_holiday_is_written_once_a_day_and_withdrawn_with_a_reason(site: Site, ruth: Person) -> None:
    day = dt.date(2026, 12, 25)
    row = actions.add_holiday(site=site, day=day, name="Christmas", by=ruth)
    with pytest.raises(Refusal, match="already"):
        actions.add_holiday(site=site, day=day, name="Again", by=ruth)
    with pytest.raises(Refusal) as refused:
        actions.withdraw_holiday(holiday=row, because=" ", by=ruth)
    assert fields(refused) == ["because"]
    actions.withdraw_holiday(holiday=row, because="we work that day", by=ruth)
    assert holidays_of(site) == frozenset()
    with pytest.raises(Stale):
        actions.withdraw_holiday(holiday=Holiday.objects.get(pk=row.pk), because="twice", by=ruth)
    actions.add_holiday(site=site, day=day, name="Christmas", by=ruth)
    assert holidays_of(site) == {day}


def test_a_unit_runs_once_at_a_time_and_its_stretches_lie_apart(site: Site, ines: Person, ruth: Person) -> None:
    unit = make_position(site=site, does="moves")
    now = timezone.now()
    early, late = now - dt.timedelta(hours=8), now - dt.timedelta(hours=2)
    first = actions.start_running(site=site, unit=unit, at=early, by=ines)
    actions.start_running(site=site, unit=None, at=early, by=ines)
    with pytest.raises(Refusal, match="running already"):
        actions.start_running(site=site, unit=unit, by=ines)
    with pytest.raises(Refusal, match="only after"):
        actions.stop_running(running=first, at=early, by=ines)
    actions.stop_running(running=first, at=late, by=ines)
    with pytest.raises(Refusal, match="at that moment"):
        actions.start_running(site=site, unit=unit, at=late - dt.timedelta(minutes=1), by=ines)
    with pytest.raises(Refusal, match="has not come yet"):
        actions.start_running(site=site, unit=unit, at=now + dt.timedelta(hours=1), by=ines)
    with pytest.raises(IntegrityError, match="running"), transaction.atomic():
        Production.objects.create(
            site=site, position=unit, from_at=early - dt.timedelta(hours=1), from_by=ines, recorded_at=now, to_at=now
        )
    actions.withdraw_running(running=first, because="it was the other pump", by=ruth)
    again = actions.start_running(site=site, unit=unit, at=late - dt.timedelta(hours=1), by=ines)
    assert list(Production.objects.now().filter(position=unit)) == [again]


def test_a_counter_that_shows_less_says_why_in_the_same_act(site: Site, ines: Person) -> None:
    pump = make_position(site=site, does="moves")

    def read(text: str, broken: CounterBroken | None = None) -> Reading:
        facts = ReadingFacts("Run hours", text, "h", "display", broken=broken)
        return actions.record_reading(of=pump, facts=facts, by=ines)

    rolled = read("12.5", CounterBroken(modulus="100000"))
    replaced = read("0.4", CounterBroken(old_last="8120.3", new_first="0.0"))
    assert rolled.counter_break.kind == "rolled over"
    assert (replaced.counter_break.old_last, replaced.counter_break.new_first) == ("8120.3", "0.0")
    with pytest.raises(Refusal) as refused:
        read("0.4", CounterBroken(old_last="8120.3"))
    assert fields(refused) == ["new_first"]
    with pytest.raises(Refusal, match="not both"):
        read("0.4", CounterBroken(modulus="100000", old_last="1", new_first="2"))
    assert Reading.objects.count() == CounterBreak.objects.count() == 2


def test_the_pages_of_rules_holidays_and_running(site: Site, ruth: Person, client: Client) -> None:
    client.force_login(ruth, backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(reverse("assets:rule-set", args=["grab_hours"]))
    key = page.context["form"]["key"].value()
    sent = {"key": key, "value": "0", "source": "permit 12", "why": "x", "from_day": "2026-11-25"}
    refused = client.post(reverse("assets:rule-set", args=["grab_hours"]), sent)
    assert refused.status_code == 422
    text = refused.content.decode()
    assert "is outside 1 to 24" in text
    assert 'value="permit 12"' in text
    done = client.post(reverse("assets:rule-set", args=["grab_hours"]), sent | {"value": "2"}, follow=True)
    assert "2 h" in done.content.decode().replace("\u00a0", " ")
    client.post(reverse("assets:holiday-new"), {"key": "h1", "day": "2026-12-25", "name": "Christmas"})
    assert "Christmas" in client.get(reverse("assets:rules")).content.decode()
    client.post(reverse("assets:running-start"), {"key": "r1", "unit": "", "at": ""})
    assert "Running" in client.get(reverse("assets:running")).content.decode()
    assert Production.objects.now().filter(site=site, position=None).count() == 1
