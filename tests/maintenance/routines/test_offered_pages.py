"""Offered routines, seasons and values worked out, through the pages that register them."""

from __future__ import annotations

import re
import secrets

import pytest
from django.urls import reverse

from assets.actions import ReadingFacts, record_reading
from assets.models import Event, Person, Position, Site
from maintenance.compute.presets import BY_KEY, GROUPS, PRESETS
from maintenance.models import Occurrence, Plan
from tests.maintenance.routines.pages import boxes, client_of, page, routine, sent
from tests.make import make_position

pytestmark = pytest.mark.django_db


# ------------------------------------------------------------------------------------------------------------ presets


def test_every_offered_interval_names_a_source_and_can_be_registered(tag: Position, ruth: Person) -> None:
    for preset in BY_KEY.values():
        words = preset.source.casefold()
        named = any(name in words for name in ("cfr", "tac", "health canada", "ufc", "ansi", "awwa", "producers"))
        assert named or "practice" in words or "from memory" in words, preset
    for preset in PRESETS:
        typed = routine(tag, preset=preset.key, title=preset.key, mode=None, every=None, unit=None, source=None)
        assert sent(ruth, "routine-new", **typed).status_code == 302, preset
        plan = Plan.objects.get(title=preset.key)
        term = plan.terms.get()
        assert (term.every, term.unit, term.source, term.by_rule) == (
            preset.every,
            preset.unit,
            preset.source,
            preset.by_rule,
        )
        assert (term.use_every, term.high, term.low) == (preset.use_every, preset.high, preset.low)
        assert term.season == (preset.season.words if preset.season else "")


def test_an_offered_routine_fills_the_form_by_its_link_and_is_registered_as_it_stands(
    tag: Position, ruth: Person
) -> None:
    said = page(ruth, "routines-offered")
    for group in GROUPS:
        assert group.name in said
    url = f"{reverse('maintenance:routine-new')}?preset=feed-diaphragm&tag={tag.label_code}"
    form = client_of(ruth).get(url).content.decode()
    for filled in ('value="10000"', 'value="12"', "exchange its diaphragm", f'<option value="{tag.pk}" selected'):
        assert filled in form, filled
    boxes = routine(tag, title="x", mode="first of", every="12", unit="month", reads="Run hours", reads_unit="h")
    boxes |= {"use_every": "10000", "use_early": "1000", "use_late": "500", "early": "30", "late": "30"}
    answer = client_of(ruth).post(url, {"key": secrets.token_urlsafe(16), **boxes})
    assert answer.status_code == 302
    assert Plan.objects.get().terms.get().interval == "every 12 months or every 10000 h of run hours"
    assert client_of(ruth).get(f"{reverse('maintenance:routine-new')}?preset=none-such").status_code == 404


# ------------------------------------------------------------------------------------------------- season, worked out


@pytest.mark.parametrize("first", ["1 May", "May 1", "05-01", "1. may"])
def test_a_season_is_typed_as_people_write_days_and_said_out_of_it(tag: Position, ruth: Person, first: str) -> None:
    sent(ruth, "routine-new", **routine(tag, season_first=first, season_last="30 September"))
    plan = Plan.objects.get()
    assert plan.terms.get().season == "1 May to 30 September"
    said = page(ruth, "routine", plan.pk)
    assert "Out of season until 1 May" in said and "Every month, 1 May to 30 September" in said
    assert "Out of season until 1 May" in page(ruth, "routines")
    assert 'value="1 May"' in page(ruth, "term-new", plan.pk)
    assert not Occurrence.objects.open().exists()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"season_first": "31 April", "season_last": "1 May"}, "“31 April” is no day of a year"),
        ({"season_first": "spring", "season_last": "1 May"}, "write the day and the month like 1 May"),
        ({"season_first": "1 May"}, "write its first and its last day, or neither"),
        ({"season_first": "29 February", "season_last": "29 February"}, "29 February alone comes once in four years"),
        ({"season_first": "1 May", "season_last": "30 April"}, "it is the whole year; leave both days empty"),
        (
            {"season_first": "1 May", "season_last": "2 May", "mode": "fixed", "unit": "year", "anchor": "2026-12-01"},
            "none of its next fixed days lies in it",
        ),
    ],
)
def test_a_season_that_is_none_is_said_at_its_field_and_kept(
    tag: Position, ruth: Person, typed: dict[str, str], says: str
) -> None:
    answer = sent(ruth, "routine-new", **routine(tag, **typed))
    said = answer.content.decode()
    assert (answer.status_code, Plan.objects.exists()) == (422, False)
    assert says in said
    assert all(value in said for value in typed.values())


