"""Areas, tags and assets: registered, changed, retired; refused with a sentence at its field; one event each."""

from __future__ import annotations

import json
import re

import pytest
from django.db import IntegrityError, transaction

from assets import actions, hooks
from assets.actions import AssetFacts, PositionFacts
from assets.errors import NotAllowed, Refusal, Stale
from assets.models import Area, Asset, Event, Position, Role
from tests.make import make_area, make_asset, make_fitting, make_person, make_position, make_site, make_use

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return make_site()


@pytest.fixture
def ruth(site):
    return make_person(site=site, role=Role.SUPERVISOR)


def facts(area, **other) -> PositionFacts:
    known = {
        "tag": "AIT-310",
        "service": "pH, filtered water",
        "does": "measures",
        "matters_for": "compliance",
        "quantity": "pH",
        "unit": "pH",
        "range_low": "0",
        "range_high": "14",
    }
    return PositionFacts(area=area, **{**known, **other})


def events_since(before: int) -> list[str]:
    return list(Event.objects.filter(pk__gt=before).order_by("pk").values_list("verb", flat=True))


def last_event() -> int:
    return Event.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


def fields(refused) -> set[str]:
    return {reason.field for reason in refused.value.reasons}


def test_areas_follow_one_another_in_the_walk(site, ruth) -> None:
    first = actions.register_area(site=site, name=" Intake ", by=ruth)
    second = actions.register_area(site=site, name="Filters", by=ruth)
    assert (first.name, first.walk_order < second.walk_order) == ("Intake", True)
    with pytest.raises(Refusal, match="an area of this name already"), transaction.atomic():
        actions.register_area(site=site, name="INTAKE", by=ruth)
    with pytest.raises(Refusal) as refused:
        actions.register_area(site=site, name=" ", by=ruth)
    assert fields(refused) == {"name"}


def test_an_area_is_changed_by_version_and_retired_when_empty(site, ruth) -> None:
    area = make_area(site=site)
    position = make_position(site=site, area=area)
    actions.change_area(area=area, name="River intake", walk_order=5, by=ruth, version=1)
    with pytest.raises(Stale, match="changed by somebody else"):
        actions.change_area(area=Area.objects.get(), name="Lake", walk_order=5, by=ruth, version=1)
    assert Area.objects.get().name == "River intake"
    with pytest.raises(Refusal, match=position.tag):
        actions.retire_area(area=area, by=ruth)
    actions.retire_position(position=position, by=ruth)
    assert actions.retire_area(area=Area.objects.get(), by=ruth).retired_at is not None
    assert not Area.objects.standing().exists()


def test_a_tag_is_registered_in_capitals_with_a_label_code_of_its_own(site, ruth) -> None:
    area = make_area(site=site)
    before = last_event()
    position = actions.register_position(site=site, facts=facts(area, tag=" ait-310 ", unit="pH units"), by=ruth)
    assert (position.tag, position.unit, position.version) == ("AIT-310", "pH", 1)
    assert re.fullmatch(r"[34679ACDEFGHJKMNPQRTWXY]{8}", position.label_code)
    assert events_since(before) == ["position.registered"]
    other = actions.register_position(site=site, facts=facts(area, tag="AIT-311"), by=ruth)
    assert other.label_code != position.label_code
    assert other.walk_order > position.walk_order


def test_every_fault_of_a_tag_is_named_at_once_at_its_field(site, ruth) -> None:
    area = make_area(site=site)
    before = last_event()
    with pytest.raises(Refusal) as refused:
        actions.register_position(
            site=site,
            facts=facts(area, tag="not a tag", service="", unit="furlong", range_low="14", range_high="0"),
            by=ruth,
        )
    assert fields(refused) == {"tag", "service", "unit", "range_high"}
    with pytest.raises(Refusal) as refused:
        actions.register_position(site=site, facts=facts(area, unit="", range_low="0x", range_high="1,234"), by=ruth)
    assert fields(refused) == {"unit", "range_low", "range_high"}
    assert events_since(before) == []
    assert not Position.objects.exists()


def test_a_tag_is_once_at_a_site_until_it_is_retired(site, ruth) -> None:
    area = make_area(site=site)
    first = actions.register_position(site=site, facts=facts(area), by=ruth)
    with pytest.raises(Refusal) as refused:
        actions.register_position(site=site, facts=facts(area, tag="ait-310"), by=ruth)
    assert fields(refused) == {"tag"}
    actions.retire_position(position=first, by=ruth)
    assert actions.register_position(site=site, facts=facts(area), by=ruth).pk != first.pk


def test_a_change_says_what_it_was_and_is(site, ruth) -> None:
    area, other = make_area(site=site), make_area(site=site)
    position = actions.register_position(site=site, facts=facts(area), by=ruth)
    code = position.label_code
    actions.change_position(
        position=position, facts=facts(other, tag="AIT-320", compliance_point=True), by=ruth, version=1
    )
    changes = json.loads(Event.objects.latest("pk").body)["facts"]["changes"]
    assert changes == {
        "area": [area.name, other.name],
        "tag": ["AIT-310", "AIT-320"],
        "compliance_point": ["no", "yes"],
    }
    position.refresh_from_db()
    assert (position.label_code, position.version) == (code, 2)


