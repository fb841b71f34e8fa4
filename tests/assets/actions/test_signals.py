"""Uses of a signal, limits with their source, readings as typed."""

from __future__ import annotations

import datetime as dt

import pytest

from assets import actions
from assets.actions import LimitFacts, ReadingFacts
from assets.errors import NotAllowed, Refusal
from assets.models import Event, Limit, Reading, Role
from tests.make import make_asset, make_person, make_position, make_site

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 11, 25)


@pytest.fixture
def site(clock):
    return make_site()


@pytest.fixture
def ruth(site):
    return make_person(site=site, role=Role.SUPERVISOR)


@pytest.fixture
def turbidity(site):
    return make_position(site=site, quantity="Turbidity", unit="NTU", service="filtered water")


def limit(**other) -> LimitFacts:
    known = {"name": "permit", "side": "high", "value": "0.30", "unit": "NTU", "source": "permit 12, 4.1"}
    return LimitFacts(**{**known, "from_day": DAY, **other})


def fields(refused) -> set[str]:
    return {reason.field for reason in refused.value.reasons}


def test_a_use_names_a_tag_or_words_and_ends_once(site, ruth, turbidity) -> None:
    pump = make_position(site=site, does="moves")
    use = actions.register_use(position=turbidity, use="trips", target=pump, by=ruth)
    words = actions.register_use(position=turbidity, use="reports", text=" monthly report ", by=ruth)
    assert (use.on, words.on) == (pump.tag, "monthly report")
    with pytest.raises(Refusal, match="written already"):
        actions.register_use(position=turbidity, use="trips", target=pump, by=ruth)
    actions.end_use(use=use, by=ruth)
    with pytest.raises(Refusal, match="changed by somebody else"):
        actions.end_use(use=use, by=ruth)
    assert actions.register_use(position=turbidity, use="trips", target=pump, by=ruth).pk != use.pk


@pytest.mark.parametrize("case", ["neither", "both", "itself", "elsewhere", "semicolon"])
def test_a_use_that_says_nothing_or_too_much_is_refused(site, ruth, turbidity, case) -> None:
    pump = make_position(site=site, does="moves")
    given = {
        "neither": {},
        "both": {"target": pump, "text": "report"},
        "itself": {"target": turbidity},
        "elsewhere": {"target": make_position(site=make_site(name="Other Works"))},
        "semicolon": {"text": "one; two"},
    }[case]
    before = Event.objects.count()
    with pytest.raises(Refusal) as refused:
        actions.register_use(position=turbidity, use="paces", by=ruth, **given)
    assert fields(refused) <= {"target", "text"}
    assert Event.objects.filter(verb="use.registered").count() == 0
    assert Event.objects.count() >= before


def test_the_newest_limit_of_a_name_counts_from_its_day(site, ruth, turbidity) -> None:
    actions.set_limit(position=turbidity, facts=limit(), by=ruth)
    actions.set_limit(position=turbidity, facts=limit(value="0.20", from_day=DAY + dt.timedelta(days=10)), by=ruth)
    of = Limit.objects.filter(position=turbidity)
    assert [row.value for row in of.in_force(DAY)] == ["0.30"]
    assert [row.value for row in of.in_force(DAY + dt.timedelta(days=10))] == ["0.20"]
    assert of.in_force(DAY - dt.timedelta(days=1)) == []


def test_a_limit_ends_by_a_row_of_its_own_and_the_past_stays(site, ruth, turbidity, clock) -> None:
    row = actions.set_limit(position=turbidity, facts=limit(), by=ruth)
    known = clock.now
    clock.forward(days=3)
    day = DAY + dt.timedelta(days=2)
    actions.end_limit(limit=row, source="permit 13", from_day=day, by=ruth)
    of = Limit.objects.filter(position=turbidity)
    assert of.in_force(day) == []
    assert [found.value for found in of.in_force(day - dt.timedelta(days=1))] == ["0.30"]
    assert [found.value for found in of.in_force(day, known=known)] == ["0.30"]


def test_a_limit_is_kept_as_typed_and_refused_with_every_fault(site, ruth, turbidity) -> None:
    assert actions.set_limit(position=turbidity, facts=limit(value="0,30"), by=ruth).value == "0,30"
    with pytest.raises(Refusal) as refused:
        actions.set_limit(position=turbidity, facts=limit(value="about 1", unit="FNU", source=" "), by=ruth)
    assert fields(refused) == {"value", "unit", "source"}
    with pytest.raises(Refusal, match="A limit is high or low|“both”, is not offered here"):
        actions.set_limit(position=turbidity, facts=limit(side="both"), by=ruth)


