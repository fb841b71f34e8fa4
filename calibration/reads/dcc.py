"""A signed check as the content of a digital calibration certificate: what is stored, nothing worked out anew."""

from __future__ import annotations

import datetime as dt
import importlib.metadata
import json
from collections.abc import Iterator, Mapping
from fractions import Fraction

from calibration.compute import dcc
from calibration.compute.conformity import Stated, counts, stated_in
from calibration.compute.figures import plain
from calibration.compute.method import Judged, Verdict
from calibration.compute.methods import METHODS
from calibration.models import Check, ReadingSet
from calibration.reads.sheet import sets_of
from calibration.reads.stored import judged_in, lines_in

COVERAGE, PROBABILITY = "2", "0.95"
"""The coverage factor of an expanded uncertainty that a limit states alone, and what it covers."""


def certificate_of(check: Check, *, country: str, today: dt.date) -> dcc.Certificate:
    """Return what a check's certificate says. `country`: two capital letters of ISO 3166-1."""
    zone = check.site.zone
    sets = [one for one in sets_of(check) if getattr(one, "outcome", None) is not None]
    asset = check.asset
    return dcc.Certificate(
        number=f"check-{check.number}",
        country=country,
        site=check.site.name,
        place="",
        instrument=asset.kind if asset is not None else check.position_label,
        maker="",
        model=asset.model if asset is not None else "",
        serial=asset.serial if asset is not None else "",
        tag=check.position.tag,
        method=METHODS[check.method].name,
        rule=_rule(sets),
        sets=tuple(_set(one, one.performed_at.astimezone(zone).date()) for one in sets),
        signed_by=check.recorded_by.name,
        issued_on=today,
        software="Spanwell",
        release=_release(),
        replaces=f"check-{check.replaces.number}" if check.replaces is not None else "",
    )


def _release() -> str:
    try:
        return importlib.metadata.version("spanwell")
    except importlib.metadata.PackageNotFoundError:
        return "0.1.0"


def _rule(sets: list[ReadingSet]) -> str:
    guarded = any(one.outcome.term.rule == "guarded" for one in sets)
    return "limit guarded by the expanded uncertainty" if guarded else "limit alone, uncertainty not considered"


def _set(of: ReadingSet, on: dt.date) -> dcc.ResultSet:
    return dcc.ResultSet(
        kind=of.kind,
        on=on,
        quantities=tuple(_quantities(of)),
        standards=tuple(_standards(of)),
        remark=_remark(of),
    )


def _remark(of: ReadingSet) -> str:
    if not of.outcome.valid:
        return f"Not valid: {of.outcome.because}"
    return "Nothing was cleaned or adjusted: as left is as found." if of.same_as_found else ""


def _quantities(of: ReadingSet) -> Iterator[dcc.Quantity]:
    judged = {one.name: (one, verdict) for one, verdict in judged_in(of.outcome)}
    stated = stated_in(lines_in(of.outcome))
    for figure in of.outcome.figures.all():
        pair = judged.pop(figure.name, None)
        name = figure.name.replace("_", " ")
        if pair is None or pair[0].unit != figure.unit:
            what = name if pair is None else pair[0].what
            yield dcc.Quantity(name=what, value=_decimal(figure.exact), unit=figure.unit)
        else:
            yield _quantity(pair[0], pair[1], figure.exact, stated)
    for one, verdict in judged.values():
        if not isinstance(one.value, bool):
            yield _quantity(one, verdict, str(one.value), stated)


def _quantity(one: Judged, verdict: Verdict, exact: str, stated: Mapping[str, Stated]) -> dcc.Quantity:
    """Return a judged value with its U: the one that the rule counts, else that of its budget, rounded up as shown."""
    budget = counts(one, stated.get(one.what))
    expanded = budget.expanded if budget is not None and one.uncertainty is None else ""
    if one.uncertainty is not None:
        expanded = _decimal(str(one.uncertainty))
    return dcc.Quantity(
        name=one.what,
        value=_decimal(exact),
        unit=one.unit,
        verdict=verdict,
        uncertainty=expanded,
        k=(budget.k if budget is not None else COVERAGE) if expanded else "",
        probability=budget.probability if budget is not None else PROBABILITY,
    )


def _decimal(exact: str) -> str:
    """Write an exact number as a decimal of at most twelve places: the schema knows no ratios."""
    return plain(Fraction(exact), most=12).replace("\u2212", "-")


def _standards(of: ReadingSet) -> Iterator[dcc.UsedStandard]:
    for point in of.points.all():
        if point.lot_copy:
            kept = json.loads(point.lot_copy)
            name = f"{kept.get('kind') or 'buffer'} {kept['nominal']}".strip()
            yield dcc.UsedStandard(name=name, number=kept["label"], certificate=kept.get("certificate") or "")
