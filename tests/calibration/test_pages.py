"""Who reaches which page of checks, what it shows, and with how many queries."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assets.models import Event, Role
from assets.permissions import Desk
from calibration.actions.drafts import begin_draft
from calibration.models import CheckReview, Draft
from calibration.permissions import check_for
from calibration.reads import begin_path, review_panel, tag_panel, today_panel
from calibration.reads.checks import CheckFilter, listed_checks, places, rows_of
from calibration.reads.lots import lot_rows, relied_on
from calibration.reads.result import result_page
from maintenance.models import Occurrence
from tests.calibration.browser import boxes_of
from tests.conftest import Clock
from tests.make import PIN, make_area, make_person, make_position, make_site
from tests.make_checks import FAILING, Bench, make_lot, make_requirement

pytestmark = pytest.mark.django_db

READ = {Role.VIEWER, Role.OPERATOR, Role.SUPERVISOR}
WRITE = {Role.OPERATOR, Role.SUPERVISOR}
LEAD = {Role.SUPERVISOR}


def addresses(bench: Bench, number: int) -> list[tuple[str, str, set[Role]]]:
    """Every address with a method and the roles that reach it."""
    pk, lot, tag = bench.requirement.pk, bench.lots["7"].pk, bench.position.pk

    def at(name: str, *args: int) -> str:
        return reverse(f"calibration:{name}", args=args)

    return [
        ("get", at("checks"), READ),
        ("get", at("checks-csv"), READ),
        ("get", at("check", number), READ),
        ("get", at("check-paper", number), READ),
        ("get", at("standards"), READ),
        ("get", at("lot", lot), READ),
        ("get", at("requirement", pk), READ),
        ("get", at("check-start", pk), WRITE),
        ("post", at("check-start", pk), WRITE),
        ("get", at("correct", number), WRITE),
        ("get", at("lot-fact", lot), WRITE),
        ("get", at("lot-new"), LEAD),
        ("get", at("requirement-new", tag), LEAD),
        ("post", at("requirement", pk), LEAD),
        ("post", at("check-review", number), LEAD),
    ]


@pytest.mark.parametrize("role", [role for role in Role if role != Role.CONTRACTOR])
def test_each_role_reaches_its_pages_and_no_other(bench: Bench, enter: Any, role: Role) -> None:
    check = bench.check({"next": "more"})
    browser = enter(make_person(site=bench.site, role=role))
    for method, url, roles in addresses(bench, check.number):
        status = getattr(browser, method)(url).status_code
        assert (status != 403) == (role in roles), f"{role} {method} {url}: {status}"
        assert status in {200, 302, 403, 422}, url


def test_nobody_signed_in_reaches_anything(bench: Bench) -> None:
    check = bench.check({"next": "more"})
    for method, url, _ in addresses(bench, check.number):
        answer = getattr(Client(), method)(url)
        assert answer.status_code == 302
        assert answer["Location"].startswith("/sign-in")


def test_another_sites_records_are_not_there(bench: Bench, enter: Any) -> None:
    check = bench.check({"next": "more"})
    elsewhere = make_site(name="Other Works")
    browser = enter(make_person(site=elsewhere, role=Role.SUPERVISOR))
    for method, url, _ in addresses(bench, check.number):
        named = url.rstrip("/").split("/")[-1]
        if named not in {"checks", "standards", "export.csv", "new"} or "requirements" in url:
            assert getattr(browser, method)(url).status_code == 404, url


@pytest.mark.parametrize("name", ["draft-work", "draft-sign", "draft-discard", "check-review"])
def test_what_changes_something_is_sent_not_fetched(bench: Bench, operator: Client, name: str) -> None:
    draft = begin_draft(requirement=bench.requirement, by=bench.operator)
    answer = operator.get(reverse(f"calibration:{name}", args=[draft.pk]))
    assert answer.status_code == 405
    assert Draft.objects.count() == 1


def test_a_stage_that_does_not_fit_is_refused_in_words(bench: Bench, operator: Client) -> None:
    check = bench.check()
    url = reverse("calibration:check-start", args=[bench.requirement.pk])
    answer = operator.post(url, {"check": check.number, "stage": "as left"})
    assert answer.status_code == 422
    assert "signed already" in answer.content.decode()
    assert json.loads(Event.objects.get(verb="refused").body)["facts"]["asked"] == "check.begun"


@pytest.mark.parametrize("stage", ["as left", "confirming", "sideways"])
def test_no_part_of_a_check_stands_without_its_as_found(bench: Bench, operator: Client, stage: str) -> None:
    answer = operator.post(reverse("calibration:check-start", args=[bench.requirement.pk]), {"stage": stage})
    assert answer.status_code == 422
    assert "A check begins with as found" in answer.content.decode()
    assert not Draft.objects.exists()


@pytest.mark.parametrize(("day", "words"), [(25, "today"), (24, "1 day ago"), (23, "2 days ago")])
def test_how_long_a_lot_is_open_is_said_in_its_number(bench: Bench, operator: Client, day: int, words: str) -> None:
    lot = make_lot(site=bench.site, by=bench.supervisor, kind="7", number="2613-F", opened_on=dt.date(2026, 11, day))
    draft = bench.draft({"point1_lot": str(lot.pk)})
    page = operator.get(draft.get_absolute_url()).content.decode()
    assert f"Opened {day} November 2026, {words}." in page


def test_what_another_person_has_begun_at_the_tag_is_said_before_one_begins(bench: Bench, operator: Client) -> None:
    url = reverse("calibration:check-start", args=[bench.requirement.pk])
    other = make_person(site=bench.site, name="Tomas Quill")
    begin_draft(requirement=bench.requirement, by=bench.operator)
    assert "has begun as found" not in operator.get(url).content.decode(), "one's own is no other person's"
    begin_draft(requirement=bench.requirement, by=other)
    # 14:05 UTC is 07:05 at the site, seven hours behind in November (IANA time zone database).
    assert "Tomas Quill has begun as found here on 25 November 2026, 07:05" in operator.get(url).content.decode()


def test_a_check_is_gone_on_with_at_its_own_tag_and_in_a_part_that_there_is(bench: Bench, operator: Client) -> None:
    check = bench.check(FAILING)
    other = make_requirement(position=make_position(site=bench.site), by=bench.supervisor)
    for pk, stage in ((other.pk, "as left"), (bench.requirement.pk, "sideways"), (bench.requirement.pk, "as found")):
        answer = operator.post(reverse("calibration:check-start", args=[pk]), {"stage": stage, "check": check.number})
        assert answer.status_code == 422
        assert "no part to go on with" in answer.content.decode()
    assert not Draft.objects.exists()


def test_a_digit_that_is_no_number_names_no_check_and_no_preset(bench: Bench, operator: Client, enter: Any) -> None:
    # U+00B2 is a digit to str.isdigit and none to int: https://docs.python.org/3/library/stdtypes.html#str.isdecimal
    assert (
        operator.post(reverse("calibration:check-start", args=[bench.requirement.pk]), {"check": "2\u00b2"}).status_code
        == 302
    )
    bare = make_position(site=bench.site).pk
    page = enter(bench.supervisor).get(reverse("calibration:requirement-new", args=[bare]), {"as": "2\u00b2"})
    assert page.status_code == 200


def test_a_check_is_corrected_through_its_page(bench: Bench, operator: Client) -> None:
    check = bench.check()
    url = reverse("calibration:correct", args=[check.number])
    empty = operator.post(url, {"why": "", "key": "k0"})
    assert empty.status_code == 422
    answer = operator.post(url, {"why": "the display was HMI", "key": "k1"})
    draft = Draft.objects.get()
    assert answer["Location"] == draft.get_absolute_url()
    html = operator.get(answer["Location"]).content.decode()
    assert f"check {check.number}" in html
    assert boxes_of(html)["point2_shown"] == "10.15"
    new = bench.sign(draft)
    assert f"check {new.number}" in operator.get(check.get_absolute_url()).content.decode()
    assert "the display was HMI" in operator.get(new.get_absolute_url()).content.decode()


def test_a_check_is_reviewed_through_its_page_by_another_supervisor(bench: Bench, enter: Any) -> None:
    check = bench.check(FAILING)
    url = reverse("calibration:check-review", args=[check.number])
    supervisor = enter(bench.supervisor)
    assert "Sign as reviewed" in supervisor.get(check.get_absolute_url()).content.decode()
    wrong = supervisor.post(url, {"note": "probe ordered", "proof": "1", "key": "v0"})
    assert wrong.status_code == 422
    assert "probe ordered" in wrong.content.decode()
    assert supervisor.post(url, {"note": "probe ordered", "proof": PIN, "key": "v1"}).status_code == 302
    assert CheckReview.objects.get().note == "probe ordered"
    assert "Sign as reviewed" not in supervisor.get(check.get_absolute_url()).content.decode()


def test_the_list_filters_by_tag_verdict_and_lot(bench: Bench, operator: Client) -> None:
    bench.check()
    bench.check(FAILING)
    bench.check({"point1_steady": "no"})

    def numbers(query: str) -> list[int]:
        html = operator.get(reverse("calibration:checks") + query).content.decode()
        return [number for number in (1, 2, 3) if f">Check {number}<" in html]

    assert numbers("") == [1, 2, 3]
    assert numbers("?verdict=pass") == [1]
    assert numbers("?verdict=fail") == [2]
    assert numbers("?verdict=not+valid") == [3]
    assert numbers(f"?tag={bench.position.pk}") == [1, 2, 3]
    assert numbers(f"?tag={make_position(site=bench.site).pk}") == []
    assert numbers(f"?lot={bench.lots['4'].pk}") == []
    assert numbers(f"?lot={bench.lots['7'].pk}") == [1, 2, 3]
    assert numbers("?verdict=nonsense&page=x") == [1, 2, 3]


def test_the_file_holds_each_signed_set_as_typed(bench: Bench, operator: Client) -> None:
    check = bench.check({"point1_shown": "7,08"})
    answer = operator.get(f"{reverse('calibration:checks-csv')}?tag={bench.position.pk}")
    assert answer["Content-Type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert [row["set"] for row in rows] == ["as found", "as left"]
    first = rows[0]
    assert (first["check"], first["verdict"], first["valid"]) == (str(check.number), "pass", "yes")
    assert first["performed"] == "2026-11-25T07:05:00-07:00"
    assert first["point 1 shown (pH)"] == "7,08"
    assert first["point 1 mv (mV)"] == "-4.8"
    assert first["point 1 lot"] == "2608-A"
    assert first["percent slope"] == "98.9"


def test_a_result_page_stands_for_every_kind_of_check(bench: Bench, operator: Client) -> None:
    failed = bench.check(FAILING)
    bench.sign(bench.draft(FAILING, stage="confirming", check=failed, lots=("7b", "10b")))
    bench.sign(bench.draft({"done": "both", "own_slope": "97.1", "own_slope_unit": "%"}, stage="as left", check=failed))
    lost = {name: "" for name in bench.fields() if name.startswith("point")}
    gone = bench.check({**lost, "lost_because": "cleaned at night", "next": "more"})
    wrong = bench.check({"point1_steady": "no"})
    for check, words in (
        (failed, ["Fail", "Second buffer", "Cleaned and adjusted".lower(), "Done", "confirmed"]),
        (gone, ["cleaned at night", "Go on to as left"]),
        (wrong, ["Not valid", "did not stand still"]),
    ):
        for name in ("check", "check-paper"):
            html = operator.get(reverse(f"calibration:{name}", args=[check.number])).content.decode()
            for word in words if name == "check" else []:
                assert word in html, word
            assert "does not hold" not in html
            assert "differs" not in html


def desk_of(bench: Bench, who: str = "operator") -> Desk:
    person = getattr(bench, who)
    return Desk(person, bench.site, Role.SUPERVISOR if who == "supervisor" else Role.OPERATOR)


def test_today_lists_what_one_has_begun_and_not_finished(bench: Bench) -> None:
    assert today_panel(desk_of(bench)).unfinished == ()
    check = bench.check({"next": "more"})
    assert [row.word for row in today_panel(desk_of(bench)).unfinished] == ["as left not signed"]
    bench.draft({"done": "adjusted"}, stage="as left", check=check)
    assert [row.word for row in today_panel(desk_of(bench)).unfinished] == ["not signed"]
    assert today_panel(desk_of(bench, "supervisor")).unfinished == ()


def test_review_lists_what_failed_or_is_not_valid_until_reviewed_or_corrected(bench: Bench) -> None:
    bench.check()
    failed = bench.check(FAILING)
    wrong = bench.check({"point1_steady": "no"}, by=bench.supervisor)
    panel = review_panel(desk_of(bench, "supervisor"))
    assert [row.number for row in panel.rows] == [failed.number, wrong.number]
    assert panel.own == (wrong.number,)


def test_a_due_item_knows_where_its_check_is_begun(bench: Bench) -> None:
    occurrence = Occurrence.objects.filter(plan=bench.plan).first()
    assert occurrence is not None
    assert begin_path(occurrence) == reverse("calibration:check-start", args=[bench.requirement.pk])
    bench.requirement.plan = None
    bench.requirement.save(update_fields=["plan"])
    assert begin_path(occurrence) == ""


def queries(read: Any) -> int:
    with CaptureQueriesContext(
        connection,
    ) as caught:
        read()
    return len(caught)


def test_lists_take_the_same_number_of_queries_for_2_and_for_20(bench: Bench, clock: Clock) -> None:
    reads = {
        "checks": lambda: list(rows_of(listed_checks(bench.site, CheckFilter()))),
        "places": lambda: places(bench.site),
        "tag": lambda: tag_panel(desk_of(bench), bench.position),
        "today": lambda: today_panel(desk_of(bench)),
        "review": lambda: review_panel(desk_of(bench, "supervisor")),
        "lots": lambda: lot_rows(bench.site, desk_of(bench).today),
        "relied": lambda: relied_on(bench.lots["7"]),
    }
    for _ in range(2):
        bench.check(FAILING)
    few = {name: queries(read) for name, read in reads.items()}
    area = make_area(site=bench.site)
    for number in range(18):
        bench.check(FAILING)
        make_lot(site=bench.site, by=bench.supervisor, number=f"L{number}")
        position = make_position(site=bench.site, area=area)
        make_requirement(position=position, by=bench.supervisor)
    assert {name: queries(read) for name, read in reads.items()} == few


def test_the_page_of_a_check_takes_as_many_queries_after_20_checks_as_after_2(bench: Bench, clock: Clock) -> None:
    def page_of(number: int) -> int:
        desk = desk_of(bench)
        return queries(lambda: result_page(check_for(desk, number), desk.person, due=None))

    for _ in range(2):
        clock.forward(minutes=20)
        bench.check()
    few = page_of(2)
    for _ in range(18):
        clock.forward(minutes=20)
        bench.check()
    assert page_of(20) == few
