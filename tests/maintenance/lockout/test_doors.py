"""Each lockout rule against each door: none lets through what the rule forbids, and each refusal is kept (L18).

The table in `doors` holds for each rule an act, a form and rows written by hand; an empty cell cannot be written.
Rules computed from rows (L4, L12's alarm, L15, L22) are kept at the row by what makes those rows unchangeable.
"""

from __future__ import annotations

from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from assets.errors import Refusal
from assets.history import door
from assets.models import Event, Person, Position
from maintenance.models import (
    Application,
    IsolationPoint,
    Lock,
    Lockout,
    LockoutEntry,
    LockoutLine,
    PointOfPosition,
    ProcedureDecision,
)
from tests.maintenance.lockout.browsers import browser_of, words
from tests.maintenance.lockout.doors import RULES, Plant, Post, make_plant
from tests.make_locks import Pump

pytestmark = pytest.mark.django_db
IN_THIS_RELEASE = {"L1", "L2", "L3", "L4", "L5", "L6", "L8", "L10", "L12", "L14", "L16", "L17", "L22", "L23", "L24"}
KEPT = (Application, Lock, LockoutLine, LockoutEntry, PointOfPosition, IsolationPoint, ProcedureDecision)


@pytest.fixture
def plant(verified: Pump) -> Plant:
    return make_plant(verified)


def everything() -> dict[str, Any]:
    """Every row of locks, and what of the plant a lock protects."""
    rows: dict[str, Any] = {model.__name__: list(model.objects.order_by("pk").values()) for model in KEPT}
    rows["lockouts"] = list(Lockout.objects.order_by("pk").values())
    rows["people"] = list(Person.objects.order_by("pk").values_list("pk", "is_active"))
    rows["positions"] = list(Position.objects.order_by("pk").values_list("pk", "retired_at"))
    return rows


def acts() -> list[str]:
    """Verbs of everything that was done, refusals apart."""
    return list(Event.objects.exclude(verb="refused").order_by("pk").values_list("verb", flat=True))


def refusals() -> int:
    return Event.objects.filter(verb="refused").count()


def client_of(plant: Plant, who: str) -> Client:
    if who == "phone":
        return plant.phone.client
    if who == "keeper":
        return browser_of(plant.keeper)
    person = plant.pump.version.written_by if who == "noor" else getattr(plant.pump, who)
    return browser_of(person)


def post(plant: Plant, sent: Post, key: str) -> Any:
    return client_of(plant, sent.by).post(sent.path, {"key": key, **sent.typed})


def test_the_table_holds_every_rule_of_this_release() -> None:
    assert set(RULES) == IN_THIS_RELEASE


def test_the_action_refuses_and_leaves_nothing(plant: Plant) -> None:
    before, done = everything(), acts()
    for name, rule in RULES.items():
        with pytest.raises(Refusal) as refused:
            rule.act(plant)
        assert rule.says in str(refused.value), name
        assert everything() == before and acts() == done, name


def test_a_command_is_refused_the_same_and_its_door_keeps_it(plant: Plant) -> None:
    """L18: what calls an action outside a page passes through the same door."""
    before, done = everything(), acts()
    for name, rule in RULES.items():
        kept = refusals()
        with (
            pytest.raises(Refusal),
            door(site=plant.pump.site, by=plant.pump.ana, verb=name, subject=plant.pump.lockout),
        ):
            rule.act(plant)
        assert refusals() == kept + 1, name
        assert everything() == before and acts() == done, name


def test_a_page_refuses_in_words_and_its_refusal_is_kept(plant: Plant) -> None:
    before, done = everything(), acts()
    for name, rule in RULES.items():
        kept = refusals()
        answer = post(plant, rule.post(plant), f"page-{name}")
        assert answer.status_code in {409, 422}, (name, answer.status_code)
        said = words(answer)
        assert (rule.page_says or rule.says) in said, (name, said[:2000])
        assert refusals() == kept + 1, name
        assert everything() == before and acts() == done, name


def test_a_double_post_is_refused_twice_and_a_page_left_open_too(plant: Plant) -> None:
    """The key of a refused form is not used up, and what a page showed earlier lets nothing through."""
    before, done = everything(), acts()
    for name, rule in RULES.items():
        sent = rule.post(plant)
        for _ in range(2):
            assert post(plant, sent, f"open-since-{name}").status_code in {409, 422}, name
        assert everything() == before and acts() == done, name


@pytest.mark.parametrize("how", ["insert", "update"])
def test_rows_written_by_hand_are_refused_by_the_database(plant: Plant, how: str) -> None:
    before = everything()
    passed = []
    for name, rule in RULES.items():
        try:
            with transaction.atomic():
                getattr(rule, how)(plant)
        except IntegrityError:
            continue
        passed.append(name)
    assert not passed
    assert everything() == before


def test_djangos_own_pages_only_read(plant: Plant) -> None:
    keeper = plant.pump.ruth
    Person.objects.filter(pk=keeper.pk).update(is_staff=True)
    admin = browser_of(keeper)
    before, done = everything(), acts()
    for name, rule in RULES.items():
        for row in rule.rows(plant):
            place = f"/admin/{row._meta.app_label}/{row._meta.model_name}/"
            shown = admin.get(f"{place}{row.pk}/change/")
            assert shown.status_code == 200, (name, place)
            assert "stamp_hash" not in shown.content.decode()
            for path in (f"{place}{row.pk}/change/", f"{place}{row.pk}/delete/", f"{place}add/"):
                assert admin.post(path, {"post": "yes", "removed_at": "now"}).status_code == 403, (name, path)
    assert everything() == before and acts() == done


def test_a_page_opened_before_the_box_was_used_does_not_take_a_point_lock_off(verified: Pump) -> None:
    """A stale page: Ana opens it while the box is empty of personal locks, K hangs his, Ana sends it."""
    verified.take("K-1")
    ana = browser_of(verified.ana)
    path = f"/locks/1/off/{verified.application('41').pk}/"
    form = ana.get(path).context["form"]
    verified.hang("K-1", verified.box)
    typed = {"key": form["key"].value(), "stamp": "S41", "plate": "PLB2", "proof": "483920"}
    typed |= {f"q{n}": "yes" for n in range(1, 9)}
    refused = ana.post(path, typed)
    assert refused.status_code == 422
    assert "is still on box 3" in words(refused)
    assert verified.application("41").removed_at is None


def test_a_page_opened_before_another_took_the_lock_puts_it_on_nowhere_else(pump: Pump) -> None:
    """A stale page and two phones: both show lock 41 as free; the second post is told where it hangs."""
    pump.begin()
    pump.prepare()
    lines = {line.point.name: line.pk for line in pump.lockout.lines.select_related("point")}
    first, second = browser_of(pump.ana), browser_of(pump.ana)
    keys = [phone.get(f"/locks/1/on/{lines['B-2']}/").context["form"]["key"].value() for phone in (first, second)]
    typed = {"lock": pump.locks["41"].pk, "stamp": "S41", "proof": "483920"}
    there = first.post(f"/locks/1/on/{lines['B-2']}/", {"key": keys[0], "plate": "PLB2", **typed})
    assert there.status_code == 302
    answer = second.post(f"/locks/1/on/{lines['V-21']}/", {"key": keys[1], "plate": "PLV21", **typed})
    assert answer.status_code == 422
    assert "one lock hangs in one place" in words(answer)
    assert [a.point.name for a in Application.objects.on()] == ["B-2"]
