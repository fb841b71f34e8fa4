"""The page of an instrument as a standard: what it serves for, its certificates, where it is, what is offered."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from assets.models import Asset, FitForUse
from calibration.models import Certificate, Custody, Lot, Recall, StandardUse
from calibration.reads.certificates import Asked, asked_of
from calibration.reads.custody import away_now
from calibration.reads.instruments import InstrumentRow, instruments_at, key_of_asset, row_of
from calibration.reads.lots import Relied, relied_in
from calibration.reads.recall import Offer, PreviewRow, done_again, recall_offer

NEWEST = 20


@dataclass(frozen=True, slots=True)
class CertificateView:
    """A certificate with what was asked of it and its corrections."""

    row: Certificate
    asked: tuple[Asked, ...]
    corrections: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class InstrumentPage:
    """One instrument as a standard."""

    asset: Asset
    use: StandardUse | None
    row: InstrumentRow | None
    ended: tuple[StandardUse, ...]
    certificates: tuple[CertificateView, ...]
    fitness: tuple[FitForUse, ...]
    away: Custody | None
    absences: tuple[Custody, ...]
    relied: tuple[Relied, ...]
    recalls: tuple[Recall, ...]
    offer: Offer | None


def instrument_page(asset: Asset, day: dt.date) -> InstrumentPage:
    """Return an instrument for its page as a standard."""
    uses = list(StandardUse.objects.filter(asset=asset).select_related("asset"))
    use = next((one for one in uses if one.ended_at is None), None)
    standard = instruments_at(asset.site, day, assets=[asset.pk]).get(key_of_asset(asset.pk))
    certificates = Certificate.objects.filter(asset=asset).select_related("recorded_by").prefetch_related("corrections")
    return InstrumentPage(
        asset=asset,
        use=use,
        row=row_of(use, standard, day) if use is not None and standard is not None else None,
        ended=tuple(one for one in uses if one.ended_at is not None),
        certificates=tuple(_certificate(row) for row in certificates[:NEWEST]),
        fitness=tuple(FitForUse.objects.filter(asset=asset).select_related("recorded_by")[:NEWEST]),
        away=away_now(asset),
        absences=tuple(Custody.objects.filter(asset=asset).select_related("recorded_by", "loaner", "back_by")[:NEWEST]),
        relied=relied_in(asset.points.all()),
        recalls=tuple(asset.recalls.all()),
        offer=recall_offer(asset),
    )


def _certificate(row: Certificate) -> CertificateView:
    corrections: Sequence[tuple[str, str]] = [(one.shown, one.correction) for one in row.corrections.all()]
    return CertificateView(row, asked_of(row), tuple(corrections))


@dataclass(frozen=True, slots=True)
class RecallView:
    """A withdrawal with every check it reached."""

    recall: Recall
    called: str
    url: str
    rows: tuple[PreviewRow, ...]


def recall_view(recall: Recall) -> RecallView:
    """Return a withdrawal for its page, its checks by tag, then number."""
    withdrawals = list(recall.withdrawals.select_related("check_of__position"))
    again = done_again([one.check_of for one in withdrawals])
    rows = (
        PreviewRow(
            tag=one.check_of.position.tag,
            code=one.check_of.position.label_code,
            number=one.check_of.number,
            at=one.check_of.begun_at,
            through=one.through,
            url=one.check_of.get_absolute_url(),
            before=False,
            again=again.get(one.check_of_id),
        )
        for one in withdrawals
    )
    standard: Lot | StandardUse | None = recall.lot
    if recall.lot is None and recall.asset is not None:
        standard = StandardUse(asset=recall.asset)
    url = standard.get_absolute_url() if standard is not None else ""
    return RecallView(
        recall, str(recall.lot or recall.asset), url, tuple(sorted(rows, key=lambda row: (row.tag, row.number)))
    )
