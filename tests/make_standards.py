"""The lowest valid lots of other families, instruments as standards and checks made with them."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils import timezone

from assets import history
from assets.compute.canonical import digest
from assets.models import Asset, Person, Position, Site
from assets.proofs import sign
from calibration.actions.certificates import CertificateTyped, take_in_certificate
from calibration.actions.lots import LotTyped, register_lot
from calibration.actions.standards_instruments import UseTyped, serve_as_standard
from calibration.actions.standards_kinds import KindTyped, add_kind
from calibration.models import Certificate, Check, Lot, Outcome, Point, ReadingSet, RequirementTerm, StandardKind
from calibration.reads.certificates import INTAKE
from tests.make import make_asset, proof_of
from tests.make_checks import Bench

ALL_YES = dict.fromkeys(INTAKE, "yes")


def day_at(site: Site, back: int = 0) -> dt.date:
    """A site day so many days ago."""
    return timezone.now().astimezone(site.zone).date() - dt.timedelta(days=back)


def make_kind(*, site: Site, by: Person, family: str = "turbidity standard", **other: str) -> StandardKind:
    """A kind of its own for a family, in NTU unless told otherwise."""
    given = {"name": f"Some {family}", "quantity": "turbidity", "unit": "NTU"} | other
    return add_kind(site=site, kind=KindTyped(family=family, **given), by=by)


def make_lot_of(*, kind: StandardKind, site: Site, by: Person, number: str, value: str, **other: Any) -> Lot:
    """A lot of any kind, received a hundred days ago and in date."""
    given = {"received_on": day_at(site, 100), "expires_on": day_at(site, -200)} | other
    return register_lot(site=site, lot=LotTyped(kind=kind, number=number, label_value=value, **given), by=by)


def make_instrument(*, site: Site, by: Person, family: str = "bench meter", unit: str = "NTU") -> Asset:
    """An instrument that serves as a standard and has no certificate yet."""
    asset = make_asset(site=site, kind=family)
    serve_as_standard(asset=asset, use=UseTyped(family=family, unit=unit), by=by)
    return asset


def typed_certificate(site: Site, **other: Any) -> CertificateTyped:
    """A certificate as it reads, every question answered yes."""
    given: dict[str, Any] = {
        "number": "K-2201",
        "issuer": "County bench",
        "calibrated_on": day_at(site, 30),
        "until": day_at(site, -335),
        "unit": "NTU",
        "asked": ALL_YES,
    }
    return CertificateTyped(**(given | other))


def make_certificate(*, asset: Asset, by: Person, **other: Any) -> Certificate:
    """A certificate of an instrument, accepted."""
    read = typed_certificate(asset.site, **other)
    return take_in_certificate(asset=asset, read=read, accepted=True, because="", by=by)


def make_check_with(
    bench: Bench,
    *,
    back: int,
    position: Position | None = None,
    asset: Asset | None = None,
    lot: Lot | None = None,
    reference: Asset | None = None,
    verdict: str = "pass",
) -> Check:
    """A signed check of so many days ago with one standard, as the tables keep it: as found, which passes or fails."""
    at = timezone.now() - dt.timedelta(days=back)
    by = bench.operator
    newest = Check.objects.filter(site=bench.site).order_by("-number").values_list("number", flat=True).first() or 0
    with history.act(site=bench.site, by=by) as act:
        where = position or bench.position
        check = act.add(
            Check(
                site=bench.site,
                number=newest + 1,
                requirement=bench.requirement,
                position=where,
                position_label=where.tag,
                asset=asset,
                asset_label=str(asset or ""),
                method="ph",
                begun_at=at,
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        signature = sign(
            act, site=bench.site, person=by, proof=proof_of(by), meaning="as found", digest=digest({"made": "up"})
        )
        of = act.add(
            ReadingSet(
                check_of=check,
                kind="as found",
                performed_at=at,
                recorded_at=act.at,
                recorded_by=by,
                signature=signature,
            )
        )
        act.add(Point(set=of, number=1, role="point", lot=lot, reference=reference, lot_copy="{}"))
        act.add(_outcome(of, bench.requirement.terms.get(), verdict))
        act.write("check.signed", subject=check)
    return check


def _outcome(of: ReadingSet, term: RequirementTerm, verdict: str) -> Outcome:
    return Outcome(
        set=of,
        valid=True,
        verdict=verdict,
        term=term,
        known="{}",
        judged='{"values":[]}',
        working="[]",
        advice="[]",
        method_version="1",
        libraries="none",
    )
