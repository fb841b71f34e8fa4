"""Checks by any method: from its description come requirement, page, record, paper, file and what follows."""

from __future__ import annotations

import csv
import datetime as dt
import io
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assets.models import Position
from calibration.actions.drafts import begin_draft
from calibration.actions.requirements import LimitTyped, TermsTyped, set_requirement
from calibration.compute.figures import plain
from calibration.compute.methods import METHODS
from calibration.models import Check, Draft, Entry, Point, Requirement
from calibration.reads.stored import agrees, worked_again
from maintenance.models import Performance, Plan, WorkOrder
from tests.calibration.browser import boxes_of, text_at
from tests.calibration.made_up import EVERYTHING, ONE_TEST
from tests.make import PIN, make_position
from tests.make_checks import Bench, make_routine
from tests.make_standards import make_kind, make_lot_of

pytestmark = pytest.mark.django_db

GOOD = {
    "hold": "off",
    "zero": "8.6",
    "zero_sign": "minus",
    "colour": "green",
    "dry": "yes",
    "run1_beside": "2000",
    "run1_beside_unit": "mm",
    "run1_shown": "2.010",
    "run1_shown_unit": "m",
    "run3_beside": "",
    "remark": "wind from the east",
}


class Place:
    """A tag, a bottle, and a browser at a draft there."""

    def __init__(self, bench: Bench, browser: Client, code: str, **settings: str) -> None:
        self.bench, self.browser, self.code = bench, browser, code
        self.position: Position = make_position(site=bench.site, tag="LIT-7", quantity="level", unit="m")
        kind = make_kind(
            site=bench.site, by=bench.supervisor, family="redox solution", quantity="redox potential", unit="mV"
        )
        self.lot = make_lot_of(kind=kind, site=bench.site, by=bench.supervisor, number="R-1", value="430")
        self.plan: Plan = make_routine(position=self.position, by=bench.supervisor)
        self.requirement = requirement_of(bench, self.position, code, plan=self.plan, **settings)

    def begin(self, stage: str = "as found", check: Check | None = None) -> Draft:
        return begin_draft(requirement=self.requirement, by=self.bench.operator, stage=stage, check=check)

    def post(self, draft: Draft, fields: dict[str, str], *, sign: bool = False) -> Any:
        draft.refresh_from_db()
        data = {**fields, "version": str(draft.version), "key": f"k-{draft.pk}-{draft.version}", "proof": PIN}
        url = draft.get_absolute_url()
        return self.browser.post(f"{url}sign/", data) if sign else self.browser.post(url, data, follow=True)

    def sign(self, fields: dict[str, str]) -> Check:
        answer = self.post(self.begin(), fields, sign=True)
        assert answer.status_code == 302, answer.content.decode()
        return Check.objects.latest("number")


def requirement_of(
    bench: Bench, position: Position, code: str, *, plan: Plan | None = None, **settings: str
) -> Requirement:
    def text(value: Any) -> str:
        return "" if value is None or callable(value) else plain(value).replace("−", "-")

    limits = {
        limit.name: LimitTyped(
            low=text(limit.low), high=text(limit.high), unit=limit.unit, source=limit.source, tag=limit.tag
        )
        for limit in METHODS[code].limits
    }
    terms = TermsTyped(limits=limits, from_day=dt.date(2026, 1, 4), source="site setting", settings=settings)
    return set_requirement(position=position, method=code, terms=terms, plan=plan, by=bench.supervisor)


@pytest.fixture
def made_up(monkeypatch: pytest.MonkeyPatch) -> None:
    for method in (EVERYTHING, ONE_TEST):
        monkeypatch.setitem(METHODS, method.code, method)  # type: ignore[arg-type]


@pytest.fixture
def place(bench: Bench, operator: Client, made_up: None) -> Place:
    return Place(bench, operator, "everything", depth="12")


def test_every_kind_of_field_is_kept_worked_out_and_asked_about(place: Place) -> None:
    draft = place.begin()
    fields = GOOD | {"bottle": str(place.lot.pk), "colour": "red", "run2_beside": "12 or so", "run2_beside_unit": "mm"}
    html = place.post(draft, fields).content.decode()
    assert "The lamp was red" in text_at(html, "colour")
    assert "is not a number" in text_at(html, "run2_beside") or "12 or so" in text_at(html, "run2_beside")
    boxes = boxes_of(html)
    kept = {name: text for name, text in fields.items() if text and not name.endswith("_sign")}
    assert {name: boxes.get(name, "").lstrip("-") for name in kept} == kept
    assert boxes["zero_sign"] == "minus"
    # 2000 mm are 2 m, so the display reads 0.010 m too much.
    assert "2.010 − 2" in html and "+0.010" in html
    assert 'inputmode="decimal"' in html and "One more: run 2" in html
    refused = place.post(draft, fields, sign=True)
    assert refused.status_code == 422
    assert "wind from the east" in refused.content.decode()


