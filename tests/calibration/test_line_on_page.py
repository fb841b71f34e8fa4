"""The line through the points of a set on its pages, on paper and in the file; and whether later checks hold to it."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from typing import Any

import pytest
from django.urls import reverse

from calibration.actions.drafts import begin_draft
from calibration.compute.line_working import TOO_FEW
from calibration.models import Check
from calibration.reads.history import history_of
from calibration.reads.line import stored_line
from calibration.reads.stored import agrees, judged_in, worked_again
from tests.calibration.compute.methods.test_catches import BY_METHOD
from tests.calibration.places import Ground, Place, place_of
from tests.calibration.test_any_method import requirement_of
from tests.conftest import Clock
from tests.make import make_position
from tests.make_checks import Bench

pytestmark = pytest.mark.django_db
SUMMARY = "The line through these points, n = "


@pytest.fixture
def ground(clock: Clock, request: pytest.FixtureRequest) -> Ground:
    clock.set(2026, 11, 24, 20)
    return Ground(BY_METHOD[request.param])


def signed(ground: Ground, place: Place, **changes: str) -> Check:
    draft = begin_draft(requirement=place.requirement, by=ground.operator)
    again = replace(place, draft=draft)
    answer = again.post(ground.named({**ground.case.good, **changes}, again.stage), sign=True)
    assert answer.status_code == 302, answer.content.decode()
    return Check.objects.latest("number")


def text_of(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


@pytest.mark.parametrize("ground", ["pressure"], indirect=True)
def test_five_points_have_a_line_on_every_page_and_the_verdict_does_not_know_it(ground: Ground) -> None:
    """By hand, from x 0, 500, 1000, 500, 0 and y - x 0.5, 1, 1, 2, 1.

    Sxx = 2 x 400^2 + 2 x 100^2 + 600^2 = 700 000; sum of (x - 400)(y - x) = -200 + 100 + 600 + 200 - 400 = 300;
    slope 1 + 300/700000 = 1.000429, offset 1.1 - 400 x 300/700000 = 0.929; at 500 the line shows 1.143 too much.
    """
    place = place_of(ground, {}, earlier={})
    draft = place.post(ground.named(ground.case.good, place.stage)).content.decode()
    assert SUMMARY + "5" in draft
    check = signed(ground, place)
    page, paper = (
        ground.browser.get(reverse(f"calibration:{name}", args=[check.number])).content.decode()
        for name in ("check", "check-paper")
    )
    for html in (draft, page, paper):
        told = text_of(html)
        assert "Where 500 kPa is there, the correction to what is shown is −1.143 kPa" in told
        assert "When 500 kPa is shown, the line reads it back as 498.858 kPa, between" in told
        assert "slope 1.000429" in told and "offset +0.929 kPa" in told
    assert "<details><summary>" + SUMMARY in page and "Its upper limit" in page
    for of in check.sets.select_related("outcome"):
        assert agrees(of.outcome, worked_again(of, of.outcome)) and "line" not in of.outcome.judged
    row = next(csv.DictReader(io.StringIO(ground.browser.get(reverse("calibration:checks-csv")).content.decode())))
    assert (row["line points"], row["line offset (kPa)"]) == ("5", "0.929")


@pytest.mark.parametrize("ground", ["weigh-scale"], indirect=True)
def test_two_points_have_none_and_three_are_too_few_for_limits(ground: Ground) -> None:
    place = place_of(ground, {}, earlier={})
    check = signed(ground, place)
    page = ground.browser.get(check.get_absolute_url()).content.decode()
    paper = ground.browser.get(reverse("calibration:check-paper", args=[check.number])).content.decode()
    assert SUMMARY not in page and "The line through" not in paper
    more = signed(ground, place, load2_mass="120", load2_shown="119.9")
    page = text_of(ground.browser.get(more.get_absolute_url()).content.decode())
    assert SUMMARY + "3" in page and TOO_FEW in page and "When 60 kg is shown" in page and "between" not in page


@pytest.mark.parametrize("ground", ["pressure"], indirect=True)
def test_a_set_that_is_not_valid_has_no_line(ground: Ground) -> None:
    place = place_of(ground, {}, earlier={})
    check = signed(ground, place, vented="no")
    assert SUMMARY not in ground.browser.get(check.get_absolute_url()).content.decode()


@pytest.mark.parametrize("ground", ["pressure"], indirect=True)
def test_later_checks_hold_to_the_line_until_the_instrument_moves(ground: Ground, clock: Clock) -> None:
    place = place_of(ground, {}, earlier={})
    first = signed(ground, place)
    assert history_of(place.requirement).line is None  # nothing to hold against it yet
    clock.forward(hours=1)
    signed(ground, place, point1_shown="0.8", point5_shown="0.8")
    clock.forward(hours=1)
    moved = {f"point{n}_shown": text for n, text in enumerate(("4.5", "504", "1004", "504.5", "4.5"), 1)}
    signed(ground, place, **moved)
    told = history_of(place.requirement).line
    assert told is not None and (told.check, told.n) == (first.number, 5)
    assert [bool(one.outside) for one in told.checks] == [False, True]
    # The limit by hand: s / b times t of 5 standards together, 1 - (1 - 0.95^(1/5)) / 2 with 3 degrees of freedom.
    from scipy.stats import t

    line = stored_line(ground.case.method, first.sets.get(kind="as found").outcome, judged_in(_outcome(first)))
    assert line is not None and line.fit.residual_sd is not None
    limit = line.fit.residual_sd / float(line.fit.slope) * t.ppf(1 - (1 - 0.95 ** (1 / 5)) / 2, 3)
    assert float(told.checks[0].limit) == pytest.approx(limit, rel=5e-3)
    url = reverse("calibration:history-of", args=[place.requirement.pk])
    html = text_of(ground.browser.get(url).content.decode())
    assert "The line, by its check standards" in html and "outside: has it moved?" in html and "holds" in html


@pytest.mark.parametrize("ground", ["pressure"], indirect=True)
@pytest.mark.parametrize("vented", ["yes", "no"])
def test_an_adjustment_begins_a_new_line_whatever_its_readings_came_to(
    ground: Ground, clock: Clock, vented: str
) -> None:
    place = place_of(ground, {}, earlier={})
    signed(ground, place)
    clock.forward(hours=1)
    check = signed(ground, place, next="more")
    left = begin_draft(requirement=place.requirement, by=ground.operator, stage="as left", check=check)
    again = replace(place, draft=left)
    answer = again.post(ground.named({**ground.case.good, "vented": vented}, "as left"), sign=True, done="adjusted")
    assert answer.status_code == 302, answer.content.decode()
    assert history_of(place.requirement).line is None
    clock.forward(hours=1)
    newest = signed(ground, place)
    told = history_of(place.requirement).line
    if vented == "no":  # nothing good was read after it: the next good check begins the line
        assert told is None
    else:
        assert told is not None and (told.check, told.kind) == (check.number, "as left")
        assert [one.check for one in told.checks] == [newest.number]


def _outcome(check: Check) -> Any:
    return check.sets.get(kind="as found").outcome


@pytest.mark.parametrize("ground", ["pressure"], indirect=True)
def test_who_put_it_on_hold_is_folded_until_something_is_typed_there(ground: Ground) -> None:
    place = place_of(ground, {}, earlier={})
    named = ground.named(ground.case.good, place.stage)
    folded, opened = "<details><summary>By whom", "<details open><summary>By whom"
    assert folded in place.post(named).content.decode()
    html = place.post(named, hold_by="Ruth").content.decode()
    assert opened in html and 'value="Ruth"' in html
    assert opened in place.post(named, hold_note="valve shut").content.decode()


def test_a_machine_shows_what_it_is_checked_by(bench: Bench, enter: Any) -> None:
    pump = make_position(site=bench.site, tag="P-77", does="moves")
    url = reverse("tag", args=[pump.label_code])
    assert 'id="checks-of-tag"' not in enter(bench.operator).get(url).content.decode()
    assert "Say what it is checked by" in enter(bench.supervisor).get(url).content.decode()
    requirement_of(bench, pump, "feed-pump", fades="no")
    html = enter(bench.operator).get(url).content.decode()
    assert 'id="checks-of-tag"' in html and "Begin a check" in html