def test_an_area_of_another_site_or_a_retired_one_is_refused(site, ruth) -> None:
    elsewhere = make_area(site=make_site(name="Other Works"))
    with pytest.raises(Refusal, match="an area of this site"):
        actions.register_position(site=site, facts=facts(elsewhere), by=ruth)
    empty = actions.retire_area(area=make_area(site=site), by=ruth)
    with pytest.raises(Refusal, match="an area of this site"):
        actions.register_position(site=site, facts=facts(empty), by=ruth)


@pytest.mark.parametrize("role", [Role.OPERATOR, Role.VIEWER, Role.ADMINISTRATOR, Role.CONTRACTOR])
def test_only_a_supervisor_of_this_site_keeps_the_register(site, role) -> None:
    person = make_person(site=site, role=role)
    stranger = make_person(site=make_site(name="Other Works"), role=Role.SUPERVISOR)
    area = make_area(site=site)
    for by in (person, stranger):
        with pytest.raises(NotAllowed, match="takes the role supervisor"):
            actions.register_position(site=site, facts=facts(area), by=by)
        with pytest.raises(NotAllowed):
            actions.register_asset(site=site, facts=AssetFacts("pH probe", "1"), by=by)


def test_a_position_with_something_on_it_is_not_retired(site, ruth, monkeypatch) -> None:
    position, pump = make_position(site=site), make_position(site=site, does="moves")
    use = make_use(position=position, target=pump, by=ruth)
    with pytest.raises(Refusal, match=f"{position.tag} paces {pump.tag}"):
        actions.retire_position(position=pump, by=ruth)
    actions.end_use(use=use, by=ruth)
    make_fitting(position=pump, asset=make_asset(site=site), by=ruth)
    with pytest.raises(Refusal, match="take it out first"):
        actions.retire_position(position=pump, by=ruth)
    actions.take_out_asset(position=pump, by=ruth)

    def locked(what, at) -> None:
        raise Refusal(f"A lock is on {what}.")

    monkeypatch.setattr(hooks, "before_retire", [locked])
    with pytest.raises(Refusal, match="A lock is on"):
        actions.retire_position(position=pump, by=ruth)
    assert Position.objects.get(pk=pump.pk).retired_at is None


def test_what_hangs_on_a_retired_positions_own_signal_ends_with_it_and_the_apps_above_are_told(
    site, ruth, monkeypatch
) -> None:
    told = []
    monkeypatch.setattr(hooks, "before_retire", [])
    monkeypatch.setattr(hooks, "after_retire", [lambda opened, what: told.append(what.pk)])
    position, pump = make_position(site=site), make_position(site=site, does="moves")
    use = make_use(position=position, target=pump, by=ruth)
    before = last_event()
    actions.retire_position(position=position, by=ruth)
    use.refresh_from_db()
    assert use.to_at is not None
    assert told == [position.pk]
    assert events_since(before) == ["position.retired"]
    with pytest.raises(Refusal, match="retired already"):
        actions.retire_position(position=Position.objects.get(pk=position.pk), by=ruth)


def test_an_asset_is_once_a_kind_and_serial(site, ruth) -> None:
    made = actions.register_asset(site=site, facts=AssetFacts(" pH probe ", " 40-1 ", "Model A"), by=ruth)
    assert str(made) == "pH probe 40-1"
    with pytest.raises(Refusal) as refused:
        actions.register_asset(site=site, facts=AssetFacts("PH PROBE", "40-1"), by=ruth)
    assert fields(refused) == {"serial"}
    with pytest.raises(Refusal) as refused:
        actions.register_asset(site=site, facts=AssetFacts("", ""), by=ruth)
    assert fields(refused) == {"kind", "serial"}
    other = actions.register_asset(site=site, facts=AssetFacts("Pump", "40-1"), by=ruth)
    with pytest.raises(Refusal):
        actions.change_asset(asset=other, facts=AssetFacts("pH probe", "40-1"), by=ruth)
    assert actions.change_asset(asset=other, facts=AssetFacts("Pump", "40-2"), by=ruth, version=1).version == 2


def test_a_fitted_asset_is_not_retired(site, ruth) -> None:
    position, asset = make_position(site=site), make_asset(site=site)
    make_fitting(position=position, asset=asset, by=ruth)
    with pytest.raises(Refusal, match=f"fitted at {position.tag}"):
        actions.retire_asset(asset=asset, by=ruth)
    actions.take_out_asset(position=position, by=ruth)
    actions.retire_asset(asset=asset, by=ruth, version=1)
    with pytest.raises(Refusal, match="stays as it was"):
        actions.change_asset(asset=Asset.objects.get(), facts=AssetFacts("x", "y"), by=ruth)


def test_the_database_itself_refuses_a_second_tag_and_a_second_serial(site) -> None:
    area = make_area(site=site)
    make_position(site=site, area=area, tag="AIT-1")
    make_asset(site=site, serial="7")
    with pytest.raises(IntegrityError), transaction.atomic():
        Position.objects.create(
            site=site, area=area, tag="ait-1", label_code="X", service="x", does="moves", matters_for="other"
        )
    with pytest.raises(IntegrityError), transaction.atomic():
        Asset.objects.create(site=site, kind="PH probe", serial="7")
