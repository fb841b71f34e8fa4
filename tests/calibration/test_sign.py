"""Signing a check and what follows from it, in one act."""

from __future__ import annotations

import datetime as dt
import json
from fractions import Fraction

import pytest
from django.db import IntegrityError, connection, transaction

from assets.errors import NotAllowed, Refusal
from assets.models import Event, Role, Signature
from calibration.actions.drafts import begin_draft, keep_draft
from calibration.actions.lots import record_lot_fact
from calibration.actions.sets import sign_set
from calibration.models import Check, Draft, Figure, Outcome
from calibration.reads.content import digest_of, stored_rows
from calibration.reads.orders import order_of
from calibration.reads.sheet import sets_of
from calibration.reads.stored import agrees, worked_again
from maintenance.models import Performance, WorkOrder
from tests.conftest import Clock
from tests.make import make_person, make_position, make_use, proof_of
from tests.make_checks import FAILING, Bench

pytestmark = pytest.mark.django_db


def outcome(check: Check, kind: str) -> Outcome:
    return Outcome.objects.get(set__check_of=check, set__kind=kind)


def figure(check: Check, kind: str, name: str) -> Fraction:
    return Fraction(Figure.objects.get(outcome=outcome(check, kind), name=name).exact)


def verbs_since(last: int) -> list[str]:
    return list(Event.objects.filter(pk__gt=last).order_by("pk").values_list("verb", flat=True))


def last_event() -> int:
    newest = Event.objects.order_by("-pk").first()
    return newest.pk if newest else 0


def test_the_cold_check_passes_and_fulfils_its_routine(bench: Bench) -> None:
    check = bench.check()
    # By hand from the tables: g = (10.15 - 7.08) / (10.1485 - 7.0475), p = 7.0475 + (7.80 - 7.08) / g, error 7.80 - p.
    gain = Fraction("3.07") / (Fraction("10.1485") - Fraction("7.0475"))
    error = Fraction("7.80") - (Fraction("7.0475") + Fraction("0.72") / gain)
    assert figure(check, "as found", "error") == error
    assert round(float(error), 4) == 0.0252
    assert outcome(check, "as found").verdict == "pass"
    assert outcome(check, "as left").verdict == "pass"
    left = check.sets.get(kind="as left")
    assert left.same_as_found
    assert not left.points.exists()
    performance = Performance.objects.get(plan=bench.plan)
    assert performance.counts
    assert performance.source_path == f"/checks/{check.number}/"
    assert not WorkOrder.objects.exists()
    assert not Draft.objects.exists()


def test_a_failing_as_found_raises_one_order_that_is_not_yet_confirmed(bench: Bench) -> None:
    make_use(
        position=bench.position, target=make_position(site=bench.site, tag="P-41", does="moves"), by=bench.supervisor
    )
    check = bench.check(FAILING)
    # shown 7.20 and 10.15: g = 2.95 / 3.101, p = 7.0475 + 0.60 / g, error 7.80 - p = +0.1218.
    gain = Fraction("2.95") / Fraction("3.101")
    assert figure(check, "as found", "error") == Fraction("7.80") - (Fraction("7.0475") + Fraction("0.60") / gain)
    assert round(float(figure(check, "as found", "error")), 4) == 0.1218
    assert outcome(check, "as found").verdict == "fail"
    order = WorkOrder.objects.get()
    assert (order.state, order.confirmed, order.plan) == ("raised", "not yet confirmed", bench.plan)
    assert "+0.122 pH" in order.reason
    assert "paces P-41" in order.reason
    assert order.origin_path == f"/checks/{check.number}/"
    assert not Performance.objects.exists()


def test_a_second_failing_check_raises_no_second_order(bench: Bench) -> None:
    bench.check(FAILING)
    second = bench.check(FAILING)
    assert WorkOrder.objects.count() == 1
    assert order_of(second) == WorkOrder.objects.get()


