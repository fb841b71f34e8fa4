"""A standard is withdrawn: what relied on it, however long the way, and what follows for the routines."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assets.errors import NotAllowed, Refusal, Stale
from assets.models import FitForUse, Signature
from assets.reads.records import check_records
from calibration.actions.lots import record_lot_fact
from calibration.actions.recall import withdraw_standard
from calibration.actions.standards_made import (
    AssignmentTyped,
    DilutionTyped,
    PartTyped,
    assign_value,
    make_dilution,
)
from calibration.models import Check, Lot, Recall, RelianceWithdrawal
from calibration.reads.night import differences
from calibration.reads.recall import reach_of, recall_offer
from calibration.reads.standards import standards_at
from maintenance.models import Occurrence, Performance
from tests.make import make_asset, make_position, proof_of
from tests.make_checks import Bench
from tests.make_standards import day_at, make_check_with, make_instrument, make_kind, make_lot_of

pytestmark = pytest.mark.django_db


def withdraw(bench: Bench, standard: Any, *, back: int, seen: list[int], because: str = "reads 0.05 low") -> Recall:
    return withdraw_standard(
        site=bench.site,
        standard=standard,
        from_day=day_at(bench.site, back),
        because=because,
        seen=seen,
        proof=proof_of(bench.supervisor),
        by=bench.supervisor,
    )


def due_of(bench: Bench) -> dt.date:
    """When the routine is owed next."""
    return Occurrence.objects.filter(plan=bench.plan, ended="open").earliest("due").due


class Chain:
    """A stock lot, a dilution of it, a block valued on a bench meter after it, and what that meter checked."""

    def __init__(self, bench: Bench) -> None:
        site, ruth = bench.site, bench.supervisor
        kind = make_kind(site=site, by=ruth)
        self.stock = make_lot_of(kind=kind, site=site, by=ruth, number="S-1", value="4000")
        self.made = make_dilution(
            site=site,
            made=DilutionTyped(
                kind=kind,
                number="D-1",
                parts=[PartTyped(lot=self.stock, taken="1.00")],
                made_up="200",
                made_on=day_at(site, 40),
                use_by=day_at(site, 39),
            ),
            by=ruth,
        )
        block = make_kind(site=site, by=ruth, family="turbidity block")
        self.block = make_lot_of(kind=block, site=site, by=ruth, number="B-1", value="20", expires_on=None)
        self.meter = make_instrument(site=site, by=ruth)
        self.analyzer = make_position(site=site, tag="AIT-410")
        given = AssignmentTyped(
            value="20.2", on=day_at(site, 40), primary_lot=self.made, primary_words="bench book, page 12"
        )
        assign_value(lot=self.block, asset=self.meter, given=given, by=ruth)
        self.own = make_check_with(bench, back=30, asset=self.meter, lot=self.block)
        self.with_meter = make_check_with(bench, back=20, position=self.analyzer, reference=self.meter)
        self.good_again = make_check_with(bench, back=10, asset=self.meter, lot=bench.lots["7"])
        self.after = make_check_with(bench, back=5, position=self.analyzer, reference=self.meter)


def test_a_bad_lot_reaches_checks_through_a_dilution_a_block_and_a_bench_meter(bench: Bench) -> None:
    chain = Chain(bench)
    unrelated = make_check_with(bench, back=25, lot=bench.lots["10"])
    reach = reach_of(site=bench.site, lot=chain.stock, asset=None, from_day=day_at(bench.site, 50))
    # The meter's own check, and what it measured until its next good check by another standard; nothing later.
    assert {one.check for one in reach.checks.values()} == {chain.own, chain.with_meter}
    assert unrelated.pk not in reach.checks and chain.after.pk not in reach.checks
    through = reach.checks[chain.with_meter.pk].through
    assert [word in through for word in ("lot D-1", "block B-1", str(chain.meter))] == [True] * 3
    recall = withdraw(bench, chain.stock, back=50, seen=[chain.own.number, chain.with_meter.number])
    assert set(recall.withdrawals.values_list("check_of", flat=True)) == {chain.own.pk, chain.with_meter.pk}
    # The dilution is unfit by its parent, and the block has no value any more on that meter.
    key = f"asset-{chain.meter.pk}"
    known = standards_at(bench.site, day_at(bench.site), keys=[str(chain.made.pk), str(chain.block.pk)], unit_key=key)
    assert "made from lot S-1, which is quarantined" in known[str(chain.made.pk)].unfit
    assert known[str(chain.block.pk)].assigned_to(key) is None
    assert check_records() == []


def test_a_lot_that_was_thrown_away_before_spoils_what_was_made_from_it(bench: Bench) -> None:
    chain = Chain(bench)
    today = day_at(bench.site)
    record_lot_fact(lot=chain.stock, kind="discarded", day=today, why="empty", by=bench.operator)
    withdraw(bench, chain.stock, back=50, seen=[chain.own.number, chain.with_meter.number])
    known = standards_at(bench.site, today, keys=[str(chain.made.pk)])
    assert known[str(chain.made.pk)].unfit == "made from a lot that is withdrawn"


@pytest.mark.parametrize(("back", "expected"), [(35, 0), (40, 2)])
def test_only_what_was_made_since_that_day_is_reached(bench: Bench, back: int, expected: int) -> None:
    chain = Chain(bench)
    reach = reach_of(site=bench.site, lot=chain.stock, asset=None, from_day=day_at(bench.site, back))
    assert len(reach.checks) == expected


def test_a_block_given_its_value_anew_is_good_again(bench: Bench) -> None:
    chain = Chain(bench)
    given = AssignmentTyped(value="20.1", on=day_at(bench.site, 31), primary_lot=bench.lots["4"], primary_words="book")
    assign_value(lot=chain.block, asset=chain.meter, given=given, by=bench.supervisor)
    assert reach_of(site=bench.site, lot=chain.stock, asset=None, from_day=day_at(bench.site, 50)).checks == {}


def test_a_block_reaches_only_the_instrument_it_was_valued_on(bench: Bench) -> None:
    chain = Chain(bench)
    other = make_asset(site=bench.site, kind="turbidimeter")
    elsewhere = make_check_with(bench, back=30, asset=other, lot=chain.block)
    reach = reach_of(site=bench.site, lot=chain.stock, asset=None, from_day=day_at(bench.site, 50))
    assert elsewhere.pk not in reach.checks


def test_what_a_withdrawn_check_counted_for_is_owed_again_and_nothing_is_edited(bench: Bench) -> None:
    first = due_of(bench)
    check = bench.check()
    counted = Performance.objects.get(plan=bench.plan, counts=True)
    assert due_of(bench) > first
    before = list(Check.objects.values()) + list(Signature.objects.order_by("pk").values())
    withdraw(bench, bench.lots["7"], back=0, seen=[check.number])
    last = Performance.objects.standing().get(plan=bench.plan)
    assert not last.counts
    assert last.replaces == counted
    assert "reliance on lot 2608-A was withdrawn" in last.because
    assert due_of(bench) == first
    signed = Signature.objects.exclude(recall__isnull=False).order_by("pk")
    assert list(Check.objects.values()) + list(signed.values()) == before
    assert list(differences(bench.site)) == []
    assert bench.lots["7"].facts.filter(kind="quarantined").count() == 1
    with pytest.raises(Refusal, match="not released again"):
        record_lot_fact(
            lot=bench.lots["7"], kind="released", day=day_at(bench.site), why="it is fine", by=bench.supervisor
        )


def test_a_list_that_changed_since_it_was_shown_is_not_signed(bench: Bench) -> None:
    bench.check()
    with pytest.raises(Stale, match="Other checks rely on it"):
        withdraw(bench, bench.lots["7"], back=0, seen=[])
    assert not Recall.objects.exists()
    assert not Signature.objects.filter(meaning__startswith="withdraws").exists()


@pytest.mark.parametrize(("back", "because", "words"), [(-1, "low", "not come yet"), (0, " ", "Say what was found")])
def test_a_withdrawal_that_cannot_be_is_refused(bench: Bench, back: int, because: str, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        withdraw(bench, bench.lots["7"], back=back, seen=[], because=because)
    with pytest.raises(NotAllowed):
        withdraw_standard(
            site=bench.site,
            standard=bench.lots["7"],
            from_day=day_at(bench.site),
            because="low",
            seen=[],
            proof=proof_of(bench.operator),
            by=bench.operator,
        )


def test_a_meter_that_fails_its_own_check_is_offered_for_withdrawal_back_to_its_last_good_one(bench: Bench) -> None:
    chain = Chain(bench)
    assert recall_offer(chain.meter) is None
    failed = make_check_with(bench, back=1, asset=chain.meter, lot=bench.lots["7"], verdict="fail")
    offer = recall_offer(chain.meter)
    assert offer is not None
    assert (offer.failed, offer.good) == (failed, chain.good_again)
    assert offer.from_day == day_at(bench.site, 10)
    withdraw(bench, chain.meter, back=10, seen=[chain.after.number])
    assert recall_offer(chain.meter) is None
    newest = FitForUse.objects.filter(asset=chain.meter).first()
    assert newest is not None and not newest.fit


def test_the_tables_refuse_what_no_withdrawal_is(bench: Bench) -> None:
    check = bench.check()
    recall = withdraw(bench, bench.lots["7"], back=0, seen=[check.number])
    row = recall.withdrawals.get()
    for wrong in (
        RelianceWithdrawal(recall=recall, check_of=check, standard="x", because="x", recorded_at=row.recorded_at),
        Recall(
            site=bench.site,
            from_day=dt.date(2026, 1, 1),
            because="x",
            signature=recall.signature,
            recorded_at=row.recorded_at,
            recorded_by=bench.operator,
        ),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            wrong.save()
    with pytest.raises(IntegrityError), transaction.atomic():
        RelianceWithdrawal.objects.filter(pk=row.pk).update(because="other")


def test_the_page_shows_first_and_writes_only_when_signed(bench: Bench, enter: Any) -> None:
    check = bench.check()
    lot: Lot = bench.lots["7"]
    url = reverse("calibration:recall-lot", args=[lot.pk])
    supervisor: Client = enter(bench.supervisor)
    bench.supervisor.set_password("a long enough secret")
    bench.supervisor.save()
    supervisor = enter(bench.supervisor)
    asked = {"since": day_at(bench.site).isoformat(), "because": "reads low"}
    assert supervisor.get(url, {"since": "2026-13-01", "because": ""}).status_code == 422
    html = supervisor.get(url, asked).content.decode()
    assert "What will be withdrawn: 1 check" in html and f"Check {check.number}" in html
    assert not Recall.objects.exists()
    sent = {**asked, "seen": str(check.number), "key": "w1"}
    answer = supervisor.post(url, {**sent, "proof": "wrong"})
    assert answer.status_code == 422
    assert "neither your PIN nor your password" in answer.content.decode()
    answer = supervisor.post(url, {**sent, "proof": "a long enough secret"})
    assert answer.status_code == 302
    page = supervisor.get(answer["Location"]).content.decode()
    assert "reads low" in page and "AIT-310" in page
    assert "reliance withdrawn" in supervisor.get(lot.get_absolute_url()).content.decode()
    assert "withdrawn because: reads low" in supervisor.get(check.get_absolute_url()).content.decode()
    listed = supervisor.get(reverse("calibration:checks")).content.decode()
    assert "Reliance withdrawn, because: lot 2608-A, reads low" in listed


def test_standards_are_read_with_the_same_number_of_queries_for_many(bench: Bench) -> None:
    def count() -> int:
        with CaptureQueriesContext(
            connection,
        ) as asked:
            standards_at(bench.site, day_at(bench.site), kinds=["buffer", "turbidity standard", "bench meter"])
        return len(asked)

    Chain(bench)
    few = count()
    kind = make_kind(site=bench.site, by=bench.supervisor, name="another")
    for number in range(4):
        make_lot_of(kind=kind, site=bench.site, by=bench.supervisor, number=f"N-{number}", value="20")
        make_instrument(site=bench.site, by=bench.supervisor)
    assert count() == few
