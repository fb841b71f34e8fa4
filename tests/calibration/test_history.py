"""What the checks of an instrument say together, through the page and the actions."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from fractions import Fraction

import pytest
from django.urls import reverse

from assets.errors import Refusal, Stale
from assets.models import Event
from calibration.actions.studies import decide_interval, fix_baseline
from calibration.compute.studies.proposal import AsFound
from calibration.models import Baseline, IntervalDecision, PooledStudy
from calibration.reads.history import advice_named, history_of
from calibration.reads.pooled import Pool, pooled_body, pooled_results
from calibration.reads.seen import seen_of
from calibration.tasks import nightly
from maintenance.actions.routines import change_term, interval_of
from maintenance.models import PlanTerm
from tests.assets.signed_in import browser_of
from tests.make_checks import COLD, FAILING, Bench

pytestmark = pytest.mark.django_db


def checked_often(clock, times: int) -> Bench:
    """A probe checked twice a day, good each time, never adjusted; buffers in date all along."""
    bench = Bench()
    for number in range(times):
        bench.sign(bench.draft(COLD | {"point1_shown": ("7.08", "7.07")[number % 2]}))
        clock.forward(hours=12)
    return bench


def test_below_two_checks_nothing_is_advised_and_below_five_only_the_staircase_speaks(clock) -> None:
    bench = checked_often(clock, 1)
    assert "Too few" in history_of(bench.requirement).advice_says
    bench.sign(bench.draft())
    told = history_of(bench.requirement)
    spoken = {one.method: one.days for one in told.advice}
    assert spoken["staircase"] == 33  # 30 days and a tenth: as found within 80 % of the limit
    assert spoken["interval test"] is None
    assert any("too few" in said.lower() for said in told.drift_says)


def test_a_baseline_takes_ten_good_checks_and_judges_only_what_comes_after(clock) -> None:
    bench = checked_often(clock, 11)
    seen = seen_of(bench.requirement, "error")
    with pytest.raises(Refusal, match="at least 10"):
        fix_baseline(
            requirement=bench.requirement, figure="error", first=seen[0].set_id, last=seen[4].set_id, why="good",
            by=bench.supervisor,
        )  # fmt: skip
    client = browser_of(bench.supervisor)
    where = reverse("calibration:baseline", args=[bench.requirement.pk])
    refused = client.post(where, {"key": "k1", "first": seen[0].set_id, "last": seen[9].set_id, "why": ""})
    assert refused.status_code == 422
    done = client.post(where, {"key": "k2", "first": seen[0].set_id, "last": seen[9].set_id, "why": "a good year"})
    assert done.status_code == 302
    assert Baseline.objects.get().why == "a good year"
    page = client.get(reverse("calibration:history-of", args=[bench.requirement.pk]))
    assert "10 good checks" in page.content.decode()
    text = " ".join(page.content.decode().split())
    assert "n = 1, never its own" in text, text[text.index("10 good checks") :][:200]


def test_advice_is_taken_with_a_reason_and_the_routine_gets_it_from_the_day(clock) -> None:
    bench = checked_often(clock, 2)
    season = {"season_first": dt.date(2000, 3, 1), "season_last": dt.date(2000, 12, 31)}
    now = replace(interval_of(bench.plan.terms.get()), while_running=True, **season)
    change_term(plan=bench.plan, interval=now, from_day=clock().date(), why="a summer plant", by=bench.supervisor)
    advice = advice_named(bench.requirement, "staircase")
    given = {"requirement": bench.requirement, "method": "staircase", "days": advice.days, "by": bench.supervisor}
    day = clock().date()
    with pytest.raises(Refusal, match="Because"):
        decide_interval(**given, taken=True, why=" ", from_day=day)
    with pytest.raises(Stale):
        decide_interval(**{**given, "days": advice.days + 1}, taken=True, why="steady", from_day=day)
    decide_interval(**given, taken=False, why="the permit asks for 30 days", from_day=day)
    assert PlanTerm.objects.filter(plan=bench.plan).count() == 2
    client = browser_of(bench.supervisor)
    sent = {"key": "k3", "method": "staircase", "days": advice.days, "taken": "yes", "from_day": day.isoformat()}
    where = reverse("calibration:interval", args=[bench.requirement.pk])
    assert client.post(where, {**sent, "why": ""}).status_code == 422
    assert client.post(where, {**sent, "why": "steady for months"}).status_code == 302
    newest = PlanTerm.objects.filter(plan=bench.plan).order_by("-pk").first()
    assert (newest.every, newest.unit) == (advice.days, "day")
    assert interval_of(newest) == replace(now, every=advice.days, source="advice by staircase, taken by a person")
    assert [row.taken for row in IntervalDecision.objects.order_by("pk")] == [False, True]
    verbs = set(Event.objects.values_list("verb", flat=True))
    assert {"interval.advice taken", "interval.advice left"} <= verbs


def test_a_failed_as_found_shortens_and_a_corrected_check_counts_no_more(clock) -> None:
    bench = checked_often(clock, 2)
    bench.sign(bench.draft(FAILING))
    assert advice_named(bench.requirement, "staircase").days == 21  # 30 x 0.7
    assert len(seen_of(bench.requirement, "error")) == 3


def test_like_instruments_are_pooled_at_night_and_too_few_say_so(clock) -> None:
    bench = checked_often(clock, 3)
    (pool,) = pooled_results(bench.site)
    assert (pool.method, pool.places, len(pool.results)) == ("ph", 1, 2)
    assert "Too few" in pooled_body(pool)["says"]
    clock.set(2026, 12, 20, 4, 0)
    nightly()
    nightly()
    assert PooledStudy.objects.get().method == "ph"
    assert str(history_of(bench.requirement).pooled["n"]) == "2"


def test_an_age_far_beyond_every_check_is_not_shown_as_a_number() -> None:
    # Nearly all inside at every age, and the youngest worst: a model without decline puts the age at some 10^20 days.
    tolerance = Fraction(1, 10)
    shown = [(10, 40, 2), (30, 40, 1), (60, 40, 1), (90, 40, 1)]
    results = tuple(
        AsFound(days=Fraction(age), error=Fraction(0) if number < good else tolerance * 2, limit=tolerance)
        for age, good, bad in shown
        for number in range(good + bad)
    )
    body = pooled_body(Pool(method="ph", places=3, results=results, second={}))
    said = {one["model"]: (one["days"], one["bounds"]) for one in body["models"]}
    assert said["Weibull"] == ("too far off to say", "")
    assert int(said["exponential"][0]) < 900