def test_on_demand_a_second_failing_check_raises_no_second_order(clock: Clock) -> None:
    bench = Bench(routine=False)
    bench.check(FAILING)
    clock.forward(minutes=5)
    second = bench.check(FAILING)
    assert WorkOrder.objects.count() == 1
    assert order_of(second) == WorkOrder.objects.get()


def test_a_good_second_buffer_withdraws_the_order(bench: Bench) -> None:
    check = bench.check(FAILING)
    bench.sign(bench.draft(stage="confirming", check=check, lots=("7b", "10b")))
    order = WorkOrder.objects.get()
    assert order.state == "withdrawn"
    assert f"check {check.number}" in order.withdrawn_because


def test_a_failing_second_buffer_confirms_the_order(bench: Bench) -> None:
    check = bench.check(FAILING)
    bench.sign(bench.draft(FAILING, stage="confirming", check=check, lots=("7b", "10b")))
    order = WorkOrder.objects.get()
    assert (order.state, order.confirmed) == ("raised", "confirmed")


def test_a_second_buffer_from_the_same_lot_is_refused(bench: Bench) -> None:
    check = bench.check(FAILING)
    draft = bench.draft(stage="confirming", check=check, lots=("7", "10b"))
    with pytest.raises(Refusal, match="from another lot") as refused:
        bench.sign(draft)
    assert [reason.field for reason in refused.value.reasons] == ["point1_lot"]
    assert WorkOrder.objects.get().state == "raised"


def test_nothing_is_confirmed_where_nothing_failed(bench: Bench) -> None:
    check = bench.check({"next": "more"})
    with pytest.raises(Refusal, match="nothing to confirm"):
        begin_draft(requirement=bench.requirement, by=bench.operator, stage="confirming", check=check)


def test_adjusting_and_reading_again_fulfils_the_routine(bench: Bench, clock: Clock) -> None:
    check = bench.check(FAILING)
    clock.forward(minutes=20)
    bench.sign(bench.draft({"done": "adjusted", "point1_shown": "7.05"}, stage="as left", check=check))
    assert outcome(check, "as left").verdict == "pass"
    performance = Performance.objects.get()
    assert performance.counts
    assert performance.performed_at == clock.now
    assert json.loads(outcome(check, "as left").known)["last"]["process_ph"] == str(
        figure(check, "as found", "process_ph")
    )


def test_a_failing_as_left_fulfils_nothing(bench: Bench) -> None:
    check = bench.check(FAILING)
    bench.sign(bench.draft({"done": "cleaned", "point1_shown": "7.20"}, stage="as left", check=check))
    performance = Performance.objects.get()
    assert not performance.counts
    assert performance.because == "failed as left, not restored"


def test_a_failing_as_found_is_not_signed_as_left_even_if_nothing_is_to_be_done(bench: Bench) -> None:
    check = bench.check(FAILING | {"next": "nothing"})
    assert [of.kind for of in check.sets.all()] == ["as found"]
    assert not Performance.objects.exists()


def test_what_is_not_valid_is_kept_and_fulfils_nothing(bench: Bench) -> None:
    check = bench.check({"point2_steady": "no"})
    result = outcome(check, "as found")
    assert (result.valid, result.verdict) == (False, "no verdict")
    assert "did not stand still" in result.because
    performance = Performance.objects.get()
    assert not performance.counts
    assert "not valid" in performance.because
    assert not WorkOrder.objects.exists()


def test_a_cracked_glass_answered_as_such_fails(bench: Bench) -> None:
    changes = {"point1_mv": "-3.0", "point2_mv": "-4.0", "next": "more"}
    draft = bench.draft(changes)
    with pytest.raises(Refusal, match="cracked glass"):
        bench.sign(draft)
    draft = keep_draft(
        draft=draft,
        fields=bench.fields(changes),
        answers={"flat": {"choice": "two buffers", "reason": "read twice, two cups", "asked": ""}},
        version=draft.version,
        settles=False,
        by=bench.operator,
    )
    check = bench.sign(draft)
    assert outcome(check, "as found").verdict == "fail"
    answer = check.sets.get().answers.get()
    assert (answer.asked, answer.choice, answer.reason) == ("flat", "two buffers", "read twice, two cups")
    assert WorkOrder.objects.count() == 1


