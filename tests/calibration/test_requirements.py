"""What a tag is checked by: set with its sources, changed with a reason, linked to a routine."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assets.errors import NotAllowed, Refusal
from calibration.actions.requirements import LimitTyped, change_requirement, link_routine, set_requirement
from calibration.compute.methods import METHODS
from calibration.models import Outcome, Requirement, RequirementTerm
from calibration.reads.known import term_in_force
from maintenance.models import Plan
from tests.calibration.browser import boxes_of, text_at
from tests.conftest import Clock
from tests.make import make_position
from tests.make_checks import Bench, make_routine, make_terms

pytestmark = pytest.mark.django_db


def limit(low: str, high: str, **other: str) -> LimitTyped:
    given = {"unit": "pH", "source": "permit 12", "tag": "site setting"}
    return LimitTyped(low=low, high=high, **(given | other))


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        (limit("0.1", "-0.1"), "error_low", "above the highest"),
        (limit("", ""), "error_high", "neither a lowest nor a highest"),
        (limit("-0.1", "a tenth"), "error_high", "is not a number"),
        (limit("-0.1", "0.1", source=""), "error_source", "where the limit comes from"),
        (limit("-0.1", "0.1", tag="gossip"), "error_source", "standard, common practice or memory"),
    ],
)
def test_a_limit_that_cannot_be_is_refused_at_its_field(
    bench: Bench, wrong: LimitTyped, field: str, words: str
) -> None:
    terms = make_terms()
    position = make_position(site=bench.site)
    with pytest.raises(Refusal, match=words) as refused:
        set_requirement(
            position=position,
            method="ph",
            terms=replace(terms, limits={**terms.limits, "error": wrong}),
            plan=None,
            by=bench.supervisor,
        )
    assert [reason.field for reason in refused.value.reasons] == [field]


def test_a_guarded_rule_says_where_its_uncertainty_comes_from(bench: Bench) -> None:
    position = make_position(site=bench.site)
    with pytest.raises(Refusal, match="says where that comes from"):
        set_requirement(
            position=position, method="ph", terms=make_terms(rule="guarded"), plan=None, by=bench.supervisor
        )


def test_a_guarded_rule_needs_a_stated_uncertainty_where_the_method_draws_none(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(METHODS, "ph", replace(METHODS["ph"], budget=None))
    position = make_position(site=bench.site)
    terms = make_terms(rule="guarded", uncertainty_source="the lots")
    with pytest.raises(Refusal, match="needs one that is stated"):
        set_requirement(position=position, method="ph", terms=terms, plan=None, by=bench.supervisor)


def test_with_a_stated_uncertainty_the_cold_check_passes_only_conditionally(bench: Bench) -> None:
    terms = make_terms(rule="guarded", uncertainty="0.08", uncertainty_source="lot, display, repeats")
    change_requirement(requirement=bench.requirement, terms=terms, why="stated at last", by=bench.supervisor)
    bench.check({"next": "more"})
    # Limit 0.10 less 0.08 is 0.02; the error is 0.0252: ILAC-G8:09/2019, four outcomes.
    assert Outcome.objects.get().verdict == "conditional pass"


@pytest.mark.parametrize("what", ["machine", "retired routine", "other tag's routine", "method twice"])
def test_a_requirement_that_does_not_fit_its_place_is_refused(bench: Bench, what: str) -> None:
    position = make_position(site=bench.site)
    plan = None
    words = {
        "machine": "measures nothing",
        "retired routine": "is retired",
        "other tag's routine": "no calibration or verification of",
        "method twice": "this method already",
    }[what]
    if what == "machine":
        position = make_position(site=bench.site, does="moves")
    if what == "retired routine":
        plan = make_routine(position=position, by=bench.supervisor)
        plan.retired_at = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    if what == "other tag's routine":
        plan = bench.plan
    if what == "method twice":
        position = bench.position
    with pytest.raises(Refusal, match=words):
        set_requirement(position=position, method="ph", terms=make_terms(), plan=plan, by=bench.supervisor)


def test_only_supervisors_set_and_change(bench: Bench) -> None:
    with pytest.raises(NotAllowed):
        change_requirement(requirement=bench.requirement, terms=make_terms(), why="x", by=bench.operator)
    with pytest.raises(NotAllowed):
        link_routine(requirement=bench.requirement, plan=None, by=bench.operator)


def test_other_limits_count_from_their_day_and_old_checks_keep_theirs(bench: Bench, clock: Clock) -> None:
    before = bench.check({"next": "more"})
    with pytest.raises(Refusal, match="Reason of the change"):
        change_requirement(requirement=bench.requirement, terms=make_terms(), why=" ", by=bench.supervisor)
    tomorrow = dt.date(2026, 11, 26)
    change_requirement(
        requirement=bench.requirement,
        terms=make_terms(error="0.02", from_day=tomorrow),
        why="new permit",
        by=bench.supervisor,
    )
    bench.requirement.refresh_from_db()
    today_term = term_in_force(bench.requirement, dt.date(2026, 11, 25))
    new_term = term_in_force(bench.requirement, tomorrow)
    assert today_term is not None and new_term is not None
    assert today_term.pk < new_term.pk
    clock.forward(days=1)
    after = bench.check({"next": "more"})
    verdicts = [Outcome.objects.get(set__check_of=check).verdict for check in (before, after)]
    assert verdicts == ["pass", "fail"]


def test_no_limits_are_in_force_before_their_first_day(bench: Bench) -> None:
    assert term_in_force(bench.requirement, dt.date(2026, 1, 3)) is None
    assert term_in_force(bench.requirement, dt.date(2026, 1, 4)) is not None


def test_a_routine_is_linked_once(bench: Bench) -> None:
    other = make_routine(position=bench.position, by=bench.supervisor)
    link_routine(requirement=bench.requirement, plan=other, by=bench.supervisor)
    bench.requirement.refresh_from_db()
    assert bench.requirement.plan == other


def posted(html: str, **changes: str) -> dict[str, str]:
    """The form as it stands on the page, with some boxes changed."""
    boxes = {name: text for name, text in boxes_of(html).items() if name != "csrfmiddlewaretoken"}
    return boxes | changes


def test_the_form_starts_from_the_methods_limits_with_their_sources(bench: Bench, enter: Any) -> None:
    supervisor: Client = enter(bench.supervisor)
    position = make_position(site=bench.site, tag="AIT-410")
    url = reverse("calibration:requirement-new", args=[position.pk])
    html = supervisor.get(url).content.decode()
    boxes = boxes_of(html)
    assert (boxes["error_low"], boxes["error_high"], boxes["error_tag"]) == ("-0.1", "0.1", "standard")
    assert "30 TAC 290.110" in boxes["error_source"]
    assert (boxes["slope_low"], boxes["slope_high"]) == ("92", "102")
    assert boxes["slope_tag"] == "common practice"
    assert "As at AIT-310" in html
    wrong = supervisor.post(url, posted(html, error_high="a tenth", plan="new", every="", key="r1"))
    assert wrong.status_code == 422
    assert "A new routine needs its interval" in text_at(wrong.content.decode(), "every")
    assert boxes_of(wrong.content.decode())["error_high"] == "a tenth"
    good = posted(html, plan="new", every="30", late="7", interval_source="from memory", key="r2")
    answer = supervisor.post(url, good)
    assert answer.status_code == 302
    requirement = Requirement.objects.get(position=position)
    assert requirement.plan is not None
    assert requirement.plan.terms.get().every == 30
    assert Plan.objects.filter(position=position).count() == 1
    assert supervisor.get(answer["Location"]).status_code == 200


def test_a_preset_may_be_another_tag_of_the_site(bench: Bench, enter: Any) -> None:
    change_requirement(
        requirement=bench.requirement,
        terms=make_terms(error="0.15", source="permit 12", from_day=dt.date(2026, 11, 25)),
        why="permit",
        by=bench.supervisor,
    )
    position = make_position(site=bench.site)
    url = reverse("calibration:requirement-new", args=[position.pk])
    boxes = boxes_of(enter(bench.supervisor).get(f"{url}?as={bench.requirement.pk}").content.decode())
    assert (boxes["error_high"], boxes["source"]) == ("0.15", "permit 12")


def test_the_page_shows_the_history_and_changes_the_limits(bench: Bench, enter: Any) -> None:
    supervisor: Client = enter(bench.supervisor)
    url = bench.requirement.get_absolute_url()
    html = supervisor.get(url).content.decode()
    refused = supervisor.post(url, posted(html, error_high="0.2", why="", key="t1"))
    assert refused.status_code == 422
    assert boxes_of(refused.content.decode())["error_high"] == "0.2"
    assert RequirementTerm.objects.count() == 1
    answer = supervisor.post(url, posted(html, error_high="0.2", error_low="-0.2", why="permit of May", key="t2"))
    assert answer.status_code == 302
    again = supervisor.get(url).content.decode()
    assert "permit of May" in again
    assert "±0.20 pH" in again
    viewer = enter(bench.operator)
    assert "Change them" not in viewer.get(url).content.decode()
    assert viewer.post(url, posted(html, key="t3")).status_code == 403


def test_a_machine_is_offered_only_what_checks_a_machine(bench: Bench) -> None:
    position = make_position(site=bench.site, does="moves")
    client = Client()
    client.force_login(bench.supervisor, backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(f"/checks/requirements/new/{position.pk}/").content.decode()
    assert "Feed pump, by drawdown" in page and "pH, in buffers" not in page
    assert client.get(f"/checks/requirements/new/{position.pk}/?method=ph").status_code == 404
    assert client.get(f"/checks/requirements/new/{make_position(site=bench.site).pk}/").status_code == 200
