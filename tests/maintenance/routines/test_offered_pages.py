"""Offered routines, seasons and values worked out, through the pages that register them."""

from __future__ import annotations

import secrets

import pytest
from django.urls import reverse

from assets.actions import ReadingFacts, record_reading
from assets.models import Person, Position, Site
from maintenance.compute.presets import BY_KEY, GROUPS, PRESETS
from maintenance.models import Occurrence, Plan
from tests.maintenance.routines.pages import client_of, page, routine, sent
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