def test_a_signed_set_is_shown_printed_filed_and_proven(place: Place) -> None:
    check = place.sign(GOOD | {"bottle": str(place.lot.pk), "next": "nothing"})
    assert [of.kind for of in check.sets.all()] == ["as found", "as left"]
    point = Point.objects.get()
    assert (point.role, point.field, point.lot) == ("standard", "bottle", place.lot)
    assert Entry.objects.get(quantity="run1_beside").unit == "mm"
    for of in check.sets.select_related("outcome"):
        assert agrees(of.outcome, worked_again(of, of.outcome))
    page = place.browser.get(check.get_absolute_url()).content.decode()
    paper = place.browser.get(reverse("calibration:check-paper", args=[check.number])).content.decode()
    for html in (page, paper):
        assert "2000 mm" in html and "lot R-1" in html and "−8.6 mV" in html and "Green" in html
        assert "does not hold" not in html and "Everything, asked once" in html
    assert "<b>agrees</b>" in page and "differs" not in page
    assert Performance.objects.get(plan=place.plan).counts
    file = place.browser.get(reverse("calibration:checks-csv")).content.decode()
    row = next(csv.DictReader(io.StringIO(file)))
    assert (row["method"], row["run 1 beside (mm)"], row["bottle"]) == ("Everything, asked once", "2000", "R-1")
    assert row["error 1 (m)"].lstrip("'") == "+0.010"  # a mark before the sign keeps it from being a formula


def test_a_failing_set_without_a_second_reading_raises_a_confirmed_order(place: Place) -> None:
    fields = GOOD | {"bottle": str(place.lot.pk), "next": "more", "run1_shown": "2.2"}
    check = place.sign(fields)
    order = WorkOrder.objects.get()
    assert (order.title, order.confirmed) == ("Everything fails as found", "confirmed")
    assert "Error of run 1: +0.20 m, limit ±0.05 m" in order.reason
    left = place.begin("as left", check)
    html = place.browser.get(left.get_absolute_url()).content.decode()
    assert boxes_of(html)["bottle"] == str(place.lot.pk)
    assert place.post(left, fields | {"done": "adjusted", "run1_shown": "2.0"}, sign=True).status_code == 302
    assert Performance.objects.get(plan=place.plan).counts


@pytest.mark.parametrize(("shown", "counts"), [("2.01", True), ("2.2", False)])
def test_a_test_is_one_set_and_a_pass_is_done(
    bench: Bench, operator: Client, made_up: None, shown: str, counts: bool
) -> None:
    place = Place(bench, operator, "one-test", depth="12")
    begun = place.browser.get(place.begin().get_absolute_url()).content.decode()
    assert "Sign the test" in begun and "What comes next" not in begun
    check = place.sign(GOOD | {"bottle": str(place.lot.pk), "run1_shown": shown})
    (of,) = check.sets.all()
    assert "I made this test at LIT-7" in of.signature.meaning
    assert Performance.objects.get(plan=place.plan).counts is counts
    page = place.browser.get(check.get_absolute_url()).content.decode()
    assert ("Done" if counts else "Next: check it again") in page
    assert f"Check {check.number}" not in place.browser.get("/checks/?verdict=open").content.decode()


def test_redox_in_a_solution_from_the_requirement_to_the_record(bench: Bench, operator: Client, enter: Any) -> None:
    place = Place(bench, operator, "orp", reference="agcl-3")
    shown = enter(bench.supervisor).get(place.requirement.get_absolute_url()).content.decode()
    assert "silver chloride, 3 mol/L KCl" in shown
    # 430 mV against hydrogen less 207 mV of the electrode at 25 degC (tables/orp.csv): a perfect probe shows 223 mV.
    fields = {"hold": "off", "standard": str(place.lot.pk), "temperature": "25", "shown": "226", "shown_sign": "plus"}
    check = place.sign(fields | {"next": "nothing"})
    page = place.browser.get(check.get_absolute_url()).content.decode()
    assert "+3.0" in page and "±15 mV" in page and "<b>agrees</b>" in page


def test_a_tag_is_checked_by_several_methods_and_one_chooses_which(place: Place, bench: Bench, enter: Any) -> None:
    other = requirement_of(bench, place.position, "level", span="5")
    begin = place.browser.get(reverse("calibration:check-start", args=[other.pk])).content.decode()
    assert f"/checks/begin/{place.requirement.pk}/" in begin and 'aria-current="true"' in begin
    tag = place.browser.get(reverse("tag", args=[place.position.label_code])).content.decode()
    assert "Begin a check: level" in tag and "Begin a check: everything" in tag
    place.sign(GOOD | {"bottle": str(place.lot.pk), "next": "nothing"})
    assert "Check 1" in place.browser.get(f"/checks/?lot={place.lot.pk}").content.decode()
    assert "Check 1<" not in place.browser.get("/checks/?method=level").content.decode()
    choice = enter(bench.supervisor).get(f"/checks/requirements/new/{place.position.pk}/?method=orp").content.decode()
    assert "Reference electrode of the probe" in choice and "Level, beside a tape" in choice


def test_a_method_is_set_with_what_it_must_know_of_the_place(bench: Bench, enter: Any, made_up: None) -> None:
    position = make_position(site=bench.site, tag="AIT-9", quantity="redox potential", unit="mV")
    browser = enter(bench.supervisor)
    url = f"/checks/requirements/new/{position.pk}/"
    html = browser.get(url).content.decode()
    assert "ORP, in a redox solution" in html
    data = boxes_of(html) | {"plan": "none", "every": "", "late": "", "interval_source": ""}
    assert browser.post(url, data | {"setting_reference": ""}).status_code == 422
    assert browser.post(url, data | {"setting_reference": "calomel"}).status_code == 302
    term = Requirement.objects.get(position=position).terms.get()
    assert term.settings == '{"reference":"calomel"}'