def test_as_found_may_be_lost_with_its_reason(bench: Bench) -> None:
    lost = {name: "" for name in bench.fields() if name.startswith("point")}
    check = bench.check({**lost, "lost_because": "cleaned by the night shift before anyone read it", "next": "more"})
    found = check.sets.get()
    assert found.lost_because.startswith("cleaned by the night shift")
    assert not hasattr(found, "outcome")
    bench.sign(bench.draft({"done": "both", "next": ""}, stage="as left", check=check))
    assert Performance.objects.get().counts


def test_readings_and_a_reason_why_there_are_none_are_refused(bench: Bench) -> None:
    with pytest.raises(Refusal, match="readings as found are too"):
        bench.check({"lost_because": "cleaned first", "next": "more"})


def test_the_last_set_is_not_signed_while_on_hold(bench: Bench) -> None:
    with pytest.raises(Refusal, match="still on hold") as refused:
        bench.check({"hold_off_at": ""})
    assert [reason.field for reason in refused.value.reasons] == ["hold_off_at"]
    # The first of two sets may be: the probe is still out of the water.
    draft = Draft.objects.get()
    draft = keep_draft(
        draft=draft,
        fields=bench.fields({"hold_off_at": "", "next": "more"}),
        answers={},
        version=draft.version,
        settles=False,
        by=bench.operator,
    )
    assert bench.sign(draft).sets.count() == 1


def test_nothing_is_signed_on_hold_without_the_time_it_was_put_on(bench: Bench) -> None:
    with pytest.raises(Refusal, match="though it was on hold") as refused:
        bench.check({"hold_on_at": ""})
    assert [reason.field for reason in refused.value.reasons] == ["hold_on_at"]
    assert not Check.objects.exists()


def test_a_hold_over_midnight_is_signed_with_its_days(bench: Bench, clock: Clock) -> None:
    # 00:20 at the site, whose zone is seven hours behind UTC in November (IANA time zone database).
    clock.set(2026, 11, 26, 7, 20)
    with pytest.raises(Refusal, match="has not come yet"):
        bench.check({"hold_on_at": "23:40", "hold_off_at": "00:15"})
    Draft.objects.all().delete()
    assert bench.check({"hold_on_at": "2026-11-25 23:40", "hold_off_at": "00:15"}).sets.count() == 2


def test_signing_leaves_one_event_of_its_own_verb_and_one_signature_a_set(bench: Bench) -> None:
    draft = bench.draft()
    last = last_event()
    bench.sign(draft)
    assert verbs_since(last) == ["check.signed", "performance.recorded"]
    assert Signature.objects.count() == 2


def test_a_refused_signature_changes_nothing(bench: Bench) -> None:
    draft = bench.draft({"point1_shown": ""})
    last = last_event()
    with pytest.raises(Refusal, match="nothing is written for the display"):
        bench.sign(draft)
    assert verbs_since(last) == []
    assert Draft.objects.get() == draft
    assert not Check.objects.exists()


def test_nobody_signs_with_anothers_proof_or_anothers_draft(bench: Bench) -> None:
    draft = bench.draft()
    other = make_person(site=bench.site)
    with pytest.raises(Refusal, match="another person"):
        sign_set(draft=draft, version=draft.version, proof=proof_of(other), by=bench.operator)
    with pytest.raises(Refusal, match="another person"):
        sign_set(draft=draft, version=draft.version, proof=proof_of(other), by=other)
    assert not Check.objects.exists()


@pytest.mark.parametrize("role", [Role.VIEWER, Role.ADMINISTRATOR, Role.CONTRACTOR])
def test_other_roles_make_no_checks(bench: Bench, role: Role) -> None:
    with pytest.raises(NotAllowed):
        begin_draft(requirement=bench.requirement, by=make_person(site=bench.site, role=role))


