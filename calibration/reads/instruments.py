"""Instruments that carry a value, as standards: what each is fit for on a day, and what its certificate adds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.numbers import kept_number
from assets.models import FitForUse, Site
from calibration.compute.figures import plain
from calibration.compute.standards import Standard, why_unfit
from calibration.models import Certificate, Custody, StandardUse
from calibration.reads.words import State

ASSET = "asset-"
NO_CERTIFICATE = "no certificate of it has been accepted"


def key_of_asset(pk: int) -> str:
    """Return the key under which a method knows an instrument."""
    return f"{ASSET}{pk}"


def asset_id_of(key: str) -> int | None:
    """Return the id of the instrument a key names; None for the key of a lot."""
    number = key.removeprefix(ASSET)
    return int(number) if key.startswith(ASSET) and number.isdecimal() else None


def instruments_at(
    site: Site, day: dt.date, *, families: Collection[str] = (), assets: Collection[int] = ()
) -> dict[str, Standard]:
    """Return the instruments that serve as standards of some families, and those asked for, by key. Five queries."""
    uses = StandardUse.objects.filter(asset__site=site).select_related("asset").order_by("pk")
    chosen: dict[int, StandardUse] = {}
    for use in uses:
        may_be_chosen = use.ended_at is None and use.asset.retired_at is None and use.family in families
        if use.asset_id in assets or may_be_chosen:
            chosen[use.asset_id] = use
    fitness: dict[int, FitForUse] = {}
    for row in FitForUse.objects.filter(asset__in=list(chosen)).order_by("recorded_at", "pk"):
        fitness[row.asset_id] = row
    certificates: dict[int, Certificate] = {}
    accepted = Certificate.objects.filter(asset__in=list(chosen), accepted=True).prefetch_related("corrections")
    for certificate in accepted.order_by("recorded_at", "pk"):
        certificates[certificate.asset_id] = certificate
    away = {row.asset_id: row for row in Custody.objects.filter(asset__in=list(chosen), back_on=None)}
    return {
        key_of_asset(pk): _standard(use, day, fitness.get(pk), certificates.get(pk), away.get(pk))
        for pk, use in chosen.items()
    }


def _standard(
    use: StandardUse, day: dt.date, fitness: FitForUse | None, certificate: Certificate | None, away: Custody | None
) -> Standard:
    text = certificate.value if certificate is not None else ""
    return Standard(
        id=key_of_asset(use.asset_id),
        label=str(use.asset),
        nominal=kept_number(text) or Fraction(0),
        nominal_text=text,
        kind=use.family,
        unit=use.unit,
        expires=fitness.until if fitness is not None and fitness.fit else None,
        uncertainty=kept_number(certificate.uncertainty) if certificate is not None else None,
        k=kept_number(certificate.coverage) if certificate is not None else None,
        is_lot=False,
        unfit=_unfit(use, day, fitness, away),
        certificate=f"{certificate.number}, {certificate.issuer}" if certificate is not None else "",
        corrections=_corrections(certificate),
    )


def _unfit(use: StandardUse, day: dt.date, fitness: FitForUse | None, away: Custody | None) -> str:
    if use.asset.retired_at is not None:
        return "it is retired"
    if use.ended_at is not None:
        return f"it serves as a standard no more: {use.ended_because}"
    if away is not None and away.sent_on <= day:
        return f"it is away at {away.sent_to}"
    if fitness is None:
        return NO_CERTIFICATE
    return "" if fitness.fit else fitness.why


def _corrections(certificate: Certificate | None) -> tuple[tuple[Fraction, Fraction], ...]:
    if certificate is None:
        return ()
    return tuple(
        (kept_number(row.shown) or Fraction(0), kept_number(row.correction) or Fraction(0))
        for row in certificate.corrections.all()
    )


@dataclass(frozen=True, slots=True)
class InstrumentRow:
    """One instrument of the list of standards."""

    name: str
    model: str
    family: str
    unit: str
    until: dt.date | None
    certificate: str
    uncertainty: str
    state: State
    why: str
    url: str


def instrument_state(standard: Standard, day: dt.date) -> State:
    """Return whether an instrument may be used as a standard on a day, in a word."""
    if standard.unfit.startswith("it is away"):
        return State("Away", "blocked", "bad")
    if standard.unfit == NO_CERTIFICATE:
        return State("No certificate", "noroutine", "bad")
    if standard.unfit:
        return State("Not to be used", "blocked", "bad")
    if standard.expires is not None and standard.expires < day:
        return State("Out of date", "missed", "bad")
    return State("In date", "yes", "good")


def row_of(use: StandardUse, standard: Standard, day: dt.date) -> InstrumentRow:
    """Return an instrument as a row."""
    u = ""
    if standard.uncertainty is not None and standard.k is not None:
        u = f"± {plain(standard.uncertainty)} {standard.unit} (k = {plain(standard.k)})"
    return InstrumentRow(
        name=str(use.asset),
        model=use.asset.model,
        family=use.family,
        unit=use.unit,
        until=standard.expires,
        certificate=standard.certificate,
        uncertainty=u,
        state=instrument_state(standard, day),
        why=" ".join(why_unfit(standard, day)),
        url=use.get_absolute_url(),
    )


def instrument_rows(site: Site, day: dt.date) -> tuple[InstrumentRow, ...]:
    """Return the instruments that serve as standards at a site."""
    uses = StandardUse.objects.filter(asset__site=site, ended_at=None).select_related("asset")
    found = instruments_at(site, day, assets=[use.asset_id for use in uses])
    return tuple(row_of(use, found[key_of_asset(use.asset_id)], day) for use in uses)
