"""Spare parts: stock from moves that never change, nobody takes what is not there, the list flat in its questions."""

from __future__ import annotations

import datetime as dt
import io

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assets.compute.workbook import rows_in
from assets.errors import NotAllowed, Refusal, Stale
from assets.models import Event, Person, Role, Site
from maintenance.actions.order_parts import need_part, put_part_back, use_part
from maintenance.actions.parts import (
    PartTyped,
    change_part,
    count_part,
    receive_part,
    register_part,
    retire_part,
    scrap_part,
)
from maintenance.models import Part, PartMove, WorkOrder
from maintenance.reads.parts import parts_of
from tests.assets.signed_in import browser_of
from tests.conftest import Clock
from tests.make import make_area, make_person, make_position, make_site
from tests.make_orders import in_stock, make_part, make_started

pytestmark = pytest.mark.django_db
TODAY = dt.date(2026, 11, 25)


@pytest.fixture
def site(clock: Clock) -> Site:
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


@pytest.fixture
def ines(site: Site) -> Person:
    return make_person(site=site, name="Ines Calder")


@pytest.fixture
def order(site: Site, ines: Person) -> WorkOrder:
    make_area(site=site)
    return make_started(make_position(site=site, tag="P-61", does="moves"), by=ines)


@pytest.fixture
def probe(site: Site, ruth: Person) -> Part:
    return make_part(site=site, by=ruth, name="pH probe, glass", stock="2", least="1", price="180")


def test_stock_is_what_was_received_used_put_back_counted_and_scrapped(
    order: WorkOrder, probe: Part, ines: Person
) -> None:
    use_part(order=order, part=probe, amount="2", by=ines)
    put_part_back(order=order, part=probe, amount="1", by=ines)
    assert in_stock(probe) == 1000
    count_part(part=probe, counted="3", because="two in the van", by=ines)
    scrap_part(part=probe, amount="1", because="dried out", by=ines)
    assert in_stock(probe) == 2000
    assert [move.kind for move in probe.moves.all()] == ["received", "used", "returned", "counted", "scrapped"]
    assert Event.objects.about(probe).filter(verb="part.counted").count() == 1


def test_the_last_one_goes_to_who_takes_it_first_and_the_other_is_told(
    order: WorkOrder, probe: Part, ines: Person, site: Site
) -> None:
    use_part(order=order, part=probe, amount="2", by=ines)
    noor = make_person(site=site)
    with pytest.raises(Refusal, match=r"0 pieces in stock, 1 wanted\. .*Ines Calder.*work order 1"):
        use_part(order=order, part=probe, amount="1", by=noor)
    assert in_stock(probe) == 0


def test_the_database_itself_gives_nothing_that_is_not_there(order: WorkOrder, probe: Part, ines: Person) -> None:
    taken = PartMove(
        part=probe, kind="used", thousandths=-2001, order=order, recorded_at=order.raised_at, recorded_by=ines
    )
    with pytest.raises(IntegrityError, match="not so much of this part"), transaction.atomic():
        taken.save()
    with pytest.raises(IntegrityError), transaction.atomic():
        PartMove.objects.filter(part=probe).update(thousandths=9000)


@pytest.mark.parametrize(
    ("columns", "constraint"),
    [
        ({"kind": "used", "thousandths": -1}, "used_part_names_its_order"),
        ({"kind": "received", "thousandths": -1}, "move_has_the_sign_of_its_kind"),
        ({"kind": "scrapped", "thousandths": -1}, "scrapped_part_says_why"),
        ({"kind": "counted", "thousandths": 0}, "only_a_count_says_what_was_counted"),
    ],
)
def test_a_raw_row_of_nonsense_fails(probe: Part, ines: Person, columns: dict[str, object], constraint: str) -> None:
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        PartMove(part=probe, recorded_at="2026-11-25T12:00Z", recorded_by=ines, **columns).save()


def test_no_more_is_put_back_than_was_used(order: WorkOrder, probe: Part, ines: Person) -> None:
    use_part(order=order, part=probe, amount="1", by=ines)
    with pytest.raises(Refusal, match="has used 1 piece"):
        put_part_back(order=order, part=probe, amount="2", by=ines)


def test_parts_are_used_once_the_work_is_under_way(site: Site, probe: Part, ines: Person, order: WorkOrder) -> None:
    from tests.make_upkeep import make_order

    assert order.position is not None
    raised = make_order(order.position, by=ines)
    with pytest.raises(Refusal, match="once it is under way"):
        use_part(order=raised, part=probe, amount="1", by=ines)
    assert need_part(order=raised, part=probe, amount="1", by=ines).thousandths == 1000
    with pytest.raises(Refusal, match="already"):
        need_part(order=raised, part=probe, amount="1", by=ines)


def test_the_shelf_life_gives_the_last_day_and_what_has_passed_is_not_received(
    site: Site, ruth: Person, ines: Person
) -> None:
    part = make_part(site=site, by=ruth, shelf_days=30)
    assert receive_part(part=part, amount="1", expires=None, price="", by=ines).expires == dt.date(2026, 12, 25)
    with pytest.raises(Refusal, match="has passed"):
        receive_part(part=part, amount="1", expires=dt.date(2026, 11, 24), price="", by=ines)


def test_a_new_price_counts_from_the_delivery_on(order: WorkOrder, probe: Part, ines: Person) -> None:
    first = use_part(order=order, part=probe, amount="1", by=ines)
    receive_part(part=probe, amount="1", expires=None, price="195.50", by=ines)
    second = use_part(order=order, part=probe, amount="1", by=ines)
    assert (first.price, second.price) == ("180", "195.50")


