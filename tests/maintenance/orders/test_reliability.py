"""What the failures at a tag say, held against a published repair history told as work orders."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from assets.compute.reliability.repairs import PowerLaw
from assets.compute.reliability.replacement import Costs, ReplaceAt, RunToFailure
from assets.models import Person, Position, Role
from maintenance.actions.orders import withdraw_order
from maintenance.models import WorkOrder
from maintenance.reads.reliability import Reliability, reliability_of
from tests.assets.signed_in import browser_of
from tests.conftest import Clock
from tests.make import make_asset, make_fitting, make_person, make_position, make_site
from tests.make_upkeep import make_order
from tests.published import Reproduced, example

pytestmark = pytest.mark.django_db
CASE = example("nist_power_law_repairs")
DAYS = [int(time) for time in CASE.inputs["t"]]


@pytest.fixture
def ruth(clock: Clock) -> Person:
    return make_person(site=make_site(), role=Role.SUPERVISOR)


@pytest.fixture
def pump(ruth: Person) -> Position:
    site = ruth.memberships.get().site
    return make_position(site=site, tag="P-3", does="moves")


def tell(clock: Clock, pump: Position, ruth: Person, days: list[int], end: int) -> None:
    """Fit a pump, let it fail on these days, and stop the clock on day `end`."""
    begun = clock()
    make_fitting(position=pump, asset=make_asset(site=pump.site), by=ruth)
    for day in days:
        clock.now = begun + dt.timedelta(days=day)
        make_order(pump, by=ruth)
    clock.now = begun + dt.timedelta(days=end)


def told(clock: Clock, pump: Position, costs: Costs | None = None) -> Reliability:
    return reliability_of(pump, clock().astimezone(pump.site.zone).date(), costs)


def test_a_published_history_gives_its_published_figures(
    clock: Clock, pump: Position, ruth: Person, reproduced: Reproduced
) -> None:
    """NIST/SEMATECH e-Handbook 8.4.5.2, its hours told as days; the trend as the fixture of trend tests has it."""
    tell(clock, pump, ruth, DAYS, 1500)
    found = told(clock, pump)
    assert (len(found.failures), found.days) == (10, 1500)
    assert isinstance(found.power, PowerLaw)
    reproduced(found.power.b, CASE.figures["b"])
    reproduced(found.power.mean_time, CASE.figures["MTBF_end"])
    reproduced(found.power.low, CASE.figures["lower"])
    assert "No trend stands out" in found.trend  # Laplace, one-sided 0.092
    assert found.mean is not None
    assert found.mean.mean == 150


def test_only_what_failed_counts_and_once_a_day(clock: Clock, pump: Position, ruth: Person) -> None:
    tell(clock, pump, ruth, [10, 10, 30], 40)
    withdraw_order(order=WorkOrder.objects.latest("number"), because="the wrong pump", by=ruth)
    found = told(clock, pump)
    assert [(one.days, len(one.orders)) for one in found.failures] == [(10, 2)]
    assert found.life is not None
    assert "Too few failures" in found.life.says


def test_without_anything_fitted_nothing_is_counted(clock: Clock, pump: Position, ruth: Person) -> None:
    make_order(pump, by=ruth)
    assert told(clock, pump).begun is None
    assert "Nothing was ever fitted" in browser_of(ruth).get(page_of(pump)).content.decode()


@pytest.mark.parametrize(
    ("days", "kind"),
    [
        ([100, 198, 301, 399, 502], ReplaceAt),  # lives of 98 to 103 days: wear, so age tells
        ([1, 2, 60, 61, 300], RunToFailure),  # most fail young: a new one is no better
    ],
)
def test_replacing_pays_where_it_wears_and_never_where_the_young_fail(
    clock: Clock, pump: Position, ruth: Person, days: list[int], kind: type
) -> None:
    tell(clock, pump, ruth, days, 560)
    found = told(clock, pump, Costs(planned=200, failure=1000)).best
    assert isinstance(found, kind)
    assert found.n == 5


def page_of(pump: Position) -> str:
    return reverse("maintenance:reliability", args=[pump.label_code])


def test_the_page_says_n_and_asks_for_two_costs(clock: Clock, pump: Position, ruth: Person) -> None:
    tell(clock, pump, ruth, [100, 198, 301, 399, 502], 560)
    browser = browser_of(ruth)
    shown = browser.get(page_of(pump)).content.decode()
    assert "Failures, n = 5" in shown
    assert "112 days" in shown  # 560 / 5
    assert "<svg" in shown
    refused = browser.get(page_of(pump), {"planned": "200", "failure": "0"})
    assert refused.status_code == 422
    assert "A failure costs, with all it brings: 0" in refused.content.decode()
    assert 'value="200"' in refused.content.decode()
    assert "a day" in browser.get(page_of(pump), {"planned": "200", "failure": "1000"}).content.decode()
    assert page_of(pump) in browser.get(reverse("tag", args=[pump.label_code])).content.decode()