def test_the_time_performed_is_that_of_the_first_save(bench: Bench, clock: Clock) -> None:
    draft = bench.draft()
    first = clock.now
    clock.forward(minutes=12)
    draft = keep_draft(
        draft=draft,
        fields=bench.fields({"point2_shown": "10.16"}),
        answers={},
        version=draft.version,
        settles=False,
        by=bench.operator,
    )
    check = bench.sign(draft)
    assert check.begun_at == first
    assert check.recorded_at == clock.now


def test_it_was_earlier_needs_its_reason_and_is_kept_as_late(bench: Bench, clock: Clock) -> None:
    draft = bench.draft()
    earlier = clock.now - dt.timedelta(hours=3)
    with pytest.raises(Refusal, match="Why it is entered late"):
        bench.sign(draft, earlier_at=earlier)
    with pytest.raises(Refusal, match="no time"):
        bench.sign(draft, earlier_because="no signal at the weir")
    with pytest.raises(Refusal, match="later than the first entry"):
        bench.sign(draft, earlier_at=clock.now + dt.timedelta(minutes=1), earlier_because="x")
    check = bench.sign(draft, earlier_at=earlier, earlier_because="no signal at the weir")
    assert check.begun_at == earlier
    assert set(check.sets.values_list("late_because", flat=True)) == {"no signal at the weir"}
    assert Performance.objects.get().performed_at == earlier


def test_a_late_entry_is_judged_by_the_lot_and_limits_of_its_own_day(bench: Bench, clock: Clock) -> None:
    clock.forward(days=75)  # the high buffer was opened 96 days ago by now, and only 30 are allowed
    draft = bench.draft({"next": "more"})
    assert not outcome(bench.sign(draft), "as found").valid
    draft = bench.draft({"next": "more"})
    early = clock.now - dt.timedelta(days=70)
    check = bench.sign(draft, earlier_at=early, earlier_because="paper sheet found")
    assert outcome(check, "as found").valid


def test_signed_rows_cannot_be_changed_with_the_databases_own_tools(bench: Bench) -> None:
    bench.check({"next": "more"})
    for table, column in (
        ("check", "number"),
        ("readingset", "kind"),
        ("point", "number"),
        ("entry", "text"),
        ("outcome", "verdict"),
        ("figure", "shown"),
    ):
        for statement in (
            f"UPDATE calibration_{table} SET {column} = {column}",
            f"DELETE FROM calibration_{table}",
        ):
            with pytest.raises(IntegrityError, match="never"), transaction.atomic(), connection.cursor() as cursor:
                cursor.execute(statement)


def test_the_stored_working_is_what_the_stored_inputs_give(bench: Bench) -> None:
    check = bench.check()
    sets = sets_of(check)
    assert [of.kind for of in sets] == ["as found", "as left"]
    for of in sets:
        assert agrees(of.outcome, worked_again(of, of.outcome))


def test_the_signature_covers_what_is_stored(bench: Bench) -> None:
    check = bench.check()
    for of in sets_of(check):
        assert of.signature.digest == digest_of(check, stored_rows(of))


def test_each_line_of_the_working_gives_its_figure_by_hand(bench: Bench) -> None:
    lines = json.loads(outcome(bench.check(), "as found").working)
    tried = 0
    for line in lines:
        if not line["figures"] or "²" in line["figures"] or "√" in line["figures"]:
            continue
        text = line["figures"].replace("−", "-").replace("×", "*")
        wanted = line["value"].replace("−", "-").lstrip("+")
        digits = len(wanted.partition(".")[2])
        assert abs(eval(text) - float(wanted)) <= 0.5000001 * 10**-digits, line  # noqa: S307 - our own stored text
        tried += 1
    assert tried >= 9


def test_a_quarantined_lot_makes_the_check_not_valid(bench: Bench) -> None:
    record_lot_fact(lot=bench.lots["7"], kind="quarantined", day=dt.date(2026, 11, 25), why="cloudy", by=bench.operator)
    assert "cloudy" in outcome(bench.check({"next": "more"}), "as found").because
