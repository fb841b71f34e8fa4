"""Every sentence of every method stands on the page at its field, posted as a browser posts it; nothing typed is lost.

The sentence is worked out beside the database, from the case's own facts, and the page from what the database holds:
where the two differ, something on the way between them is wrong.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping

import pytest
from django.utils import timezone

from calibration.actions.drafts import begin_draft
from calibration.compute.method import Found
from calibration.compute.methods import METHODS, orp, ph
from calibration.compute.typed import UNIT
from calibration.compute.verdict import Outcome
from calibration.models import Outcome as Kept
from calibration.reads.known import forced_at
from maintenance.actions.overrides_end import take_off
from maintenance.models import Override
from tests.calibration.browser import Boxes, boxes_of, text_at
from tests.calibration.compute.methods.cases import Change, MethodCase, known, typed
from tests.calibration.compute.methods.conftest import DAY
from tests.calibration.compute.methods.test_catches import BY_METHOD, CASES
from tests.calibration.compute.methods.test_orp import GOOD, SETTINGS, SOLUTION
from tests.calibration.places import FACTS, STANDING, Before, Ground, Place, place_of, requirement_for, unasked
from tests.conftest import Clock
from tests.make import make_position, make_use
from tests.make_upkeep import make_override

pytestmark = pytest.mark.django_db

ORP = MethodCase(
    method=orp.METHOD,
    good=GOOD,
    standards=(SOLUTION,),
    settings=SETTINGS,
    failing={"shown": "260"},
    catches={
        "hydrogen": typed(shown="456"),
        "slow": typed(minutes="8"),
        "missing-shown": typed(shown=""),
        "beyond-temperature": typed(temperature="3"),  # the 3 mol/L table begins at 5 degC
        "half-second": typed(second_shown="468"),
    },
)
EVERY = (*CASES, ORP)
NO_HOLD: Change = known({"hold": "off"}, uses=("paces P-51", "permits P-52"))
"""The mistake that every signal shares: it moves something, and is not kept still."""

EARLIER: Mapping[tuple[str, str], Mapping[str, str]] = {
    ("chlorine", "wrong-way"): {"grab1_shown": "0.87", "grab2_shown": "0.87"},
    ("comparison", "wrong-way"): {"grab1_shown": "0.71", "grab2_shown": "0.71"},
}
"""What the set before typed, where that of the good set does not lead to the mistake."""


@pytest.fixture
def ground(clock: Clock, request: pytest.FixtureRequest) -> Ground:
    clock.set(2026, 11, 24, 20)  # 13:00 at the site, on the day of the cases
    return Ground(request.param)


@pytest.mark.parametrize("ground", EVERY, ids=lambda case: case.method.code, indirect=True)
def test_every_sentence_stands_at_its_field_and_nothing_typed_is_lost(ground: Ground) -> None:
    faults = [*_good(ground), *_unreadable(ground)]
    places: dict[str, Place] = {}
    asked: list[str] = []
    holds = {"no-hold": NO_HOLD} if "hold" in ground.case.good else {}
    for key, (changes, facts) in {**ground.case.catches, **holds}.items():
        earlier = EARLIER.get((ground.case.method.code, key), {})
        named = repr((facts, earlier))
        if named not in places:
            places[named] = place_of(ground, facts, earlier={**ground.case.good, **earlier})
        typed = ground.named({**ground.case.good, **changes}, places[named].stage)
        faults += _shown(places[named], key, typed)
        if not asked:  # one question a method: what is kept of it does not depend on which
            found = [one for one in places[named].expected(typed).found if one.key == key and one.weight == "ask"]
            faults += [fault for one in found for fault in _answered(places[named], one, typed)]
            asked += [one.key for one in found]
    faults += _unfit(ground)
    assert not faults, "\n".join(faults)


def _shown(place: Place, key: str, typed: Mapping[str, str]) -> Iterator[str]:
    """Post a mistake and return what is wrong with the page."""
    outcome = place.expected(typed)
    found = [one for one in outcome.found if one.key == key]
    if not found:
        yield f"{key}: not found with the facts that the database gives"
    there = {*place.asked, *place.draft.typed.get("carried", {})}
    yield from (f"{key}: {name} is not asked" for name in typed if name.removesuffix(UNIT) not in there)
    signs = any(one.weight == "refuse" and not one.key.startswith("unread-") for one in found)
    answer = place.post(typed, sign=signs)
    html = answer.content.decode()
    if answer.status_code != (422 if signs else 200):
        yield f"{key}: answered {answer.status_code}"
    yield from (
        f"{key}: “{one.sentence}” is not at {one.field}"
        for one in found
        if one.sentence not in text_at(html, one.field)
    )
    yield from (f"{key}: {one}" for one in _lost(place, html, typed))
    yield from (f"{key}: {one}" for one in _others(html, outcome))


def _answered(place: Place, found: Found, typed: Mapping[str, str]) -> Iterator[str]:
    """Answer a question with its reason: both stay beside the sentence."""
    said = {f"answer-{found.key}": found.choices[0].code, f"reason-{found.key}": "looked twice"}
    again = boxes_of(place.post(typed, **said, **{f"asked-{found.key}": found.sentence}).content.decode())
    yield from (f"{found.key}: {one}" for one in Boxes(said).missing_from(again))


def _good(ground: Ground) -> Iterator[str]:
    """Post the good set, then sign it: nothing is asked, and it is kept as a valid pass."""
    place = place_of(ground, {}, earlier={})
    named = ground.named(ground.case.good, place.stage)
    html = place.post(named).content.decode()
    outcome = place.expected(named)
    yield from (f"good: {one.key} stands there" for one in outcome.found if one.weight != "remind")
    yield from (f"good: {one}" for one in (*_lost(place, html, named), *_others(html, outcome)))
    answer = place.post(named, sign=True)
    if answer.status_code != 302:
        yield f"good: signing answered {answer.status_code}"
    kept = set(Kept.objects.values_list("valid", "verdict"))
    if kept != {(True, "pass")}:
        yield f"good: kept as {kept}"


def _unfit(ground: Ground) -> Iterator[str]:
    """Spoil every standard of the good set: it stays chosen, and the reason stands at its field."""
    place = place_of(ground, {}, earlier={})
    fields = {one.name for one in place.asked.values() if one.ask.kind == "standard"}
    chosen = {name: key for name, key in ground.case.good.items() if name in fields}
    for key in dict.fromkeys(chosen.values()):
        ground.spoil(key)
    named = ground.named(ground.case.good, place.stage)
    if chosen:
        yield from (one for name in chosen for one in _shown(place, f"unfit-{name}-1", named))


def _unreadable(ground: Ground) -> Iterator[str]:
    """Post words in every field for a number, of every row: each says so at its place, each word stays."""
    place = place_of(ground, {}, earlier={})
    typed = {name: "12 or so" for name, one in place.asked.items() if one.ask.kind == "number"}
    html = place.post(typed).content.decode()
    unread = place.expected(typed).found
    said = {one.field for one in unread if one.key.startswith("unread-")}
    yield from (f"unreadable: nothing is said of {name}" for name in typed if name not in said)
    yield from (
        f"unreadable: “{one.sentence}” is not at {one.field}"
        for one in unread
        if one.field in typed and one.key.startswith("unread-") and one.sentence not in text_at(html, one.field)
    )
    yield from (f"unreadable: {one}" for one in _lost(place, html, typed))


def _lost(place: Place, html: str, typed: Mapping[str, str]) -> list[str]:
    """Return what was sent, by method or beside it, and no longer stands in its box."""
    sent = {name: text for name, text in place.posted(typed).items() if not name.endswith("_sign")}
    return Boxes(sent | {name: typed[name] for name in sent if name in typed}).missing_from(boxes_of(html))


def _others(html: str, outcome: Outcome) -> Iterator[str]:
    """Compare all sentences of the page with all that the method finds, those left out that only a signature needs."""
    there = set(STANDING.findall(html))
    meant = {one.key for one in outcome.found if one.weight != "refuse" or one.key.startswith("unread-")}
    yield from (f"{key} stands on the page and is not found" for key in there - meant)
    yield from (f"{key} is found and stands nowhere" for key in meant - there)


@pytest.mark.parametrize("ground", [BY_METHOD["turbidity"]], ids=["turbidity"], indirect=True)
def test_cleaning_leaves_the_value_of_a_block_and_adjusting_takes_it_until_a_new_one_is_given(ground: Ground) -> None:
    place = place_of(ground, {"unit_key": "asset-9"}, earlier={})
    before = Before(ground, place.requirement, place.facts, ground.case.good)
    named = ground.named({**ground.case.good, "way": "block", "standard": "B"}, "as found")

    def stands() -> bool:
        draft = begin_draft(requirement=place.requirement, by=ground.operator)
        html = Place(ground, place.requirement, draft, place.facts).post(named).content.decode()
        return "old-assignment" in STANDING.findall(html)

    before.calibrate("cleaned")
    assert not stands()
    before.calibrate("both")
    assert stands()
    ground.assign("B", "asset-9", "0.47", DAY)
    assert not stands()


@pytest.mark.parametrize("ground", [BY_METHOD["feed-pump"]], ids=["feed-pump"], indirect=True)
def test_a_flow_forced_at_the_meter_that_paces_a_pump_is_known_at_the_pump_as_long_as_it_is_on(ground: Ground) -> None:
    pump = requirement_for(ground).position
    meter = make_position(site=ground.site, quantity="flow", unit="m³/h")
    now, before = timezone.now(), timezone.now() - dt.timedelta(hours=1)
    make_override(meter, by=ground.operator, value="40", unit="m³/h", what="flow", kind="forced value")
    assert forced_at(pump, now) == ()  # its signal acts on nothing yet
    make_use(position=meter, target=pump, by=ground.supervisor)
    assert forced_at(pump, now) == ("flow: 40 m³/h",)
    assert forced_at(pump, before) == ()
    make_override(pump, by=ground.operator, value="", unit="", what="low level trip", kind="bypass")
    assert forced_at(pump, now) == ("flow: 40 m³/h",)
    take_off(override=Override.objects.get(what="flow"), words="meter is back", by=ground.operator)
    assert forced_at(pump, now) == ()


def test_every_method_stands_here() -> None:
    """pH has a page and tests of its own: tests/calibration/test_draft_page.py."""
    assert {case.method.code for case in EVERY} | {ph.METHOD.code} == set(METHODS)


def test_the_facts_of_every_sentence_can_be_made() -> None:
    every = {
        (case.method.code, key): (case.method, facts) for case in EVERY for key, (_, facts) in case.catches.items()
    }
    cannot = {
        named
        for named, (method, facts) in every.items()
        if set(facts) - FACTS or unasked(method, facts.get("settings", {}))
    }
    assert not cannot
    assert set(EARLIER) <= {named for named, (_, facts) in every.items() if {"last", "kind"} & set(facts)}
