"""What is fitted where: one act is the record of both sides, and the apps above act in the same transaction."""

from __future__ import annotations

import datetime as dt
import json

import pytest

from assets import actions, hooks
from assets.errors import NotAllowed, Refusal
from assets.models import Event, Fitting, Role
from tests.make import make_asset, make_person, make_position, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(monkeypatch):
    heard: list[tuple[str, int]] = []
    monkeypatch.setattr(hooks, "after_fit", [lambda opened, f: heard.append(("in", f.asset_id))])
    monkeypatch.setattr(hooks, "after_take_out", [lambda opened, f: heard.append(("out", f.asset_id))])
    return heard


@pytest.fixture
def site(clock):
    return make_site()


@pytest.fixture
def ines(site):
    return make_person(site=site)


def test_fit_exchange_and_take_out(site, ines, clock, told) -> None:
    position, old, new = make_position(site=site), make_asset(site=site), make_asset(site=site)
    actions.fit_asset(position=position, asset=old, by=ines)
    clock.forward(days=30)
    earlier = clock.now - dt.timedelta(hours=3)
    fitting = actions.exchange_asset(position=position, asset=new, at=earlier, by=ines)
    first = Fitting.objects.get(asset=old)
    assert first.to_at == fitting.from_at == earlier
    assert first.to_recorded_at == clock.now
    clock.forward(days=1)
    actions.take_out_asset(position=position, by=ines)
    assert told == [("in", old.pk), ("out", old.pk), ("in", new.pk), ("out", new.pk)]
    verbs = Event.objects.filter(subject_kind="assets.position", subject_id=str(position.pk)).order_by("pk")
    assert [event.verb for event in verbs][1:] == ["asset.fitted", "asset.exchanged", "asset.taken out"]
    exchange = json.loads(verbs[2].body)
    assert exchange["facts"]["out"] == str(old) and exchange["facts"]["in"] == str(new)
    assert exchange["happened_at"] != exchange["recorded_at"]
    assert [row[0] for row in exchange["rows"]] == ["assets.fitting", "assets.fitting"]


def test_a_place_and_an_asset_are_taken_once(site, ines, told) -> None:
    one, two = make_position(site=site), make_position(site=site)
    asset, other = make_asset(site=site), make_asset(site=site)
    actions.fit_asset(position=one, asset=asset, by=ines)
    before = Event.objects.count()
    with pytest.raises(Refusal, match=f"{asset} is fitted at {one.tag} already"):
        actions.fit_asset(position=one, asset=other, by=ines)
    with pytest.raises(Refusal, match=f"{asset} is fitted at {one.tag}; take it out there first"):
        actions.fit_asset(position=two, asset=asset, by=ines)
    with pytest.raises(Refusal, match="Nothing is fitted"):
        actions.take_out_asset(position=two, by=ines)
    with pytest.raises(Refusal, match="Nothing is fitted"):
        actions.exchange_asset(position=two, asset=other, by=ines)
    assert Event.objects.count() == before
    assert told == [("in", asset.pk)]


def test_times_that_cannot_be_are_refused_at_their_field(site, ines, clock, told) -> None:
    position, asset = make_position(site=site), make_asset(site=site)
    with pytest.raises(Refusal, match="not come yet") as refused:
        actions.fit_asset(position=position, asset=asset, at=clock.now + dt.timedelta(minutes=2), by=ines)
    assert refused.value.reasons[0].field == "at"
    fitting = actions.fit_asset(position=position, asset=asset, at=clock.now + dt.timedelta(seconds=50), by=ines)
    assert fitting.from_at == clock.now
    with pytest.raises(Refusal, match="only after that moment"):
        actions.take_out_asset(position=position, at=clock.now - dt.timedelta(days=1), by=ines)


def test_a_stretch_inside_an_older_one_is_refused(site, ines, clock, told) -> None:
    position = make_position(site=site)
    actions.fit_asset(position=position, asset=make_asset(site=site), at=clock.now - dt.timedelta(days=10), by=ines)
    actions.take_out_asset(position=position, at=clock.now - dt.timedelta(days=2), by=ines)
    with pytest.raises(Refusal, match="same stretch of time"):
        actions.fit_asset(position=position, asset=make_asset(site=site), at=clock.now - dt.timedelta(days=5), by=ines)


def test_what_is_retired_or_of_another_site_is_not_fitted(site, ines, told) -> None:
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    position, asset = make_position(site=site), make_asset(site=site)
    actions.retire_asset(asset=asset, by=ruth)
    with pytest.raises(Refusal, match="is retired"):
        actions.fit_asset(position=position, asset=asset, by=ines)
    stranger = make_asset(site=make_site(name="Other Works"))
    with pytest.raises(Refusal, match="another site"):
        actions.fit_asset(position=position, asset=stranger, by=ines)


def test_a_refusing_app_above_undoes_both_sides(site, ines, clock, monkeypatch) -> None:
    position, old, new = make_position(site=site), make_asset(site=site), make_asset(site=site)
    actions.fit_asset(position=position, asset=old, by=ines)
    clock.forward(days=1)
    before = Event.objects.count()

    def no(opened, fitting) -> None:
        raise Refusal("Not this one.")

    monkeypatch.setattr(hooks, "after_fit", [no])
    with pytest.raises(Refusal, match="Not this one"):
        actions.exchange_asset(position=position, asset=new, by=ines)
    assert Fitting.objects.get().asset_id == old.pk and Fitting.objects.get().to_at is None
    assert Event.objects.count() == before


@pytest.mark.parametrize("role", [Role.VIEWER, Role.ADMINISTRATOR, Role.CONTRACTOR])
def test_who_only_reads_fits_nothing(site, role) -> None:
    with pytest.raises(NotAllowed):
        actions.fit_asset(
            position=make_position(site=site), asset=make_asset(site=site), by=make_person(site=site, role=role)
        )
