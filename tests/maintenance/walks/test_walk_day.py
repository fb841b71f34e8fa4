"""The page of a day's figures: counters, twins, the water balance with its history, and what counts in it."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assets.errors import Refusal
from assets.models import Person, Position, Role, Site
from maintenance.models import BalancePart
from tests.assets.signed_in import browser_of, sent
from tests.conftest import Clock
from tests.make import make_person, make_position, make_site
from tests.make_walks import make_line, make_part, make_point, make_round, read_before

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(clock: Clock) -> Site:
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


def meter(site: Site, tag: str, *values: str, by: Person, unit: str = "m³", what: str = "Totalizer") -> Position:
    """A meter with numbers read now, a day before, and so on."""
    made = make_position(
        site=site, tag=tag, quantity="Flow" if unit == "m³" else what, unit="m³/h" if unit == "m³" else unit
    )
    read_before(made, *values, by=by, what=what, unit=unit, hours=0)
    return made


def test_the_balance_of_yesterday_stands_with_its_formula_and_its_history(site: Site, ruth: Person) -> None:
    make_part(meter(site, "FQI-101", "8600", "10000", "11500", by=ruth), by=ruth, uncertainty="1")
    make_part(meter(site, "FQI-201", "18700", "20000", "21300", by=ruth), by=ruth, kind="out", uncertainty="1")
    store = meter(site, "LI-501", "3.10", "3.10", "3.25", by=ruth, unit="m", what="Level")
    make_part(store, by=ruth, kind="store", what="Level", area="400")
    text = browser_of(ruth).get("/walk/day/").content.decode()
    # 1500 - 1300 - 0.15 * 400 = 140, of 1500: 9.33 %; the day before 1400 - 1300 - 0 = 100, of 1400: 7.14 %.
    assert "Figures of 24 November 2026" in text
    assert "9.33 % of what came in is not accounted for (uncertainty not stated for LI-501 Level)" in text
    assert "7.14 %" in text
    assert "n = 2 of 14 days with a balance." in text
    assert "100 × (in − out − plant use − backwash − rise of the stores) / in" in text


def test_counters_of_the_walk_stand_with_their_difference_share_of_time_and_n(site: Site, ruth: Person) -> None:
    one, two = (make_position(site=site, does="moves", tag=tag) for tag in ("P-61", "P-62"))
    made = make_round(site=site, by=ruth)
    for pump, twin, values in ((one, two, ("100.0", "118.0")), (two, one, ("50.0", "56.0"))):
        point = make_point(made, by=ruth, position=pump)
        make_line(point, by=ruth, kind="counter", what="Run hours", unit="h", twin=twin)
        read_before(pump, *values, by=ruth, what="Run hours", unit="h", hours=0)
    text = browser_of(ruth).get("/walk/day/?day=2026-11-24").content.decode()
    for said in ("18 h", "75 %", "n = 1.", "P-61 ran 18 h and P-62 6 h: P-61 had 75 % of the running"):
        assert said in text, said
    assert browser_of(ruth).get("/walk/day/?day=never").status_code == 404


def test_what_counts_is_kept_by_a_supervisor_with_a_sentence_at_the_field(site: Site, ruth: Person) -> None:
    tag = meter(site, "LI-501", "3.10", by=ruth, unit="m", what="Level")
    facts = {"position": str(tag.pk), "what": "Level", "face": "display", "from_day": "2026-11-01", "why": "clearwell"}
    client = browser_of(ruth)
    wrong = sent(client, "/walk/balance/new/", kind="store", **facts)
    assert "A store says its surface in m²" in wrong.content.decode()
    assert sent(client, "/walk/balance/new/", kind="store", area="400", **facts).status_code == 302
    twice = sent(client, "/walk/balance/new/", kind="in", **facts)
    assert "counts in the balance already" in twice.content.decode()
    part = BalancePart.objects.get()
    early = sent(client, f"/walk/balance/{part.pk}/end/", to_day="2026-10-01")
    assert "not before the first one" in early.content.decode()
    assert sent(client, f"/walk/balance/{part.pk}/end/", to_day="2026-11-24").status_code == 302
    assert BalancePart.objects.get().to_day == dt.date(2026, 11, 24)


@pytest.mark.parametrize("wrong", [{"uncertainty": "0"}, {"uncertainty": "little"}, {"kind": "store"}])
def test_nonsense_about_a_part_is_refused(site: Site, ruth: Person, wrong: dict[str, str]) -> None:
    with pytest.raises(Refusal):
        make_part(make_position(site=site), by=ruth, **wrong)


def test_few_and_many_counters_take_the_same_number_of_queries(site: Site, ruth: Person) -> None:
    client = browser_of(ruth)
    client.get("/walk/day/")
    counted = []
    for many in (1, 6):
        made = make_round(site=site, by=ruth)
        for n in range(many):
            flow = meter(site, f"FQI-{many}{n}", "10", "20", by=ruth)
            make_line(make_point(made, by=ruth, position=flow), by=ruth, kind="counter", what="Totalizer", unit="m³")
            make_part(flow, by=ruth, kind="in")
        with CaptureQueriesContext(connection) as seen:
            client.get("/walk/day/")
        counted.append(len(seen))
    assert counted[0] == counted[1]
