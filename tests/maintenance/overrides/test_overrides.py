"""Forced values, holds, bypasses and shelved alarms: through the hands of several people, and what is refused."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from assets import actions
from assets.actions import RuleTyped
from assets.errors import NotAllowed, Refusal, Stale
from assets.models import Event, Person, Position, Role, Signature, Site
from assets.permissions import Desk
from assets.reads.records import check_records
from maintenance.actions import orders, overrides, overrides_end, overrides_time
from maintenance.actions.overrides_time import LookTyped
from maintenance.models import Override, OverrideExtension, OverrideLook
from maintenance.reads.overrides import override_view, review_overrides, rows_of, standing_rows
from tests.conftest import Clock
from tests.make import make_person, make_position, make_site, make_use, proof_of
from tests.make_locks import make_pump
from tests.make_upkeep import make_extension, make_order, make_override, override_typed

pytestmark = pytest.mark.django_db
HOUR = dt.timedelta(hours=1)


class Plant:
    """A site with an operator, a second one, two supervisors, and a tag that paces a pump."""

    def __init__(self) -> None:
        self.site: Site = make_site()
        self.ines = make_person(site=self.site, name="Ines Calder")
        self.joss = make_person(site=self.site, name="Joss Amadi")
        self.ruth = make_person(site=self.site, role=Role.SUPERVISOR, name="Ruth Penhall")
        self.edda = make_person(site=self.site, role=Role.SUPERVISOR, name="Edda Brook")
        self.tag: Position = make_position(site=self.site, tag="AIT-410", matters_for="compliance")
        self.pump = make_position(site=self.site, tag="P-41", does="moves", quantity="", unit="")
        make_use(position=self.tag, target=self.pump, by=self.ruth)

    def desk(self, person: Person, role: Role = Role.SUPERVISOR) -> Desk:
        return Desk(person, self.site, role)

    def row(self, override: Override):  # type: ignore[no-untyped-def]
        override.refresh_from_db()
        return rows_of(self.desk(self.ruth), [override], timezone.now())[0]


@pytest.fixture
def plant(clock: Clock) -> Plant:
    return Plant()


def fields(refused: pytest.ExceptionInfo[Refusal]) -> list[str]:
    return [reason.field for reason in refused.value.reasons]


def look(**other: object) -> LookTyped:
    facts = {
        "value": "7.35",
        "unit": "pH",
        "source": "bench meter",
        "taken_at": timezone.now(),
        "agrees": True,
        **other,
    }
    return LookTyped(**facts)  # type: ignore[arg-type]


def test_from_forcing_by_way_of_approval_looks_and_takeover_to_the_second_pair_of_eyes(
    plant: Plant, clock: Clock
) -> None:
    forced = make_override(plant.tag, by=plant.ines)
    assert forced.rests_on_it == "paces P-41"
    assert plant.row(forced).state.word == "In force, not yet approved"
    with pytest.raises(Refusal, match="Nobody approves"):
        overrides.approve_override(override=forced, proof=proof_of(plant.ines), by=_as_supervisor(plant, plant.ines))
    overrides.approve_override(override=forced, proof=proof_of(plant.ruth), by=plant.ruth)
    assert plant.row(forced).state.word == "In force"
    clock.forward(hours=5)
    overrides_time.look_at_override(override=forced, typed=look(), by=plant.ines)
    overrides_end.take_over_override(override=forced, by=plant.joss)
    clock.forward(hours=2)
    row = plant.row(forced)
    assert (row.state.word, row.over, row.override.owner) == ("Over its time limit", True, plant.joss)
    overrides_end.take_off(override=forced, words="typed value cleared", by=plant.joss)
    with pytest.raises(Refusal, match="another person"):
        overrides_end.see_restored(
            override=forced, how="value moved", words="7.35", proof=proof_of(plant.joss), by=plant.joss
        )
    overrides_end.see_restored(
        override=forced, how="value moved", words="7.35 to 7.52", proof=proof_of(plant.ines), by=plant.ines
    )
    assert plant.row(forced).state.word == "Ended"
    assert standing_rows(plant.desk(plant.ruth), timezone.now()) == ()
    verbs = Event.objects.about(forced).values_list("verb", flat=True)
    assert [verb.partition(".")[2] for verb in reversed(verbs)] == [
        *("asked", "approved", "looked_at", "taken_over", "taken_off", "seen_restored"),
    ]
    assert Signature.objects.count() == 2
    assert check_records() == []


def _as_supervisor(plant: Plant, person: Person) -> Person:
    actions.change_role(site=plant.site, person=person, role=Role.SUPERVISOR, by=_keeper(plant))
    return person


def _keeper(plant: Plant) -> Person:
    return make_person(site=plant.site, role=Role.ADMINISTRATOR)


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"what": " "}, "what", "what is forced"),
        ({"reason": "Maintenance"}, "reason", "tells the next shift nothing"),
        ({"measures": ""}, "measures", "instead"),
        ({"value": ""}, "value", "is not a number"),
        ({"value": "about 7"}, "value", "is not a number"),
        ({"unit": "NTU"}, "unit", "reads in pH"),
        ({"unit": "parsec"}, "unit", "unit"),
        ({"basis": ""}, "basis", "rests on"),
        ({"last_good": "x"}, "last_good", "is not a number"),
        ({"cannot_wait": ""}, "cannot_wait", "could not wait"),
    ],
)
def test_what_is_missing_or_cannot_be_meant_is_said_at_its_field(
    plant: Plant, typed: dict[str, str], field: str, says: str
) -> None:
    with pytest.raises(Refusal, match=says) as refused:
        overrides.ask_override(position=plant.tag, typed=override_typed(**typed), by=plant.ines)
    assert fields(refused) == [field]
    assert not Override.objects.exists()
    assert make_override(plant.tag, by=plant.ines).number == 1


def test_the_time_limit_is_to_come_and_no_longer_than_what_it_matters_for_allows(plant: Plant) -> None:
    now = timezone.now()
    on = now - dt.timedelta(minutes=1)
    for limit, says in ((now, "has passed"), (on + 72 * HOUR + dt.timedelta(seconds=1), "72 hours at most")):
        with pytest.raises(Refusal, match=says) as refused:
            make_override(plant.tag, by=plant.ines, limit_at=limit)
        assert fields(refused) == ["limit_at"]
    assert make_override(plant.tag, by=plant.ines, limit_at=on + 72 * HOUR).limit_at == on + 72 * HOUR
    with pytest.raises(Refusal, match="has not come yet"):
        make_override(plant.tag, by=plant.ines, on_since=now + HOUR)


def test_a_bypass_needs_no_value_and_a_hold_none_either(plant: Plant) -> None:
    for kind in ("bypass", "hold", "shelved alarm"):
        row = make_override(plant.tag, by=plant.ines, kind=kind, value="", unit="", basis="")
        assert (row.kind, row.value) == (kind, "")
    with pytest.raises(IntegrityError), transaction.atomic():
        Override.objects.filter(pk=row.pk).update(kind="forced value")


def test_what_is_not_approved_is_not_put_on_and_a_refusal_takes_nothing_off(plant: Plant) -> None:
    wanted = make_override(plant.tag, by=plant.ines, on_since=None, cannot_wait="")
    with pytest.raises(Refusal, match="not approved yet"):
        overrides.put_on(override=wanted, by=plant.ines)
    with pytest.raises(NotAllowed):
        overrides.approve_override(override=wanted, proof=proof_of(plant.joss), by=plant.joss)
    with pytest.raises(Refusal, match="why it is refused"):
        overrides.refuse_override(override=wanted, because=" ", by=plant.ruth)
    overrides.refuse_override(override=wanted, because="use the spare probe", by=plant.ruth)
    with pytest.raises(Refusal, match="use the spare probe"):
        overrides.put_on(override=wanted, by=plant.ines)
    urgent = make_override(plant.tag, by=plant.ines)
    overrides.refuse_override(override=urgent, because="use the spare probe", by=plant.ruth)
    assert [row.override for row in standing_rows(plant.desk(plant.ruth), timezone.now())] == [urgent]
    overrides_end.take_off(override=urgent, words="", by=plant.ines)
    assert plant.row(urgent).state.word == "Taken off, not yet seen to work"


def test_an_approved_one_is_put_on_after_its_approval_and_before_its_limit(plant: Plant, clock: Clock) -> None:
    wanted = make_override(plant.tag, by=plant.ines, on_since=None, cannot_wait="")
    clock.forward(minutes=10)
    overrides.approve_override(override=wanted, proof=proof_of(plant.ruth), by=plant.ruth)
    with pytest.raises(Refusal, match="decided already"):
        overrides.approve_override(override=wanted, proof=proof_of(plant.edda), by=plant.edda)
    with pytest.raises(Refusal, match="before it was asked"):
        overrides.put_on(override=wanted, at=timezone.now() - HOUR, by=plant.ines)
    clock.forward(hours=7)
    with pytest.raises(Refusal, match="limit has passed"):
        overrides.put_on(override=wanted, by=plant.ines)


def test_more_time_is_another_persons_decision_counted_and_limited(plant: Plant, clock: Clock) -> None:
    rule = RuleTyped("override_extensions", "1", "own", "keep it short", timezone.now().date())
    actions.set_rule(site=plant.site, typed=rule, by=plant.ruth)
    forced = make_override(plant.tag, by=plant.ines)
    with pytest.raises(Refusal, match="after the time limit"):
        overrides_time.ask_extension(override=forced, to_at=forced.limit_at, reason="x", by=plant.ines)
    with pytest.raises(Refusal, match="At most 72 hours"):
        overrides_time.ask_extension(
            override=forced, to_at=timezone.now() + 73 * HOUR, reason="the new probe comes", by=plant.ines
        )
    asked = make_extension(forced, by=plant.ruth)
    with pytest.raises(Refusal, match="waits to be decided"):
        make_extension(forced, by=plant.ines)
    with pytest.raises(Refusal, match="Nobody approves"):
        _decide(asked, plant.ruth)
    assert [one for one, _ in review_overrides(plant.desk(plant.edda), timezone.now()).extensions] == [asked]
    _decide(asked, plant.edda)
    assert plant.row(forced).override.limit_at == asked.to_at
    assert plant.row(forced).extended == 1
    with pytest.raises(Refusal, match="1 are allowed"):
        make_extension(forced, by=plant.ines)
    with pytest.raises(Stale):
        _decide(OverrideExtension.objects.get(pk=asked.pk), plant.edda)


def _decide(asked: OverrideExtension, by: Person) -> None:
    overrides_time.decide_extension(extension=asked, granted=True, because="", proof=proof_of(by), by=by)


def test_a_look_needs_an_independent_value_its_source_and_its_time(plant: Plant, clock: Clock) -> None:
    forced = make_override(plant.tag, by=plant.ines)
    for typed, field in (
        ({"value": ""}, "value"),
        ({"source": " "}, "source"),
        ({"taken_at": None}, "taken_at"),
        ({"taken_at": timezone.now() - HOUR}, "taken_at"),
        ({"taken_at": timezone.now() + HOUR}, "taken_at"),
        ({"agrees": False}, "words"),
    ):
        with pytest.raises(Refusal) as refused:
            overrides_time.look_at_override(override=forced, typed=look(**typed), by=plant.ines)
        assert fields(refused) == [field], typed
    assert not OverrideLook.objects.exists()
    clock.forward(hours=25)
    assert plant.row(forced).look_late
    overrides_time.look_at_override(override=forced, typed=look(agrees=False, words="set to 7.3"), by=plant.joss)
    assert not plant.row(forced).look_late


def test_what_does_not_work_yet_counts_as_in_force_again(plant: Plant) -> None:
    forced = make_override(plant.tag, by=plant.ines)
    overrides_end.take_off(override=forced, words="", by=plant.ines)
    overrides_end.say_not_restored(override=forced, words="stands at 7.40 still", by=plant.joss)
    assert plant.row(forced).state.word == "In force, not yet approved"


def test_no_order_is_accepted_and_no_tag_retired_while_one_stands_there(plant: Plant) -> None:
    order = make_order(plant.tag, by=plant.ines)
    orders.start_order(order=order, by=plant.ines)
    orders.finish_order(order=order, found="new probe fitted", by=plant.ines)
    forced = make_override(plant.tag, by=plant.ines)
    with pytest.raises(Refusal, match="Forced value 1 stands at AIT-410"):
        orders.accept_order(order=order, by=plant.ruth)
    with pytest.raises(Refusal, match="Forced value 1 stands at AIT-410"):
        actions.retire_position(position=plant.tag, by=plant.ruth)
    overrides_end.take_off(override=forced, words="", by=plant.ines)
    with pytest.raises(Refusal, match="seen"):
        orders.accept_order(order=order, by=plant.ruth)
    overrides_end.see_restored(
        override=forced, how="loop checked", words="4 to 20", proof=proof_of(plant.joss), by=plant.joss
    )
    assert orders.accept_order(order=order, by=plant.ruth).state == "accepted"


def test_two_that_touch_the_same_machine_are_named_together(plant: Plant) -> None:
    other = make_position(site=plant.site, tag="FIT-330", quantity="pH", unit="pH")
    make_use(position=other, target=plant.pump, by=plant.ruth)
    apart = make_position(site=plant.site, tag="AIT-999")
    first, second = make_override(plant.tag, by=plant.ines), make_override(other, by=plant.ines)
    third = make_override(apart, by=plant.ines)
    assert plant.row(first).beside == ("Forced value 2 at FIT-330",)
    assert plant.row(second).beside == ("Forced value 1 at AIT-410",)
    assert plant.row(third).beside == ()


def test_the_page_offers_each_person_what_they_may_do_and_the_action_says_the_same(plant: Plant) -> None:
    forced = make_override(plant.tag, by=plant.ines)
    now = timezone.now()
    assert override_view(plant.desk(plant.ruth), forced, now).may == {
        *("approve", "look", "extend", "take off", "take over"),
    }
    assert override_view(plant.desk(plant.ines, Role.OPERATOR), forced, now).may == {"look", "extend", "take off"}
    assert (
        override_view(plant.desk(make_person(site=plant.site, role=Role.VIEWER), Role.VIEWER), forced, now).may == set()
    )


@pytest.mark.parametrize("changes", [{"approved_by": "asked_by"}, {"restored_by": "removed_by"}])
def test_the_row_itself_keeps_two_people_apart(plant: Plant, changes: dict[str, str]) -> None:
    forced = make_override(plant.tag, by=plant.ines)
    overrides_end.take_off(override=forced, words="", by=plant.ines)
    [(column, same)] = changes.items()
    with pytest.raises(IntegrityError), transaction.atomic():
        Override.objects.filter(pk=forced.pk).update(**{column: getattr(forced, same)})


def test_a_stale_page_changes_nothing(plant: Plant) -> None:
    forced = make_override(plant.tag, by=plant.ines)
    shown = forced.version
    overrides_end.take_over_override(override=forced, by=plant.joss)
    with pytest.raises(Stale):
        overrides.approve_override(override=forced, proof=proof_of(plant.ruth), by=plant.ruth, version=shown)
    assert plant.row(forced).override.approved_at is None


def test_the_number_of_queries_does_not_grow_with_the_list(plant: Plant, django_assert_num_queries: object) -> None:
    desk, now = plant.desk(plant.ruth), timezone.now()

    def queries() -> int:
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(
            connection,
        ) as caught:
            standing_rows(desk, now)
        return len(caught)

    make_override(plant.tag, by=plant.ines)
    few = queries()
    for _ in range(12):
        make_override(plant.tag, by=plant.ines)
    assert queries() == few


def test_a_machine_is_not_taken_back_while_a_signal_that_acts_on_it_is_forced(clock: Clock) -> None:
    pump = make_pump()
    flow = make_position(site=pump.site, tag="FIT-2")
    make_use(position=flow, target=pump.position, by=pump.ruth)
    forced = make_override(flow, by=pump.ben)
    [stop] = overrides_end.stops_forced(pump.position)
    assert (stop.field, stop.sentence.split(":")[0]) == ("forced", "Forced value 1 stands at FIT-2")
    overrides_end.take_off(override=forced, words="", by=pump.ben)
    assert len(overrides_end.stops_forced(pump.position)) == 1, "off is not yet seen to work"
    overrides_end.see_restored(override=forced, how="value moved", words="36", proof=proof_of(pump.ruth), by=pump.ruth)
    assert overrides_end.stops_forced(pump.position) == []