def strainer(site: Site, ines: Person) -> dict[str, object]:
    """What a person types for a strainer; its pressure and its flow were read together a minute ago."""
    pressure = make_position(site=site, tag="PDIT-05", quantity="pressure difference", unit="kPa")
    flow = make_position(site=site, tag="FIT-02", quantity="flow", unit="m³/h")
    for of, what, number, unit in ((pressure, "Pressure difference", "24", "kPa"), (flow, "Flow", "80", "m³/h")):
        record_reading(of=of, facts=ReadingFacts(what, number, unit, "display"), by=ines)
    return {
        "position": pressure.pk, "kind": "upkeep", "title": "Clean it", "follows": "position", "source": "maker",
        "in_pressure": f"{pressure.pk}:Pressure difference", "in_flow": f"{flow.pk}:Flow", "n_reference": "100",
        "u_flow": "m³/h", "n_clean": "12", "u_pressure": "kPa", "baseline_from": "measured clean, 1 March",
        "high": "25", "reads_unit": "kPa",
    }  # fmt: skip


def worked_out(person: Person, code: str, typed: dict[str, object]):  # type: ignore[no-untyped-def]
    url = f"{reverse('maintenance:routine-new')}?computes={code}"
    return client_of(person).post(url, {"key": secrets.token_urlsafe(16), **typed})


def test_a_value_worked_out_is_registered_and_shows_its_last_values(site: Site, ruth: Person, ines: Person) -> None:
    typed = strainer(site, ines)
    form = client_of(ruth).get(f"{reverse('maintenance:routine-new')}?computes=strainer").content.decode()
    assert "PDIT-05: Pressure difference, kPa, read 25 November 2026" in form
    answer = worked_out(ruth, "strainer", typed)
    plan = Plan.objects.get()
    assert answer.url == plan.get_absolute_url()
    said = page(ruth, "routine", plan.pk)
    # 24 x (100 / 80)^2 - 12 = 25.5, above 25
    for words in (
        "25.5 kPa",
        "Outside",
        "good is up to 25 kPa",
        "differential pressure 24 kPa, flow through it 80 m³/h",
    ):
        assert words in said, words
    change = page(ruth, "term-new", plan.pk)
    assert 'value="measured clean, 1 March"' in change and f'value="{typed["in_flow"]}" selected' in change
    assert client_of(ruth).get(f"{reverse('maintenance:term-new', args=[plan.pk])}?computes=none").status_code == 200


def turned(person: Person, to: str, typed: dict[str, object]) -> tuple[str, dict[str, str]]:
    """The page a button for other boxes leads to, and what it would send if nothing more were typed."""
    typed = {"key": secrets.token_urlsafe(16), **typed}
    answer = client_of(person).post(f"{reverse('maintenance:routine-new')}?computes={to}", {**typed, "turn": to})
    assert answer.status_code == 200
    said = answer.content.decode()
    assert "was not registered" not in said and "is-refused" not in said
    return said, boxes(said)


