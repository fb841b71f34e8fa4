"""The page on which a check is written: every doubt at its field, everything typed still in its box."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assets.models import Event
from calibration.actions.drafts import begin_draft
from calibration.models import Check, Draft, Outcome
from maintenance.models import Performance, WorkOrder
from tests.calibration.browser import Boxes, boxes_of, text_at
from tests.calibration.doubts import AS_LEFT_CATCHES, CATCHES
from tests.conftest import Clock
from tests.make import PIN, make_position, make_use
from tests.make_checks import FAILING, Bench, make_lot

pytestmark = pytest.mark.django_db


def as_posted(fields: Mapping[str, str], draft: Draft, **more: str) -> dict[str, str]:
    """The fields as a browser posts them: the sign of a millivolt reading by its key."""
    data = {"version": str(draft.version), "key": f"key-{draft.pk}-{draft.version}", **more}
    for name, text in fields.items():
        if name.endswith("_mv") and text[:1] in {"-", "+"}:
            data[f"{name}_sign"] = "minus" if text[0] == "-" else "plus"
            text = text[1:]
        data[name] = text
    return data


class Page:
    """A draft in a browser."""

    def __init__(self, bench: Bench, browser: Client, *, stage: str = "as found", check: Check | None = None) -> None:
        self.browser = browser
        self.draft = begin_draft(requirement=bench.requirement, by=bench.operator, stage=stage, check=check)
        self.url = self.draft.get_absolute_url()

    def work(self, fields: Mapping[str, str], **more: str) -> str:
        """Press Work it out; return the page that follows."""
        self.draft.refresh_from_db()
        answer = self.browser.post(self.url, as_posted(fields, self.draft, **more), follow=True)
        assert answer.status_code == 200
        return answer.content.decode()

    def sign(self, fields: Mapping[str, str], **more: str) -> Any:
        """Press Sign."""
        self.draft.refresh_from_db()
        data = as_posted(fields, self.draft, **{"proof": PIN, **more})
        return self.browser.post(f"{self.url}sign/", data)


@pytest.fixture
def page(bench: Bench, operator: Client) -> Page:
    return Page(bench, operator)


@pytest.mark.parametrize(("name", "wrong", "field", "words", "good"), CATCHES, ids=[row[0] for row in CATCHES])
def test_a_doubt_stands_at_its_field_and_everything_typed_is_kept(
    page: Page, bench: Bench, name: str, wrong: dict[str, str], field: str, words: str, good: dict[str, str]
) -> None:
    fields = bench.fields(wrong)
    html = page.work(fields)
    assert words in text_at(html, field)
    assert Boxes(fields).missing_from(boxes_of(html)) == []
    calm = page.work(bench.fields(good))
    assert words not in text_at(calm, field)


def test_a_signal_that_paces_something_asks_for_the_hold(page: Page, bench: Bench) -> None:
    make_use(
        position=bench.position, target=make_position(site=bench.site, tag="P-41", does="moves"), by=bench.supervisor
    )
    off = {"hold": "off", "hold_on_at": "", "hold_off_at": ""}
    assert "paces P-41, and it is not written as on hold" in text_at(page.work(bench.fields(off)), "hold")
    assert "not written as on hold" not in text_at(page.work(bench.fields()), "hold")


@pytest.mark.parametrize(
    ("lots", "field", "words"),
    [(("7", "7"), "point2_lot", "written twice"), (("7", "6"), "point2_lot", "pH apart")],
)
def test_buffers_that_draw_no_line(page: Page, bench: Bench, lots: tuple[str, str], field: str, words: str) -> None:
    bench.lots["6"] = make_lot(site=bench.site, by=bench.supervisor, kind="6", number="2613-F")
    html = page.work(bench.fields(lots=lots))
    assert words in text_at(html, field)
    assert "Not valid, because" in html
    assert words not in text_at(page.work(bench.fields()), field)


@pytest.mark.parametrize(
    ("days", "words"), [({"expires_on": 0}, "expired on"), ({"opened_on": -31}, "may be used for 30 days")]
)
def test_a_lot_out_of_date_is_kept_and_not_valid(
    page: Page, bench: Bench, today: dt.date, days: dict[str, int], words: str
) -> None:
    when = {name: today + dt.timedelta(days=number - (name == "expires_on")) for name, number in days.items()}
    bench.lots["old"] = make_lot(site=bench.site, by=bench.supervisor, kind="10", number="2501-X", **when)
    html = page.work(bench.fields(lots=("7", "old")))
    assert words in text_at(html, "point2_lot")
    near = {name: day + dt.timedelta(days=1) for name, day in when.items()}
    bench.lots["near"] = make_lot(site=bench.site, by=bench.supervisor, kind="10", number="2501-Y", **near)
    assert words not in text_at(page.work(bench.fields(lots=("7", "near"))), "point2_lot")


LEFT = {"done": "adjusted", "next": ""}


@pytest.mark.parametrize(
    ("name", "wrong", "field", "words", "good"), AS_LEFT_CATCHES, ids=[row[0] for row in AS_LEFT_CATCHES]
)
def test_a_doubt_of_as_left_stands_at_its_field(
    bench: Bench,
    operator: Client,
    name: str,
    wrong: dict[str, str],
    field: str,
    words: str,
    good: dict[str, str],
) -> None:
    check = bench.check({"next": "more"})
    page = Page(bench, operator, stage="as left", check=check)
    html = page.work(bench.fields(LEFT | wrong))
    assert words in text_at(html, field)
    assert Boxes(bench.fields(LEFT | wrong, carried=True)).missing_from(boxes_of(html)) == []
    assert words not in text_at(page.work(bench.fields(LEFT | good)), field)


def test_a_third_buffer_from_the_same_bottle_proves_nothing(bench: Bench, operator: Client) -> None:
    page = Page(bench, operator, stage="as left", check=bench.check({"next": "more"}))
    third = {"third_temperature": "12.5", "third_shown": "4.02", "third_steady": "yes"}
    same = page.work(bench.fields(LEFT | third | {"third_lot": str(bench.lots["7"].pk)}))
    assert "it proves nothing" in text_at(same, "third_lot")
    other = page.work(bench.fields(LEFT | third | {"third_lot": str(bench.lots["4"].pk)}))
    assert "it proves nothing" not in text_at(other, "third_lot")
    assert "Third buffer" in other


def test_what_is_missing_is_said_at_the_signature_and_not_before(page: Page, bench: Bench) -> None:
    fields = bench.fields({"point2_shown": "", "next": ""})
    assert "nothing is written for the display" not in page.work(fields)
    answer = page.sign(fields)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "Not signed" in html
    assert "nothing is written for the display" in text_at(html, "point2_shown", errors=True)
    assert "nothing is chosen" in text_at(html, "next", errors=True)
    assert Boxes(fields).missing_from(boxes_of(html)) == []
    assert not Check.objects.exists()


def test_a_question_is_answered_at_its_field_and_the_answer_is_kept(page: Page, bench: Bench) -> None:
    fields = bench.fields({"process_temperature": "1.0", "next": "more"})
    html = page.work(fields)
    key = "far-from-process-point1_temperature"
    sentence = asked(html, key)
    other = "far-from-process-point2_temperature"
    assert page.sign(fields).status_code == 422
    answers = {
        f"answer-{key}": "measured",
        f"reason-{key}": "river at 1 degree, buffers from the van",
        f"asked-{key}": sentence,
        f"answer-{other}": "measured",
        f"reason-{other}": "the same",
        f"asked-{other}": asked(html, other),
    }
    html = page.work(fields, **answers)
    assert "buffers from the van" in boxes_of(html)[f"reason-{key}"]
    assert page.sign(fields, **answers).status_code == 302
    assert Outcome.objects.get().valid
    assert Check.objects.get().sets.get().answers.count() == 2


def asked(html: str, key: str) -> str:
    found = re.search(rf'name="asked-{key}" value="([^"]*)"', html)
    assert found is not None
    return unescape(found.group(1))


def test_a_changed_figure_asks_anew(page: Page, bench: Bench) -> None:
    fields = bench.fields({"process_temperature": "1.0"})
    key = "far-from-process-point1_temperature"
    answers = {f"answer-{key}": "measured", f"reason-{key}": "so it was", f"asked-{key}": asked(page.work(fields), key)}
    page.work(fields, **answers)
    again = page.work(bench.fields({"process_temperature": "0.5"}), **answers)
    assert boxes_of(again).get(f"answer-{key}", "") == ""


def test_the_cold_check_from_begin_to_fulfilled(bench: Bench, operator: Client) -> None:
    start = reverse("calibration:check-start", args=[bench.requirement.pk])
    assert "Begin as found" in operator.get(start).content.decode()
    assert not Draft.objects.exists()
    url = operator.post(start)["Location"]
    draft = Draft.objects.get()
    assert url == draft.get_absolute_url()
    html = operator.post(url, as_posted(bench.fields(), draft), follow=True).content.decode()
    for words in ("pH\u00a07.048", "pH\u00a010.149", "reads 0.025 too high", "+0.025", "98.9", "Pass"):
        assert words in unescape(html), words
    draft.refresh_from_db()
    answer = operator.post(f"{url}sign/", as_posted(bench.fields(), draft, proof=PIN))
    check = Check.objects.get()
    assert answer["Location"] == f"/checks/{check.number}/"
    result = unescape(operator.get(answer["Location"]).content.decode())
    for words in (
        "reads 0.025 too high",
        "As left",
        "fulfilled",
        "today’s code <b>agrees</b>",
        "holds for what is stored",
    ):
        assert words in result, words
    assert Performance.objects.get().counts


def test_the_failing_check_leads_to_the_second_buffer_and_one_order(page: Page, bench: Bench, operator: Client) -> None:
    answer = page.sign(bench.fields(FAILING))
    assert answer.status_code == 302
    result = unescape(operator.get(answer["Location"]).content.decode())
    assert "reads 0.122 too high" in result
    assert "Read the second buffer" in result
    order = WorkOrder.objects.get()
    assert f'Work order <a href="{order.get_absolute_url()}">{order.number}</a>' in result
    check = Check.objects.get()
    start = reverse("calibration:check-start", args=[bench.requirement.pk])
    url = operator.post(start, {"check": check.number, "stage": "confirming"})["Location"]
    draft = Draft.objects.get()
    assert "Second buffer" in operator.get(url).content.decode()
    fields = {k: v for k, v in bench.fields(lots=("7b", "10b")).items() if not k.startswith(("process", "next"))}
    assert operator.post(f"{url}sign/", as_posted(fields, draft, proof=PIN)).status_code == 302
    assert WorkOrder.objects.get().state == "withdrawn"


def test_a_signature_sent_twice_counts_once(page: Page, bench: Bench) -> None:
    data = as_posted(bench.fields(), page.draft, proof=PIN)
    first = page.browser.post(f"{page.url}sign/", data)
    second = page.browser.post(f"{page.url}sign/", data)
    assert first["Location"] == second["Location"]
    assert Check.objects.count() == 1
    assert Performance.objects.count() == 1


def test_a_wrong_pin_signs_nothing_and_keeps_everything(page: Page, bench: Bench) -> None:
    answer = page.sign(bench.fields(), proof="000000")
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "neither your PIN nor your password" in html
    assert Boxes(bench.fields()).missing_from(boxes_of(html)) == []
    assert "000000" not in html
    assert not Check.objects.exists()


def test_a_stale_browser_is_told_and_both_versions_stand_beside_each_other(
    page: Page, bench: Bench, clock: Clock
) -> None:
    stale = as_posted(bench.fields({"point1_shown": "7.11"}), page.draft)
    page.work(bench.fields({"point1_shown": "7.09"}))
    for url in (page.url, f"{page.url}sign/"):
        answer = page.browser.post(url, stale | {"proof": PIN})
        assert answer.status_code == 409
        html = answer.content.decode()
        assert "Another device has saved this draft" in html
        assert boxes_of(html)["point1_shown"] == "7.11"
        assert "7.09" in html
    assert page.browser.post(f"{page.url}figures/", stale).status_code == 409
    assert Draft.objects.get().typed["fields"]["point1_shown"] == "7.09"
    sent = boxes_of(html)
    settled = page.browser.post(page.url, stale | {"version": sent["version"], "settles": sent["settles"]}, follow=True)
    kept = Draft.objects.get().typed
    assert kept["fields"]["point1_shown"] == "7.11"
    assert kept["beside"]["fields"]["point1_shown"] == "7.09"
    assert "The other version of this draft" in settled.content.decode()
    later = stale | {"version": str(Draft.objects.get().version), "settles": "yes", "point1_shown": "7.12"}
    assert page.browser.post(f"{page.url}figures/", later).status_code == 200
    assert Draft.objects.get().typed["beside"]["fields"]["point1_shown"] == "7.09"


def test_the_live_parts_say_the_same_as_the_page_and_keep_what_is_typed(page: Page, bench: Bench) -> None:
    data = as_posted(bench.fields(), page.draft)
    parts = page.browser.post(f"{page.url}figures/", data).content.decode()
    assert 'data-part="worth-point1_"' in parts
    assert "pH\u00a07.048" in unescape(parts)
    assert "reads 0.025 too high" in parts
    kept = Draft.objects.get()
    assert kept.typed["fields"]["point1_mv"] == "-4.8"
    assert f'name="version" value="{kept.version}"' in parts


def test_it_was_earlier_is_typed_with_its_reason(page: Page, bench: Bench, clock: Clock) -> None:
    local = clock.now.astimezone(bench.site.zone) - dt.timedelta(hours=4)
    typed = {"earlier_at": f"{local:%Y-%m-%d %H:%M}"}
    answer = page.sign(bench.fields(), **typed)
    assert answer.status_code == 422
    assert "Why it is entered late" in answer.content.decode()
    assert boxes_of(answer.content.decode())["earlier_at"] == typed["earlier_at"]
    wrong = page.sign(bench.fields(), earlier_at="this morning")
    assert "is no day and time" in unescape(wrong.content.decode())
    answer = page.sign(bench.fields(), **typed, earlier_because="no signal at the weir")
    assert answer.status_code == 302
    assert "no signal at the weir" in page.browser.get(answer["Location"]).content.decode()
    assert Check.objects.get().begun_at == local.replace(second=0, microsecond=0)


def test_a_draft_is_its_persons_alone(page: Page, bench: Bench, enter: Any) -> None:
    other = enter(bench.supervisor)
    for method, url in (
        ("get", page.url),
        ("post", page.url),
        ("post", f"{page.url}figures/"),
        ("post", f"{page.url}sign/"),
    ):
        assert getattr(other, method)(url).status_code == 404
    assert Client().get(page.url).status_code == 302


def test_putting_a_draft_aside_leaves_it_in_the_history(page: Page, bench: Bench) -> None:
    page.work(bench.fields())
    assert page.browser.post(f"{page.url}aside/", {"version": "1"}).status_code == 409
    page.draft.refresh_from_db()
    assert page.browser.post(f"{page.url}aside/", {"version": page.draft.version}).status_code == 302
    assert not Draft.objects.exists()
    assert Event.objects.filter(verb="draft.put_aside").count() == 1


@pytest.mark.parametrize("act", ["", "sign/"])
def test_what_was_typed_into_a_draft_put_aside_meanwhile_is_shown(page: Page, bench: Bench, act: str) -> None:
    data = as_posted({"point1_shown": "7.08", "point1_mv": "-4.8", "lost_because": "<b>glass</b> cracked"}, page.draft)
    page.browser.post(f"{page.url}aside/", {"version": page.draft.version})
    answer = page.browser.post(page.url + act, {**data, "proof": PIN})
    assert answer.status_code == 404
    html = answer.content.decode()
    for words in ("not open any more", "7.08", "\u22124.8", "&lt;b&gt;glass&lt;/b&gt; cracked"):
        assert words in html
    assert PIN not in html
    assert page.browser.get(page.url).status_code == 404
