"""Standards of every family: kinds, dilutions, assigned values, instruments with their certificates."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from assets.errors import NotAllowed, Refusal
from assets.models import Asset, FitForUse
from calibration.actions.certificates import accept_certificate, take_in_certificate
from calibration.actions.lots import record_lot_fact
from calibration.actions.standards_follow import follow_own_check
from calibration.actions.standards_instruments import UseTyped, end_standard_use, serve_as_standard
from calibration.actions.standards_made import AssignmentTyped, DilutionTyped, PartTyped, assign_value, make_dilution
from calibration.compute.dilution import CannotBe, Taken, diluted
from calibration.compute.standards import FIT_AT_LEAST, fit_ratio, why_unfit
from calibration.models import Assignment, Certificate, Dilution, Lot, StandardKind, StandardUse
from calibration.reads.standards import standards_at
from tests.calibration.browser import boxes_of, text_at
from tests.make import make_asset
from tests.make_checks import Bench
from tests.make_standards import (
    ALL_YES,
    day_at,
    make_certificate,
    make_check_with,
    make_instrument,
    make_kind,
    make_lot_of,
    typed_certificate,
)

pytestmark = pytest.mark.django_db


def taken(value: str, volume: str, **other: Fraction) -> Taken:
    return Taken(called="lot A", value=Fraction(value), volume=Fraction(volume), **other)


def test_a_dilution_is_worked_out_exactly() -> None:
    # Arithmetic: 3 mL of 1000 and 1 mL of 10, made up to 7 mL: 3010 / 7 = 430.
    whole = [taken("1000", "3"), taken("10", "1")]
    made = diluted(whole, made_up=Fraction(7), tolerance=None, unit="mg/L", volume_unit="mL")
    assert (made.value, made.u) == (430, None)
    assert "uncertainty not stated" in made.lines[-1].text
    with pytest.raises(CannotBe, match="More is taken"):
        diluted([taken("1", "3")], made_up=Fraction(2), tolerance=None, unit="mg/L", volume_unit="mL")


def test_the_uncertainty_of_a_dilution_by_hand() -> None:
    # By hand: c = 1000 · 10 / 100 = 100. Relative: stock 3/1000; pipette 0.03/√3/10; flask 0.3/√3/100.
    # Squares: 9e-6 + 3e-6 + 3e-6 = 15e-6, so u = 100 · √15e-6 = 0.387298334621 (twelve digits).
    one = taken("1000", "10", u=Fraction(3), tolerance=Fraction("0.03"))
    made = diluted([one], made_up=Fraction(100), tolerance=Fraction("0.3"), unit="mg/L", volume_unit="mL")
    assert made.value == 100
    assert made.u == Fraction("0.387298334621")
    # U = 2 u = 0.7746, rounded up to two digits for show.
    assert made.lines[-1].value == "0.78"


def test_the_limit_over_the_uncertainty_of_the_standard() -> None:
    assert fit_ratio(Fraction("0.10"), Fraction("0.02")) == 5
    assert fit_ratio(Fraction("-0.05"), Fraction("0.02")) == Fraction(5, 2) < FIT_AT_LEAST
    assert fit_ratio(Fraction(1), None) is None
    assert fit_ratio(None, Fraction(1)) is None


@pytest.fixture
def kind(bench: Bench) -> StandardKind:
    return make_kind(site=bench.site, by=bench.supervisor)


@pytest.fixture
def stock(bench: Bench, kind: StandardKind) -> Lot:
    return make_lot_of(
        kind=kind, site=bench.site, by=bench.supervisor, number="S-1", value="4000", uncertainty="40", coverage="2"
    )


def dilution(bench: Bench, kind: StandardKind, stock: Lot, **other: Any) -> DilutionTyped:
    given: dict[str, Any] = {
        "kind": kind,
        "number": "D-1",
        "parts": [PartTyped(lot=stock, taken="1.00", tolerance="0.01")],
        "made_up": "200",
        "made_up_tolerance": "0.2",
        "made_on": day_at(bench.site),
        "use_by": day_at(bench.site, -1),
    }
    return DilutionTyped(**(given | other))


def test_a_dilution_is_a_lot_worth_what_was_computed(bench: Bench, kind: StandardKind, stock: Lot) -> None:
    lot = make_dilution(site=bench.site, made=dilution(bench, kind, stock), by=bench.operator)
    assert (lot.label_value, lot.coverage) == ("20", "2")
    key = str(lot.pk)
    standard = standards_at(bench.site, day_at(bench.site), kinds=["turbidity standard"])[key]
    assert (standard.nominal, standard.unit, standard.table) == (20, "NTU", None)
    assert why_unfit(standard, day_at(bench.site)) == ()
    record_lot_fact(lot=stock, kind="quarantined", day=day_at(bench.site), why="settled", by=bench.operator)
    standard = standards_at(bench.site, day_at(bench.site), kinds=["turbidity standard"])[key]
    assert "made from lot S-1, which is quarantined: settled" in why_unfit(standard, day_at(bench.site))[0]
    with pytest.raises(Refusal, match="quarantined: settled"):
        make_dilution(site=bench.site, made=dilution(bench, kind, stock, number="D-2"), by=bench.operator)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"number": " "}, "number"),
        ({"made_up": "0.5"}, "made_up"),
        ({"made_up": "two"}, "made_up"),
        ({"made_up_tolerance": "-1"}, "made_up_tolerance"),
        ({"parts": []}, "part1_lot"),
        ({"use_by": dt.date(2026, 1, 1)}, "use_by"),
        ({"made_on": dt.date(2030, 1, 1), "use_by": dt.date(2030, 1, 2)}, "made_on"),
    ],
)
def test_a_dilution_that_cannot_be_is_refused_at_its_field(
    bench: Bench, kind: StandardKind, stock: Lot, wrong: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        make_dilution(site=bench.site, made=dilution(bench, kind, stock, **wrong), by=bench.operator)
    assert field in [reason.field for reason in refused.value.reasons]
    assert not Dilution.objects.exists()


def test_a_block_is_worth_something_on_one_instrument_after_its_primary(bench: Bench, stock: Lot) -> None:
    kind = make_kind(site=bench.site, by=bench.supervisor, family="turbidity block")
    block = make_lot_of(kind=kind, site=bench.site, by=bench.supervisor, number="B-1", value="20", expires_on=None)
    one, other = (make_asset(site=bench.site, kind="turbidimeter") for _ in range(2))
    primary = make_check_with(bench, back=2, asset=one, lot=stock)
    failed = make_check_with(bench, back=2, asset=one, lot=stock, verdict="fail")

    def give(asset: Asset = one, **other: Any) -> None:
        given = {"value": "20.4", "on": day_at(bench.site), "primary": primary} | other
        assign_value(lot=block, asset=asset, given=AssignmentTyped(**given), by=bench.operator)

    for asset, wrong, words in (
        (one, {"primary": None}, "says nothing before the instrument was calibrated"),
        (one, {"primary": failed}, "did not end in a pass"),
        (one, {"on": day_at(bench.site, 9)}, "later than the day"),
        (other, {}, "is not of turbidimeter"),
        (one, {"value": "0"}, "not above zero"),
    ):
        with pytest.raises(Refusal, match=words):
            give(asset, **wrong)
    give()
    known = standards_at(bench.site, day_at(bench.site), keys=[str(block.pk)])[str(block.pk)]
    assigned = known.assigned_to(f"asset-{one.pk}")
    assert assigned is not None and assigned.value == Fraction("20.4")
    assert known.assigned_to(f"asset-{other.pk}") is None
    row = Assignment(lot=block, asset=one, value="1", on=day_at(bench.site), recorded_at=primary.recorded_at)
    row.recorded_by = bench.operator
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


def test_a_certificate_is_accepted_or_refused_and_its_corrections_count(bench: Bench) -> None:
    gauge = make_instrument(site=bench.site, by=bench.supervisor, family="gauge", unit="kPa")
    key, today = f"asset-{gauge.pk}", day_at(bench.site)

    def known() -> Any:
        return standards_at(bench.site, today, kinds=["gauge"])[key]

    assert "no certificate of it" in known().unfit
    with pytest.raises(Refusal, match="taken in there, question by question"):
        accept_certificate(
            asset=gauge, from_day=today, until=today, issuer="x", number="x", file_hash="", by=bench.supervisor
        )
    make_certificate(
        asset=gauge,
        by=bench.supervisor,
        unit="kPa",
        uncertainty="0.5",
        coverage="2",
        corrections=[("0", "0.2"), ("100", "-0.4")],
    )
    standard = known()
    # By hand, linear between 0.2 at 0 and -0.4 at 100: -0.1 at 50.
    assert standard.correction_at(Fraction(50)) == Fraction("-0.1")
    assert (standard.uncertainty, standard.k, standard.is_lot) == (Fraction("0.5"), 2, False)
    assert why_unfit(standard, today) == ()
    assert "expired" in why_unfit(standard, today + dt.timedelta(days=336))[0]
    later = typed_certificate(bench.site, number="K-9", asked=ALL_YES | {"asks_good_enough": "no"})
    with pytest.raises(Refusal, match="cannot be accepted"):
        take_in_certificate(asset=gauge, read=later, accepted=True, because="", by=bench.supervisor)
    with pytest.raises(Refusal, match="Say why the certificate is refused"):
        take_in_certificate(asset=gauge, read=later, accepted=False, because=" ", by=bench.supervisor)
    take_in_certificate(asset=gauge, read=later, accepted=False, because="drifts", by=bench.supervisor)
    assert "was refused: drifts" in known().unfit
    with pytest.raises(Refusal, match="taken in already"):
        make_certificate(asset=gauge, by=bench.supervisor)
    with pytest.raises(NotAllowed):
        make_certificate(asset=gauge, by=bench.operator, number="K-10")


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"uncertainty": "0.5"}, "coverage"),
        ({"uncertainty": "0", "coverage": "2"}, "uncertainty"),
        ({"in_scope": True}, "accreditation"),
        ({"corrections": [("0", "x")]}, "corrections"),
        ({"corrections": [("5", "1"), ("5.0", "2")]}, "corrections"),
        ({"unit": " "}, "unit"),
        ({"asked": ALL_YES | {"asks_whole": ""}}, "asks_whole"),
        ({"until": dt.date(2026, 1, 1), "calibrated_on": dt.date(2025, 1, 1)}, "until"),
    ],
)
def test_a_certificate_with_a_fault_is_not_taken_in(bench: Bench, wrong: dict[str, Any], field: str) -> None:
    gauge = make_instrument(site=bench.site, by=bench.supervisor, family="gauge", unit="kPa")
    with pytest.raises(Refusal) as refused:
        make_certificate(asset=gauge, by=bench.supervisor, **wrong)
    assert [reason.field for reason in refused.value.reasons] == [field]
    assert not Certificate.objects.exists()


def test_an_instrument_serves_one_family_and_a_tank_says_how_it_was_measured(bench: Bench) -> None:
    tank = make_asset(site=bench.site, kind="day tank")
    with pytest.raises(Refusal, match="Say who measured"):
        serve_as_standard(asset=tank, use=UseTyped(family="tank", unit="L"), by=bench.supervisor)
    use = serve_as_standard(
        asset=tank,
        use=UseTyped(family="tank", unit="L", measured_by="R. Penhall", measured_how="inside diameter, steel tape"),
        by=bench.supervisor,
    )
    with pytest.raises(Refusal, match="serves as a standard already"):
        serve_as_standard(asset=tank, use=UseTyped(family="length", unit="m"), by=bench.supervisor)
    end_standard_use(use=use, why="replaced by a flow meter", by=bench.supervisor)
    assert standards_at(bench.site, day_at(bench.site), kinds=["tank"]) == {}
    named = standards_at(bench.site, day_at(bench.site), keys=[f"asset-{tank.pk}"])
    assert "serves as a standard no more" in named[f"asset-{tank.pk}"].unfit
    with pytest.raises(IntegrityError), transaction.atomic():
        StandardUse(
            asset=tank, family="tank", unit="L", recorded_at=use.recorded_at, recorded_by=bench.supervisor
        ).save()


def test_an_own_check_makes_a_meter_fit_no_longer_than_its_certificate_or_unfit(bench: Bench) -> None:
    meter = make_instrument(site=bench.site, by=bench.supervisor)
    make_certificate(asset=meter, by=bench.supervisor)
    failed = make_check_with(bench, back=1, asset=meter, lot=bench.lots["7"], verdict="fail")
    of = failed.sets.get()
    row = follow_own_check(of=of, outcome=of.outcome, by=bench.operator)
    assert row is not None and not row.fit
    good = make_check_with(bench, back=0, asset=meter, lot=bench.lots["7"])
    of = good.sets.get()
    assert follow_own_check(of=of, outcome=of.outcome, by=bench.operator) is None
    of.kind = "as left"
    row = follow_own_check(of=of, outcome=of.outcome, by=bench.operator)
    assert row is not None and row.fit
    assert row.until == day_at(bench.site, -335)
    assert FitForUse.objects.filter(asset=meter).first() == row


def test_the_pages_of_kinds_dilutions_and_instruments_keep_what_was_typed(bench: Bench, enter: Any) -> None:
    supervisor: Client = enter(bench.supervisor)
    kinds = reverse("calibration:kind-new")
    data = {"name": "Test gas", "family": "gas", "quantity": "chlorine", "unit": "", "nominal": "", "key": "k1"}
    answer = supervisor.post(kinds, data)
    assert (answer.status_code, boxes_of(answer.content.decode())["name"]) == (422, "Test gas")
    assert supervisor.post(kinds, data | {"unit": "ppm"}).status_code == 302
    kind = StandardKind.objects.get(name="Test gas")
    made = make_kind(site=bench.site, by=bench.supervisor)
    stock = make_lot_of(kind=made, site=bench.site, by=bench.supervisor, number="S-1", value="4000")
    url = reverse("calibration:dilution-new")
    sent = {
        "kind": made.pk,
        "number": "D-1",
        "made_on": day_at(bench.site).isoformat(),
        "use_by": day_at(bench.site).isoformat(),
        "volume_unit": "mL",
        "made_up": "0.5",
        "part1_lot": stock.pk,
        "part1_taken": "1",
        "key": "d1",
    }
    answer = supervisor.post(url, sent)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "More is taken than made up" in text_at(html, "made_up")
    assert boxes_of(html)["part1_taken"] == "1"
    answer = supervisor.post(url, sent | {"made_up": "200"})
    page = supervisor.get(answer["Location"]).content.decode()
    assert "20 NTU, lot" in page and "made up to 200 mL" in page
    gas = make_lot_of(kind=kind, site=bench.site, by=bench.supervisor, number="G-1", value="5")
    assert "under pressure" in supervisor.get(gas.get_absolute_url()).content.decode()
    asset = make_asset(site=bench.site, kind="gauge")
    answer = supervisor.post(
        reverse("calibration:instrument-serve", args=[asset.pk]), {"family": "gauge", "unit": "kPa", "key": "g1"}
    )
    intake = reverse("calibration:instrument-intake", args=[asset.pk])
    read = {
        "number": "K-1",
        "issuer": "County bench",
        "calibrated_on": day_at(bench.site, 9).isoformat(),
        "until": day_at(bench.site, -300).isoformat(),
        "unit": "kPa",
        "corrections": "0 0.2\n100 -0,4",
        "decision": "accept",
        "key": "i1",
    }
    answer = supervisor.post(intake, read)
    assert answer.status_code == 422
    assert boxes_of(answer.content.decode())["number"] == "K-1"
    answer = supervisor.post(intake, read | ALL_YES)
    page = supervisor.get(answer["Location"]).content.decode()
    assert "In date" in page and "K-1" in page and "Corrections, kPa" in page
    listed = supervisor.get(reverse("calibration:standards")).content.decode()
    assert "Reference gauge" in listed and "Test gas" in listed and "pH buffer" in listed
