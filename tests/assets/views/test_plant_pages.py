"""Pages of the plant: who may see and do what, what is kept when refused, what one form sent twice does."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assets import actions
from assets.actions import LimitFacts, ReadingFacts
from assets.models import Area, Asset, Event, Fitting, Limit, Position, Reading, Role, SignalUse
from tests.assets.signed_in import browser_of, sent
from tests.make import make_area, make_asset, make_fitting, make_person, make_position, make_site, make_use

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(clock):
    return make_site(address="https://kestrel.example.org")


@pytest.fixture
def ruth(site):
    return make_person(site=site, role=Role.SUPERVISOR)


@pytest.fixture
def ines(site):
    return make_person(site=site)


@pytest.fixture
def probe(site):
    """A pH position."""
    return make_position(site=site, tag="AIT-410")


TAG = {
    "tag": "AIT-310",
    "service": "pH, filtered water",
    "does": "measures",
    "matters_for": "compliance",
    "quantity": "pH",
    "unit": "pH",
    "range_low": "0",
    "range_high": "14",
    "compliance_point": "yes",
    "walk_order": "",
}
ASSET = {"kind": "pH probe", "serial": "40-7802", "model": "A", "note": ""}


def paths(site, by) -> dict[str, str]:
    """Every page with a form that changes the plant, over objects of a site."""
    position, pump = make_position(site=site), make_position(site=site, does="moves")
    asset = make_asset(site=site)
    make_fitting(position=position, asset=asset, by=by)
    use = make_use(position=position, target=pump, by=by)
    facts = LimitFacts("permit", "high", "8.5", "pH", "permit 12", dt.date(2026, 11, 1))
    limit = actions.set_limit(position=position, facts=facts, by=by)
    reading = actions.record_reading(of=position, facts=ReadingFacts("pH", "7.1", "pH", "HMI"), by=by)
    area = make_area(site=site)
    return {
        "area_edit": f"/plant/areas/{area.pk}/edit/",
        "area_retire": f"/plant/areas/{area.pk}/retire/",
        "position_edit": f"/plant/tags/{position.pk}/edit/",
        "position_retire": f"/plant/tags/{pump.pk}/retire/",
        "use_new": f"/plant/tags/{position.pk}/uses/new/",
        "limit_new": f"/plant/tags/{position.pk}/limits/new/",
        "use_end": f"/plant/uses/{use.pk}/end/",
        "limit_end": f"/plant/limits/{limit.pk}/end/",
        "asset_edit": f"/assets/{asset.pk}/edit/",
        "asset_retire": f"/assets/{asset.pk}/retire/",
        "fit": f"/plant/tags/{position.pk}/fit/",
        "reading_new": f"/plant/tags/{position.pk}/readings/new/",
        "reading_correct": f"/plant/readings/{reading.pk}/correct/",
    }


OPERATORS_TOO = {"fit", "reading_new", "reading_correct"}
NEW = ["/plant/areas/new/", "/plant/tags/new/", "/assets/new/", "/plant/import/"]
READ = ["/plant/", "/assets/", "/plant/labels/", "/plant/export.csv"]


def test_every_form_page_by_role_and_site(site, ruth) -> None:
    ours = paths(site, ruth)
    other = make_site(name="Other Works")
    theirs = paths(other, make_person(site=other, role=Role.SUPERVISOR))
    for role in (Role.SUPERVISOR, Role.OPERATOR, Role.VIEWER, Role.ADMINISTRATOR):
        client = browser_of(make_person(site=site, role=role))
        for name, path in ours.items():
            may = role == Role.SUPERVISOR or (role == Role.OPERATOR and name in OPERATORS_TOO)
            assert client.get(path).status_code == (200 if may else 403), (role, path)
            if not may:
                assert client.post(path, {}).status_code == 403, (role, path)
            assert client.get(theirs[name]).status_code == (404 if may else 403), (role, path)
            assert client.post(theirs[name], {}).status_code == (404 if may else 403), (role, path)


@pytest.mark.parametrize("path", NEW)
def test_pages_that_register_are_the_supervisors(site, path) -> None:
    for role, status in ((Role.SUPERVISOR, 200), (Role.OPERATOR, 403), (Role.VIEWER, 403), (Role.ADMINISTRATOR, 403)):
        client = browser_of(make_person(site=site, role=role))
        assert client.get(path).status_code == status, (role, path)
        assert client.post(path, {}).status_code == (422 if status == 200 else 403), (role, path)


@pytest.mark.parametrize("path", READ)
def test_pages_that_are_read_are_everybodys_but_the_administrators(site, path) -> None:
    for role, status in ((Role.SUPERVISOR, 200), (Role.OPERATOR, 200), (Role.VIEWER, 200), (Role.ADMINISTRATOR, 403)):
        assert browser_of(make_person(site=site, role=role)).get(path).status_code == status, (role, path)


@pytest.mark.parametrize("path", [*NEW, *READ])
def test_who_is_not_signed_in_is_asked_who_they_are(client, site, path) -> None:
    assert client.get(path)["Location"] == f"/sign-in/?next={path}"
    sent_anyway = client.post(path, TAG)
    assert sent_anyway.status_code == (405 if path in READ else 302)
    assert path in READ or sent_anyway["Location"].startswith("/sign-in/")
    assert Position.objects.count() == 0


# Areas and tags


def test_an_area_and_a_tag_are_registered_and_found_in_the_walk(site, ruth) -> None:
    client = browser_of(ruth)
    assert sent(client, "/plant/areas/new/", name="Filters", walk_order="")["Location"] == "/plant/"
    area = Area.objects.get()
    answer = sent(client, "/plant/tags/new/", area=str(area.pk), **TAG)
    position = Position.objects.get()
    assert answer["Location"] == f"/tag/{position.label_code}/"
    text = client.get("/plant/").content.decode()
    assert "Filters" in text and "AIT-310" in text and f"/tag/{position.label_code}/" in text


def test_a_refused_tag_says_why_at_each_field_and_keeps_what_was_typed(site, ruth) -> None:
    client = browser_of(ruth)
    make_position(site=site, tag="AIT-310")
    area = Area.objects.get()
    answer = sent(
        client, "/plant/tags/new/", area=str(area.pk), **{**TAG, "range_low": "1,400", "service": "“<b>” & µ"}
    )
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "The tag was not registered" in text and "can mean two numbers" in text
    assert 'value="1,400"' in text and "“&lt;b&gt;” &amp; µ" in text
    assert 'href="#id_range_low"' in text
    answer = sent(client, "/plant/tags/new/", area=str(area.pk), **TAG)
    assert answer.status_code == 422 and set(answer.context["form"].errors) == {"tag"}
    assert [e.verb for e in Event.objects.order_by("-pk")[:2]] == ["refused", "refused"]
    assert Position.objects.count() == 1


def test_a_form_without_anything_names_every_field_that_is_needed(site, ruth) -> None:
    answer = sent(browser_of(ruth), "/plant/tags/new/")
    assert set(answer.context["form"].errors) == {"area", "tag", "service", "does", "matters_for", "compliance_point"}


def test_an_area_of_another_site_cannot_be_chosen(site, ruth) -> None:
    elsewhere = make_area(site=make_site(name="Other Works"))
    answer = sent(browser_of(ruth), "/plant/tags/new/", area=str(elsewhere.pk), **TAG)
    assert answer.status_code == 422 and "area" in answer.context["form"].errors


def test_the_same_form_sent_twice_registers_once(site, ruth) -> None:
    client, area = browser_of(ruth), make_area(site=site)
    typed = {**TAG, "area": str(area.pk), "key": client.get("/plant/tags/new/").context["form"]["key"].value()}
    first, second = (client.post("/plant/tags/new/", typed) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert Position.objects.count() == 1


def test_a_page_that_became_old_changes_nothing_and_keeps_what_was_typed(site, ruth, probe) -> None:
    client = browser_of(ruth)
    path = f"/plant/tags/{probe.pk}/edit/"
    shown = client.get(path).context["form"]
    old = {"key": shown["key"].value(), "version": shown["version"].value(), "area": str(probe.area_id)}
    assert sent(client, path, area=str(probe.area_id), **{**TAG, "tag": "AIT-410"}).status_code == 302
    answer = client.post(path, {**old, **TAG, "service": "my own words"})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "changed by somebody else" in text and "my own words" in text
    probe.refresh_from_db()
    assert (probe.service, probe.version) == (TAG["service"], 2)


def test_a_tag_is_retired_after_it_was_asked_for(site, ruth, probe) -> None:
    client = browser_of(ruth)
    assert client.get(f"/plant/tags/{probe.pk}/retire/").status_code == 200
    probe.refresh_from_db()
    assert probe.retired_at is None
    assert sent(client, f"/plant/tags/{probe.pk}/retire/")["Location"] == "/plant/"
    assert "AIT-410" not in client.get("/plant/").content.decode()
    assert "AIT-410" in client.get("/plant/?show=retired").content.decode()
    assert sent(client, f"/plant/tags/{probe.pk}/retire/").status_code == 422
    assert sent(client, f"/plant/areas/{probe.area_id}/retire/")["Location"] == "/plant/"


@pytest.mark.parametrize(
    ("show", "seen"),
    [
        ("show=", {"AIT-1", "P-2", "AIT-3"}),
        ("show=measures", {"AIT-1", "AIT-3"}),
        ("show=moves", {"P-2"}),
        ("show=empty", {"P-2", "AIT-3"}),
        ("show=matters-safety", {"AIT-3"}),
        ("show=reported", set()),
        ("find=it-3", {"AIT-3"}),
        ("find=it-&show=empty", {"AIT-3"}),
    ],
)
def test_the_plant_is_filtered_by_links(site, ruth, show, seen) -> None:
    one = make_position(site=site, tag="AIT-1")
    make_position(site=site, tag="P-2", does="moves")
    make_position(site=site, tag="AIT-3", matters_for="safety")
    make_position(site=make_site(name="Other Works"), tag="X-9")
    make_fitting(position=one, asset=make_asset(site=site), by=ruth)
    areas = browser_of(ruth).get(f"/plant/?{show}").context["areas"]
    assert {row.position.tag for group in areas for row in group.rows} == seen
    assert browser_of(ruth).get("/plant/?show=nonsense").status_code == 404


@pytest.mark.parametrize("path", ["/plant/", "/plant/?show=empty", "/assets/", "/plant/labels/", "/plant/export.csv"])
def test_lists_take_as_many_queries_for_two_rows_as_for_twenty(site, ruth, path) -> None:
    client = browser_of(ruth)

    def grow(rows: int) -> None:
        for _ in range(rows):
            position = make_position(site=site, area=make_area(site=site))
            make_fitting(position=position, asset=make_asset(site=site), by=ruth)
            make_use(position=position, target=make_position(site=site, area=position.area), by=ruth)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert client.get(path).status_code == 200
        return len(seen)

    grow(2)
    few = queries()
    grow(18)
    assert queries() == few


def test_an_empty_plant_says_what_to_do_first(site, ruth, ines) -> None:
    assert "Take in tags from a file" in browser_of(ruth).get("/plant/").content.decode()
    text = browser_of(ines).get("/plant/").content.decode()
    assert "/plant/import/" not in text and "A supervisor writes them" in text


def test_what_a_role_cannot_do_is_not_offered(site, ines, ruth, probe) -> None:
    for person, offered in ((ruth, True), (ines, False)):
        text = browser_of(person).get("/plant/").content.decode()
        assert ("Add a tag here" in text) is offered


# Assets and fittings


def test_an_asset_is_registered_on_the_way_to_fitting_it(site, ruth, probe) -> None:
    client = browser_of(ruth)
    answer = sent(client, f"/assets/new/?for={probe.pk}", **ASSET)
    asset = Asset.objects.get()
    assert answer["Location"] == f"/plant/tags/{probe.pk}/fit/?asset={asset.pk}"
    assert client.get(answer["Location"]).context["form"]["asset"].value() == str(asset.pk)
    answer = sent(client, answer["Location"], asset=str(asset.pk), at="")
    assert answer["Location"] == f"/tag/{probe.label_code}/"
    page = client.get(f"/assets/{asset.pk}/").content.decode()
    assert "AIT-410" in page and "it is there now" in page


def test_an_exchange_and_a_taking_out_are_written_on_the_page_of_the_tag(site, ines, probe, clock) -> None:
    old, new = make_asset(site=site), make_asset(site=site)
    make_fitting(position=probe, asset=old, by=ines)
    clock.forward(days=2)
    client, path = browser_of(ines), f"/plant/tags/{probe.pk}/fit/"
    assert sent(client, path, done="exchange", asset="", at="").status_code == 422
    assert sent(client, path, done="out", asset=str(new.pk), at="").status_code == 422
    assert sent(client, path, asset=str(new.pk), at="").status_code == 422
    wrong = sent(client, path, done="exchange", asset=str(new.pk), at="26/11/2026")
    assert wrong.status_code == 422 and 'value="26/11/2026"' in wrong.content.decode()
    assert sent(client, path, done="exchange", asset=str(new.pk), at="2026-11-26 08:00").status_code == 302
    assert Fitting.objects.get(asset=new).from_at == dt.datetime(2026, 11, 26, 15, 0, tzinfo=dt.UTC)
    assert sent(client, path, done="out", asset="", at="").status_code == 302
    assert not Fitting.objects.now().exists()


def test_only_free_assets_of_the_site_are_offered(site, ines, probe) -> None:
    free, fitted = make_asset(site=site), make_asset(site=site)
    make_fitting(position=make_position(site=site), asset=fitted, by=ines)
    strange = make_asset(site=make_site(name="Other Works"))
    client, path = browser_of(ines), f"/plant/tags/{probe.pk}/fit/"
    assert set(client.get(path).context["form"].fields["asset"].queryset) == {free}
    for asset in (fitted, strange):
        assert sent(client, path, asset=str(asset.pk), at="").status_code == 422


def test_the_assets_are_listed_fifty_at_a_time(site, ines) -> None:
    for number in range(52):
        make_asset(site=site, serial=f"S{number:03d}")
    client = browser_of(ines)
    first = client.get("/assets/")
    assert len(first.context["rows"]) == 50 and first.context["pager"].after_url
    last = client.get(f"/assets/{first.context['pager'].after_url}")
    assert [row.asset.serial for row in last.context["rows"]] == ["S050", "S051"]
    assert last.context["pager"].before_url and not last.context["pager"].after_url
    assert client.get("/assets/?page=-4").status_code == client.get("/assets/?page=x").status_code == 200


# Signals


def test_a_use_a_limit_and_a_reading_are_written_and_ended(site, ruth, probe) -> None:
    client = browser_of(ruth)
    pump = make_position(site=site, does="moves")
    back = f"/tag/{probe.label_code}/"
    assert (
        sent(client, f"/plant/tags/{probe.pk}/uses/new/", use="paces", target=str(pump.pk), text="")["Location"] == back
    )
    assert sent(client, f"/plant/tags/{probe.pk}/uses/new/", use="paces", target="", text="").status_code == 422
    limit = {
        "name": "permit",
        "side": "high",
        "value": "8,50",
        "unit": "pH",
        "source": "permit 12",
        "from_day": "2026-11-01",
    }
    assert sent(client, f"/plant/tags/{probe.pk}/limits/new/", **limit)["Location"] == back
    bad = sent(client, f"/plant/tags/{probe.pk}/limits/new/", **{**limit, "value": "8.5.0", "source": ""})
    assert set(bad.context["form"].errors) == {"value", "source"} and 'value="8.5.0"' in bad.content.decode()
    assert sent(client, f"/plant/uses/{SignalUse.objects.get().pk}/end/")["Location"] == back
    ended = {"source": "permit 13", "from_day": "2026-11-20"}
    assert sent(client, f"/plant/limits/{Limit.objects.get().pk}/end/", **ended)["Location"] == back
    assert Limit.objects.in_force(dt.date(2026, 11, 25)) == []


READING = {"what": "pH", "entered": "7,81", "unit": "pH", "face": "HMI", "taken_at": "", "source": ""}


def test_a_reading_over_its_limit_is_kept_and_asked_about(site, ruth, ines, probe) -> None:
    facts = LimitFacts("permit", "high", "7.81", "pH", "permit 12", dt.date(2026, 11, 1))
    actions.set_limit(position=probe, facts=facts, by=ruth)
    client, path = browser_of(ines), f"/plant/tags/{probe.pk}/readings/new/"
    assert sent(client, path, **READING).status_code == 302
    assert "look at the number once more" not in client.get("/me/").content.decode()
    assert sent(client, path, **{**READING, "entered": "7.82"}).status_code == 302
    assert "7.82 pH is above the limit permit, 7.81 pH (permit 12)" in client.get("/me/").content.decode()
    assert [row.entered for row in Reading.objects.order_by("pk")] == ["7,81", "7.82"]


def test_a_number_the_tag_cannot_show_asks_for_a_second_look(ines, probe) -> None:
    client, path = browser_of(ines), f"/plant/tags/{probe.pk}/readings/new/"
    assert sent(client, path, **{**READING, "entered": "14.00"}).status_code == 302
    assert "outside the range" not in client.get("/me/").content.decode()
    assert sent(client, path, **{**READING, "entered": "-4"}).status_code == 302
    said = f"\N{MINUS SIGN}4 pH is outside the range of {probe.tag}, from 0 to 14 pH. It is kept as read"
    assert said in client.get("/me/").content.decode()


def test_the_last_reading_stands_above_the_box_never_in_it(site, ines, probe) -> None:
    client, path = browser_of(ines), f"/plant/tags/{probe.pk}/readings/new/"
    sent(client, path, **READING)
    shown = client.get(path)
    assert shown.context["form"]["entered"].value() is None
    assert "Last: 7,81 pH, 25 November 2026" in shown.content.decode()


def test_a_correction_leads_from_the_old_reading(site, ines, probe) -> None:
    client = browser_of(ines)
    sent(client, f"/plant/tags/{probe.pk}/readings/new/", **READING)
    old = Reading.objects.get()
    path = f"/plant/readings/{old.pk}/correct/"
    assert sent(client, path, **{**READING, "entered": "7.18"}).status_code == 302
    assert Reading.objects.standing().get().replaces == old
    assert sent(client, path, **{**READING, "entered": "7.2"}).status_code == 422
