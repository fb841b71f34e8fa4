"""Corrections, drafts on two devices, drafts put aside, and reviews."""

from __future__ import annotations

import json

import pytest
from django.test import Client

from assets.errors import NotAllowed, Refusal, Stale
from assets.models import Event, Role
from calibration.actions.drafts import begin_correction, begin_draft, discard_draft, keep_draft
from calibration.actions.reviews import review_check
from calibration.models import Check, CheckReview, Draft, Outcome
from maintenance.models import Occurrence, Performance, WorkOrder
from tests.make import make_person, proof_of
from tests.make_checks import COLD, FAILING, Bench

UNREAD = dict.fromkeys((name for name in COLD if name.startswith("point")), "")
LOST = UNREAD | {"lost_because": "the probe was dead", "next": "more", "hold_off_at": ""}

pytestmark = pytest.mark.django_db


def outcome(check: Check, kind: str) -> Outcome:
    return Outcome.objects.get(set__check_of=check, set__kind=kind)


def test_a_draft_that_was_saved_elsewhere_is_not_signed(bench: Bench) -> None:
    draft = bench.draft()
    keep_draft(
        draft=draft,
        fields=bench.fields({"point1_shown": "7.09"}),
        answers={},
        version=draft.version,
        settles=False,
        by=bench.operator,
    )
    with pytest.raises(Stale):
        bench.sign(draft)
    assert not Check.objects.exists()


def test_a_correction_replaces_the_check_and_its_performance_and_both_stay(bench: Bench) -> None:
    old = bench.check()
    draft = begin_correction(check=old, why="the second cup was read as 10.15, it was 10.95", by=bench.operator)
    assert draft.typed["fields"]["point2_shown"] == "10.15"
    draft = keep_draft(
        draft=draft,
        fields={**draft.typed["fields"], "point2_shown": "10.95", "next": "more"},
        answers={},
        version=draft.version,
        settles=False,
        by=bench.operator,
    )
    new = bench.sign(draft)
    assert (new.replaces, old.replaced_by) == (old, new)
    assert "10.95" in new.replaces_because
    assert outcome(old, "as found").verdict == "pass"
    assert outcome(new, "as found").verdict == "fail"
    counting = Performance.objects.standing().filter(counts=True)
    assert not counting.exists()
    assert Occurrence.objects.filter(plan=bench.plan, ended="open").exists()
    bench.sign(bench.draft({"done": "adjusted"}, stage="as left", check=new))
    assert [one.source_label for one in counting] == [f"Check {new.number}, as left"]
    with pytest.raises(Refusal, match="corrected already"):
        begin_correction(check=old, why="again", by=bench.operator)


def test_a_correction_that_passes_withdraws_the_order_of_the_wrong_check(bench: Bench) -> None:
    old = bench.check(FAILING)
    draft = begin_correction(check=old, why="7.20 was the other display", by=bench.operator)
    fields = {**draft.typed["fields"], "point1_shown": "7.08", "next": "nothing"}
    draft = keep_draft(draft=draft, fields=fields, answers={}, version=draft.version, settles=False, by=bench.operator)
    new = bench.sign(draft)
    assert WorkOrder.objects.get().state == "withdrawn"
    assert Performance.objects.get().source_label == f"Check {new.number}, as left"


def test_a_draft_posted_from_a_stale_page_overwrites_nothing_and_loses_nothing(bench: Bench) -> None:
    draft = bench.draft()
    stale = draft.version
    keep_draft(
        draft=draft,
        fields=bench.fields({"point1_shown": "7.09"}),
        answers={},
        version=stale,
        settles=False,
        by=bench.operator,
    )
    with pytest.raises(Stale, match="Another device"):
        keep_draft(
            draft=draft,
            fields=bench.fields({"point1_shown": "7.11"}),
            answers={},
            version=stale,
            settles=False,
            by=bench.operator,
        )
    kept = Draft.objects.get()
    assert kept.typed["fields"]["point1_shown"] == "7.09"
    assert kept.typed["beside"]["fields"]["point1_shown"] == "7.11"


def test_a_draft_put_aside_leaves_what_was_typed_in_the_history(bench: Bench) -> None:
    draft = bench.draft({"point1_shown": "7.31"})
    discard_draft(draft=draft, by=bench.operator)
    assert not Draft.objects.exists()
    event = Event.objects.get(verb="draft.put_aside")
    assert json.loads(event.body)["facts"]["typed"]["point1_shown"] == "7.31"


def test_a_review_is_signed_by_another_supervisor_once(bench: Bench) -> None:
    check = bench.check(FAILING, by=bench.supervisor)
    with pytest.raises(Refusal, match="does not review it"):
        review_check(check=check, note="seen", proof=proof_of(bench.supervisor), by=bench.supervisor)
    other = make_person(site=bench.site, role=Role.SUPERVISOR)
    with pytest.raises(Refusal, match="Note"):
        review_check(check=check, note=" ", proof=proof_of(other), by=other)
    review_check(check=check, note="probe ordered", proof=proof_of(other), by=other)
    with pytest.raises(Refusal, match="already"):
        review_check(check=check, note="again", proof=proof_of(other), by=other)
    with pytest.raises(NotAllowed):
        review_check(check=check, note="me too", proof=proof_of(bench.operator), by=bench.operator)
    assert CheckReview.objects.count() == 1


def test_the_usual_lots_are_chosen_on_the_page_though_as_found_was_lost(bench: Bench, operator: Client) -> None:
    lost = bench.sign(bench.draft(LOST))
    bench.sign(bench.draft({"done": "cleaned"}, stage="as left", check=lost))
    again = begin_draft(requirement=bench.requirement, by=bench.operator)
    chosen = {"point1_lot": str(bench.lots["7"].pk), "point2_lot": str(bench.lots["10"].pk)}
    assert again.typed["fields"] == chosen
    page = operator.get(again.get_absolute_url()).content.decode()
    for pk in chosen.values():
        assert f'<option value="{pk}" selected>' in page


def test_the_lots_of_the_last_check_are_filled_in_but_no_reading(bench: Bench) -> None:
    bench.check()
    draft = begin_draft(requirement=bench.requirement, by=bench.operator)
    assert set(draft.typed["fields"]) == {"point1_lot", "point2_lot"}