def reading(entered: str = "0.31", **other) -> ReadingFacts:
    return ReadingFacts(**{"what": "Turbidity", "entered": entered, "unit": "NTU", "face": "HMI", **other})


def test_a_reading_is_kept_as_typed_with_its_canonical_value(site) -> None:
    ines = make_person(site=site)
    flow = make_position(site=site, quantity="Flow", unit="L/s")
    row = actions.record_reading(
        of=flow, facts=ReadingFacts(what="Flow", entered="100,0", unit="gpm", face="display"), by=ines
    )
    assert (row.entered, row.unit) == ("100,0", "gal/min")
    # 100 US gal/min = 378.5411784 L/min (gallon of 231 cubic inches, NIST SP 811 B.8, from memory).
    assert row.value == pytest.approx(378.5411784 / 60, rel=1e-15)
    assert row.taken_at == row.recorded_at


def test_event_time_and_entry_time_are_both_kept(site, turbidity, clock) -> None:
    ines = make_person(site=site)
    taken = clock.now - dt.timedelta(hours=5)
    row = actions.record_reading(of=turbidity, facts=reading(taken_at=taken), by=ines)
    assert (row.taken_at, row.recorded_at) == (taken, clock.now)
    event = Event.objects.latest("pk")
    assert (event.happened_at, event.recorded_at) == (taken, clock.now)


def test_a_reading_that_cannot_be_is_refused(site, turbidity, clock) -> None:
    ines = make_person(site=site)
    with pytest.raises(Refusal) as refused:
        actions.record_reading(of=turbidity, facts=reading("0.3.1", unit="mg/L"), by=ines)
    assert fields(refused) == {"entered", "unit"}
    with pytest.raises(Refusal, match="not come yet"):
        actions.record_reading(of=turbidity, facts=reading(taken_at=clock.now + dt.timedelta(hours=1)), by=ines)
    with pytest.raises(Refusal):
        actions.record_reading(of=turbidity, facts=reading(face="elsewhere"), by=ines)
    assert not Reading.objects.exists()


def test_run_hours_belong_to_an_asset(site) -> None:
    ines = make_person(site=site)
    pump = make_asset(site=site, kind="Booster pump")
    row = actions.record_reading(
        of=pump, facts=ReadingFacts(what="Run hours", entered="11204.5", unit="h", face="display"), by=ines
    )
    assert (row.asset, row.position, row.value) == (pump, None, 11204.5)


def test_a_correction_names_the_old_one_and_both_stay(site, turbidity, clock) -> None:
    ines = make_person(site=site)
    wrong = actions.record_reading(of=turbidity, facts=reading("3.1"), by=ines)
    clock.forward(minutes=5)
    right = actions.correct_reading(reading=wrong, facts=reading("0.31"), by=ines)
    assert (right.replaces, right.taken_at) == (wrong, wrong.taken_at)
    assert list(Reading.objects.standing()) == [right]
    with pytest.raises(Refusal, match="corrected already"):
        actions.correct_reading(reading=wrong, facts=reading("0.32"), by=ines)


@pytest.mark.parametrize("role", [Role.VIEWER, Role.ADMINISTRATOR, Role.CONTRACTOR])
def test_who_only_reads_writes_no_reading(site, turbidity, role) -> None:
    with pytest.raises(NotAllowed):
        actions.record_reading(of=turbidity, facts=reading(), by=make_person(site=site, role=role))


def test_an_operator_sets_no_limit(site, turbidity) -> None:
    with pytest.raises(NotAllowed):
        actions.set_limit(position=turbidity, facts=limit(), by=make_person(site=site))


def test_a_retired_tag_gets_no_use_and_no_limit_and_only_what_was_read_before(site, ruth, turbidity, clock) -> None:
    before = clock.now - dt.timedelta(hours=2)
    actions.retire_position(position=turbidity, by=ruth, version=turbidity.version)
    turbidity.refresh_from_db()
    with pytest.raises(Refusal, match="is retired"):
        actions.register_use(position=turbidity, use="reports", text="daily report", by=ruth)
    with pytest.raises(Refusal, match="is retired"):
        actions.set_limit(position=turbidity, facts=limit(), by=ruth)
    read = {"what": "Turbidity", "entered": "0.11", "unit": "NTU", "face": "display"}
    with pytest.raises(Refusal, match="only a reading from before") as refused:
        actions.record_reading(of=turbidity, facts=ReadingFacts(**read), by=ruth)
    assert fields(refused) == {"taken_at"}
    actions.record_reading(of=turbidity, facts=ReadingFacts(**read, taken_at=before), by=ruth)
    assert not Limit.objects.exists() and Reading.objects.count() == 1