def test_other_boxes_are_asked_for_by_a_button_and_what_was_typed_stays(site: Site, ruth: Person, ines: Person) -> None:
    """There and back: into the boxes of a strainer, to a plain reading, to a pump, and to the strainer again."""
    whole = strainer(site, ines)
    first = {name: str(whole.pop(name)) for name in ("position", "kind", "title", "follows", "source")}
    first |= {"minutes": "forty", "every": "3", "reads": "Pressure", "season_first": "1 may", "by_rule": "on"}
    start = boxes(page(ruth, "routine-new"))
    assert not {"in_flow", "turn"} & start.keys()
    said, now = turned(ruth, "strainer", {**start, **first})
    assert "A strainer or filter that fouls" in said and "what you typed stays" in said
    typed = {name: str(value) for name, value in whole.items()} | {"n_clean": "a dozen"}
    assert first.items() <= now.items()
    assert not (Plan.objects.exists() or Event.objects.filter(verb__in=("routine.registered", "refused")).exists())
    for to in ("none", "head", "strainer"):
        said, now = turned(ruth, to, {**now, **typed})
        # A head is measured in per cent: of all that was chosen only the unit of pressures is no choice for it.
        unit = {"reads_unit": ""} if to == "head" else {}
        assert {**first, **typed, **unit}.items() <= now.items(), to
        if to == "head":
            typed |= {"n_suction": "5", "n_suction_sign": "minus"}
    del now["by_rule"]
    refused = worked_out(ruth, "strainer", now)
    assert (refused.status_code, boxes(refused.content.decode())["every"]) == (422, "3")
    answer = worked_out(ruth, "strainer", now | {"minutes": "40", "n_clean": "12", "season_first": ""})
    assert answer.status_code == 302
    term = Plan.objects.get().terms.get()
    assert (term.computes, term.high, term.every, term.reads_unit, term.by_rule) == ("strainer", "25", 1, "kPa", False)


def test_the_key_that_sends_is_the_button_of_the_act_and_no_button_for_other_boxes(tag: Position, ruth: Person) -> None:
    """The return key presses the first button of a form in the order of the page (HTML standard, 4.10.21.2)."""
    sent(ruth, "routine-new", **routine(tag))
    for path in ("routine-new", "term-new"):
        for query in ("", "?computes=strainer"):
            url = reverse(f"maintenance:{path}", args=[Plan.objects.get().pk] if path == "term-new" else [])
            said = client_of(ruth).get(url + query).content.decode()
            form = said[said.index('<form method="post">') :]
            buttons = re.findall(r'<button[^>]*type="submit"[^>]*>', form)
            assert 'class="do"' in buttons[0] and any('name="turn"' in one for one in buttons[1:])


def test_a_change_keeps_its_reason_and_the_limits_go_with_their_value(site: Site, ruth: Person, ines: Person) -> None:
    worked_out(ruth, "strainer", strainer(site, ines))
    url = reverse("maintenance:term-new", args=[Plan.objects.get().pk])
    now = boxes(client_of(ruth).get(url).content.decode()) | {"why": "another  meter", "n_clean": "13"}
    for to, high in (("none", ""), ("head", ""), ("strainer", "25")):
        answer = client_of(ruth).post(f"{url}?computes={to}", {**now, "turn": to})
        now = boxes(answer.content.decode())
        assert (answer.status_code, now["why"], now["n_clean"], now["high"]) == (200, "another  meter", "13", high), to
    assert Plan.objects.get().terms.count() == 1


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"in_flow": ""}, "Flow through it: choose where it is read"),
        ({"n_reference": ""}, "Flow it is brought to: write the number"),
        ({"n_reference": "a lot"}, "“a lot” is not a number"),
        ({"n_reference": "-5"}, "write a number above 0"),
        ({"u_flow": ""}, "Choose the unit in which these numbers are written."),
        ({"baseline_from": ""}, "write when and by whom it was measured"),
        ({"high": ""}, "give the lowest or the highest good value"),
        ({"reads_unit": ""}, "Unit of the limits: choose it."),
        ({"together": "600"}, "Write 240 minutes or less"),
        ({"source": ""}, "“from memory” is an answer"),
    ],
)
def test_a_value_worked_out_from_too_little_is_said_at_its_field_and_kept(
    site: Site, ruth: Person, ines: Person, wrong: dict[str, str], says: str
) -> None:
    typed = {**strainer(site, ines), **wrong}
    answer = worked_out(ruth, "strainer", typed)
    said = answer.content.decode()
    assert (answer.status_code, Plan.objects.exists()) == (422, False)
    assert says in said
    assert all(str(value) in said for value in typed.values())


# ---------------------------------------------------------------------------------------------------------- registering
