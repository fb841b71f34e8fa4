"""A signed check as the content of a digital calibration certificate: what is stored, nothing worked out anew."""

from __future__ import annotations

import datetime as dt
import importlib.metadata
import json
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from calibration.compute import dcc
from calibration.compute.figures import plain
from calibration.compute.methods import METHODS
from calibration.models import Check, ReadingSet
from calibration.reads.sheet import sets_of

COVERAGE = "2"
"""The coverage factor under which an expanded uncertainty of a check is kept."""


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
    return "limit guarded by the expanded uncertainty (k = 2)" if guarded else "limit alone, uncertainty not considered"


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
    judged = {one["name"]: one for one in json.loads(of.outcome.judged)["values"]}
    for figure in of.outcome.figures.all():
        one = judged.pop(figure.name, None)
        yield _quantity(figure.name.replace("_", " "), figure.exact, figure.unit, one)
    for one in judged.values():
        if not isinstance(one["value"], bool):
            yield _quantity(one["what"], one["value"], one["unit"], one)


def _quantity(name: str, exact: str, unit: str, judged: Mapping[str, Any] | None) -> dcc.Quantity:
    u = judged["uncertainty"] if judged is not None else None
    return dcc.Quantity(
        name=judged["what"] if judged is not None else name,
        value=_decimal(exact),
        unit=unit,
        verdict=judged["verdict"] if judged is not None and judged["unit"] == unit else None,
        uncertainty="" if u is None else _decimal(u),
        k="" if u is None else COVERAGE,
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
