"""The night compares checks with what they count for, finds seeded faults, and repairs nothing."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection

from assets import triggers
from assets.models import NightReport
from calibration.actions.certificates import accept_certificate, withdraw_fitness
from calibration.actions.drafts import begin_correction
from calibration.reads.night import differences, lapsed
from calibration.tasks import nightly
from maintenance.models import Performance
from tests.conftest import Clock
from tests.make import make_asset
from tests.make_checks import FAILING, Bench

pytestmark = pytest.mark.django_db


def test_nothing_differs_after_every_kind_of_check(bench: Bench, clock: Clock) -> None:
    good = bench.check()
    clock.forward(days=1)
    failed = bench.check(FAILING)
    bench.sign(bench.draft({"done": "cleaned", "point1_shown": "7.30"}, stage="as left", check=failed))
    clock.forward(days=1)
    bench.check({"point1_steady": "no"})
    draft = begin_correction(check=good, why="wrong probe", by=bench.operator)
    bench.sign(draft)
    assert list(differences(bench.site)) == []


def forget_triggers() -> None:
    triggers.drop(connection)


def seed(bench: Bench) -> None:
    bench.check()
    forget_triggers()


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE maintenance_performance SET counts = {no}, because = 'x'", "another time or another word"),
        ("UPDATE maintenance_performance SET performed_at = '2026-01-01 00:00:00+00:00'", "another time"),
        (
            "UPDATE maintenance_occurrence SET performance_id = NULL; DELETE FROM maintenance_performance",
            "told nothing",
        ),
        ("UPDATE maintenance_performance SET key = 'check-99-as left'", "no check signed it"),
    ],
)
def test_a_seeded_fault_is_found_and_left_alone(bench: Bench, statement: str, words: str) -> None:
    seed(bench)
    no = "0" if connection.vendor == "sqlite" else "false"
    with connection.cursor() as cursor:
        for part in statement.format(no=no).split(";"):
            cursor.execute(part)
    before = list(Performance.objects.values())
    assert any(words in sentence for sentence in differences(bench.site))
    assert list(Performance.objects.values()) == before


def test_a_corrected_check_that_still_counts_is_found(bench: Bench) -> None:
    old = bench.check()
    bench.sign(begin_correction(check=old, why="wrong probe", by=bench.operator))
    forget_triggers()
    Performance.objects.filter(replaces__isnull=False).update(replaces=None)
    assert any("still counts" in sentence for sentence in differences(bench.site))


def test_the_night_reports_once_after_two_at_the_site(bench: Bench, clock: Clock) -> None:
    clock.set(2026, 11, 26, 1, 59, tz=bench.site.zone)
    assert nightly() == "nothing to do"
    clock.set(2026, 11, 26, 2, 0, tz=bench.site.zone)
    nightly()
    assert nightly() == "nothing to do"
    assert sorted(NightReport.objects.values_list("kind", flat=True)) == ["checks", "fit for use"]


def test_what_has_lapsed_is_named_the_day_after_its_last(bench: Bench, clock: Clock, today: dt.date) -> None:
    tester = make_asset(site=bench.site, kind="voltage tester", serial="M-4")
    accept_certificate(
        asset=tester,
        from_day=today - dt.timedelta(days=300),
        until=today,
        issuer="County bench",
        number="C-17",
        file_hash="",
        by=bench.supervisor,
    )
    assert list(lapsed(bench.site, today)) == []
    (sentence,) = lapsed(bench.site, today + dt.timedelta(days=1))
    assert "voltage tester M-4" in sentence
    withdraw_fitness(asset=tester, why="dropped", by=bench.supervisor)
    assert list(lapsed(bench.site, today + dt.timedelta(days=1))) == []
