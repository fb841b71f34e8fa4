"""Instruments leave and come back; what is away is neither fitted nor a standard."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from assets.actions.fittings import fit_asset
from assets.errors import Refusal
from assets.models import Asset, FitForUse, Fitting
from calibration.actions.custody import SendingTyped, send_out, take_back
from calibration.compute.standards import why_unfit
from calibration.models import Custody
from calibration.reads.custody import away_at, away_of_position
from calibration.reads.standards import standards_at
from tests.calibration.browser import boxes_of, text_at
from tests.make import make_asset, make_fitting
from tests.make_checks import Bench
from tests.make_standards import day_at, make_certificate, make_instrument

pytestmark = pytest.mark.django_db


def sending(bench: Bench, **other: Any) -> SendingTyped:
    given: dict[str, Any] = {
        "sent_to": "County bench",
        "why": "yearly calibration",
        "sent_with": "the Tuesday van",
        "sent_on": day_at(bench.site, 3),
        "due_back": day_at(bench.site, -20),
    }
    return SendingTyped(**(given | other))


@pytest.fixture
def gauge(bench: Bench) -> Asset:
    asset = make_instrument(site=bench.site, by=bench.supervisor, family="gauge", unit="kPa")
    make_certificate(asset=asset, by=bench.supervisor, unit="kPa", uncertainty="0.5", coverage="2")
    return asset


def unfit_words(bench: Bench, asset: Asset) -> str:
    known = standards_at(bench.site, day_at(bench.site), kinds=["gauge"])
    return " ".join(why_unfit(known[f"asset-{asset.pk}"], day_at(bench.site)))


def test_what_is_away_is_no_standard_and_cannot_be_fitted(bench: Bench, gauge: Asset) -> None:
    assert unfit_words(bench, gauge) == ""
    absence = send_out(asset=gauge, sending=sending(bench), by=bench.operator)
    assert "it is away at County bench" in unfit_words(bench, gauge)
    with pytest.raises(Refusal, match="is away at County bench since .*; write it back"):
        fit_asset(position=bench.position, asset=gauge, by=bench.operator)
    assert not Fitting.objects.exists()
    take_back(
        absence=absence, back_on=day_at(bench.site), condition="clean, seal whole", certificate="", by=bench.operator
    )
    # Back is not yet right: it waits for the certificate that came with it.
    assert "not yet shown to be right" in unfit_words(bench, gauge)
    fit_asset(position=bench.position, asset=gauge, by=bench.operator)
    make_certificate(asset=gauge, by=bench.supervisor, number="K-2300", unit="kPa")
    assert unfit_words(bench, gauge) == ""


def test_a_loaner_takes_the_place_in_the_same_act(bench: Bench, operator: Client) -> None:
    probe, loaner = make_asset(site=bench.site), make_asset(site=bench.site)
    before = dt.datetime.now(tz=dt.UTC) - dt.timedelta(days=400)
    make_fitting(position=bench.position, asset=probe, by=bench.operator, from_at=before)
    send_out(asset=probe, sending=sending(bench, loaner=loaner), by=bench.operator)
    assert Fitting.objects.now().get(position=bench.position).asset == loaner
    (away,) = away_of_position(bench.position, day_at(bench.site))
    assert (away.asset, str(loaner) in away.said) == (str(probe), True)
    tag = operator.get(reverse("tag", kwargs={"code": bench.position.label_code})).content.decode()
    assert f"{loaner} is fitted meanwhile" in tag
    # A probe nobody measures with needs no word on its fitness.
    assert not FitForUse.objects.filter(asset=probe).exists()


def test_what_should_be_back_is_listed_with_its_days(bench: Bench, gauge: Asset, operator: Client) -> None:
    send_out(asset=gauge, sending=sending(bench, due_back=day_at(bench.site, 2)), by=bench.operator)
    assert [one.overdue for one in away_at(bench.site, day_at(bench.site), overdue=True)] == [2]
    assert away_at(bench.site, day_at(bench.site, 2), overdue=True) == ()
    review = operator.get(reverse("review")).content.decode()
    assert "Should be back, 1" in review and "2 days late" in review


def test_an_instrument_is_away_once_whoever_writes_it(bench: Bench, gauge: Asset) -> None:
    absence = send_out(asset=gauge, sending=sending(bench), by=bench.operator)
    with pytest.raises(Refusal, match="is away already, at County bench"):
        send_out(asset=gauge, sending=sending(bench), by=bench.supervisor)
    # The second of two people who both passed that question meets the table itself.
    twin = Custody.objects.get(pk=absence.pk)
    twin.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        twin.save(force_insert=True)
    stale = Custody.objects.get(pk=absence.pk)
    take_back(absence=absence, back_on=day_at(bench.site), condition="whole", certificate="", by=bench.operator)
    with pytest.raises(Refusal, match="changed by somebody else"):
        take_back(absence=stale, back_on=day_at(bench.site), condition="bent", certificate="", by=bench.supervisor)
    with pytest.raises(IntegrityError), transaction.atomic():
        Custody.objects.filter(pk=absence.pk).update(condition="bent")


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"sent_to": " "}, "sent_to"),
        ({"why": ""}, "why"),
        ({"sent_with": ""}, "sent_with"),
        ({"due_back": dt.date(2020, 1, 1)}, "due_back"),
        ({"sent_on": dt.date(2030, 1, 1), "due_back": dt.date(2030, 2, 1)}, "sent_on"),
    ],
)
def test_a_sending_that_cannot_be_is_refused_at_its_field(
    bench: Bench, gauge: Asset, wrong: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        send_out(asset=gauge, sending=sending(bench, **wrong), by=bench.operator)
    assert [reason.field for reason in refused.value.reasons] == [field]
    assert not Custody.objects.exists()


def test_the_pages_of_an_absence(bench: Bench, gauge: Asset, operator: Client) -> None:
    url = reverse("calibration:instrument-send", args=[gauge.pk])
    data = {
        "sent_to": "County bench",
        "why": "repair",
        "sent_with": "the van",
        "sent_on": day_at(bench.site).isoformat(),
        "due_back": "2020-01-01",
        "key": "s1",
    }
    answer = operator.post(url, data)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "before the day it left" in text_at(html, "due_back")
    assert boxes_of(html)["sent_to"] == "County bench"
    answer = operator.post(url, data | {"due_back": day_at(bench.site, -9).isoformat()})
    page = operator.get(answer["Location"]).content.decode()
    assert "Away" in page and "County bench" in page
    assert "County bench" in operator.get(reverse("calibration:standards")).content.decode()
    back = reverse("calibration:instrument-back", args=[gauge.pk])
    answer = operator.post(back, {"back_on": day_at(bench.site).isoformat(), "condition": "", "key": "b1"})
    assert answer.status_code == 422
    answer = operator.post(back, {"back_on": day_at(bench.site).isoformat(), "condition": "whole", "key": "b2"})
    assert answer.status_code == 302
    assert Custody.objects.get().condition == "whole"