def test_the_register_is_the_supervisors_and_a_name_stands_once(site: Site, ruth: Person, ines: Person) -> None:
    with pytest.raises(NotAllowed):
        register_part(site=site, part=PartTyped(name="Ring", unit="piece"), by=ines)
    part = register_part(site=site, part=PartTyped(name="Ring", unit="piece"), by=ruth)
    with pytest.raises(Refusal, match="of this name already"):
        register_part(site=site, part=PartTyped(name="ring", unit="piece"), by=ruth)
    change_part(part=part, typed=PartTyped(name="Ring 22 mm", unit="piece", least="4"), version=1, by=ruth)
    assert (part.name, part.least, part.version) == ("Ring 22 mm", 4000, 2)
    with pytest.raises(Stale):
        change_part(part=part, typed=PartTyped(name="Ring", unit="piece"), version=1, by=ruth)


def test_the_unit_stays_once_something_moved_and_stock_keeps_a_part_in_the_register(probe: Part, ruth: Person) -> None:
    with pytest.raises(Refusal, match="was counted in piece so far"):
        change_part(part=probe, typed=PartTyped(name=probe.name, unit="box"), version=1, by=ruth)
    with pytest.raises(Refusal, match="2 pieces still in stock"):
        retire_part(part=probe, because="no such probe any more", by=ruth)
    scrap_part(part=probe, amount="2", because="no such probe any more", by=ruth)
    retire_part(part=probe, because="no such probe any more", by=ruth)
    with pytest.raises(Refusal, match="is retired"):
        receive_part(part=probe, amount="1", expires=None, price="", by=ruth)


# ---------------------------------------------------------------------------------------------------------------- list


def test_what_is_below_its_least_and_what_expires_is_listed(site: Site, ruth: Person, clock: Clock) -> None:
    plenty = make_part(site=site, by=ruth, name="Plenty", least="1", stock="3")
    make_part(site=site, by=ruth, name="At its least", least="2", stock="2")
    make_part(site=site, by=ruth, name="Below", least="2", stock="1")
    none = make_part(site=site, by=ruth, name="None at all", least="1")
    used_up = make_part(site=site, by=ruth, name="Expiring batch used up")
    receive_part(part=used_up, amount="1", expires=dt.date(2026, 12, 1), price="", by=ruth)
    receive_part(part=used_up, amount="1", expires=dt.date(2028, 1, 1), price="", by=ruth)
    scrap_part(part=used_up, amount="1", because="used in a trial", by=ruth)
    receive_part(part=plenty, amount="1", expires=dt.date(2027, 1, 24), price="", by=ruth)
    receive_part(part=none, amount="5", expires=dt.date(2027, 1, 25), price="", by=ruth)
    assert [row.name for row in parts_of(site, "low", TODAY)] == ["Below"]
    # 60 days from 25 November are 24 January, inclusive.
    assert [row.name for row in parts_of(site, "expiring", TODAY)] == ["Plenty"]


def test_the_number_of_parts_adds_no_query_and_the_pages_show_them(site: Site, ruth: Person) -> None:
    browser, taken = browser_of(ruth), []
    for number in (2, 20):
        while Part.objects.count() < number:
            make_part(site=site, by=ruth, stock="1", shelf_days=20, least="2")
        for which in ("", "low", "expiring"):
            with CaptureQueriesContext(connection) as queries:
                assert browser.get(reverse("maintenance:parts"), {"which": which}).status_code == 200
            taken.append(len(queries))
    assert taken[:3] == taken[3:]


def test_the_list_as_files_keeps_text_as_text(site: Site, ruth: Person) -> None:
    make_part(site=site, by=ruth, name="=1+1", stock="1.5", unit="m")
    browser = browser_of(ruth)
    csv = browser.get(reverse("maintenance:parts-csv")).content.decode()
    assert "'=1+1," in csv
    rows = rows_in(browser.get(reverse("maintenance:parts-xlsx")).content)
    assert rows[1][:4] == ["=1+1", "3-C", "m", "1.5"]
    assert io.BytesIO(browser.get(reverse("maintenance:parts-xlsx")).content).read(2) == b"PK"


def test_a_part_is_received_counted_and_shown_through_its_pages(site: Site, ruth: Person, ines: Person) -> None:
    part = make_part(site=site, by=ruth, name="Gasket")
    browser = browser_of(ines)
    answer = browser.post(reverse("maintenance:part-receive", args=[part.pk]), {"key": "a", "amount": "three"})
    assert answer.status_code == 422
    assert "is not a number" in answer.content.decode()
    assert 'value="three"' in answer.content.decode()
    browser.post(reverse("maintenance:part-receive", args=[part.pk]), {"key": "b", "amount": "3"})
    browser.post(reverse("maintenance:part-count", args=[part.pk]), {"key": "c", "counted": "2", "because": "one lost"})
    said = browser.get(part.get_absolute_url()).content.decode()
    for words in ("Counted, 2 on the shelf", "one lost", "No use in the last day", "2 pieces"):
        assert words in said, words


def test_the_page_of_an_order_shows_what_is_needed_used_and_left(order: WorkOrder, probe: Part, ines: Person) -> None:
    url = reverse("maintenance:order-part", args=[order.number])
    browser = browser_of(ines)
    browser.post(url, {"key": "n", "part": probe.pk, "amount": "2", "way": "need"})
    browser.post(url, {"key": "u", "part": probe.pk, "amount": "2", "way": "use"})
    answer = browser.post(url, {"key": "v", "part": probe.pk, "amount": "1", "way": "use"})
    assert answer.status_code == 422
    assert "pH probe, glass: 0 pieces in stock, 1 wanted." in answer.content.decode()
    said = browser.get(order.get_absolute_url()).content.decode()
    assert "0 pieces; least 1" in said
    assert "Too few" in said
    assert "360.00" in said
