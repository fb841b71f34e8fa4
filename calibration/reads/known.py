"""What the record knows about a place and its standards on a day, made ready for a method."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from fractions import Fraction

from assets.models import Position, Site
from calibration.compute.method import Band, Known
from calibration.models import Lot, Requirement, RequirementTerm, StandardKind
from calibration.reads.standards import exact, lot_in_use, table_of_kind

HOLDS_UP = ("paces", "permits", "trips")
"""Uses of a signal that move something while its probe is in a buffer."""


def term_in_force(requirement: Requirement, day: dt.date) -> RequirementTerm | None:
    """Return the limits that count on a day: the newest recorded of those that begin on or before it."""
    terms = [term for term in requirement.terms.all() if term.from_day <= day]
    return max(terms, key=lambda term: (term.from_day, term.pk), default=None)


def bands_of(term: RequirementTerm) -> dict[str, Band]:
    """Return the limits of a term by name; the uncertainty counts only under the guarded rule, for limits in pH."""
    guard = exact(term.uncertainty) if term.rule == "guarded" else None
    return {
        name: Band(
            low=exact(limit["low"]),
            high=exact(limit["high"]),
            unit=limit["unit"],
            source=limit["source"],
            tag=limit["tag"],
            uncertainty=guard if limit["unit"] == "pH" else None,
            uncertainty_source=term.uncertainty_source if guard is not None and limit["unit"] == "pH" else "",
        )
        for name, limit in json.loads(term.limits).items()
    }


def settings_of(term: RequirementTerm, site: Site) -> dict[str, str]:
    """Return the settings of a place as the method reads them, and the mark that typed numbers were read with."""
    working = exact(term.working_value)
    return {
        "decimal_mark": site.decimal_mark,
        "slope_sign": "positive" if term.slope_sign == "rising" else "negative",
        "working_ph": "" if working is None else str(working),
        "points": "2",
    }


def uses_of(position: Position) -> tuple[str, ...]:
    """Return what a signal moves: 'paces P-41'."""
    uses = position.uses.now().select_related("target")
    return tuple(f"{use.use} {use.on}" for use in uses if use.use in HOLDS_UP)


def known_for(
    requirement: Requirement, term: RequirementTerm, *, site: Site, day: dt.date, last: Mapping[str, Fraction]
) -> Known:
    """Return what is known about a requirement's place, at its site, on a day; `last` are figures of earlier sets."""
    kinds = {kind.pk: kind for kind in StandardKind.objects.prefetch_related("tables")}
    lots = list(Lot.objects.at(site).prefetch_related("facts"))
    for lot in lots:
        lot.kind = kinds[lot.kind_id]  # one copy of each kind, with its tables
    in_use = [lot_in_use(lot) for lot in lots]
    tables = [table_of_kind(kind) for kind in kinds.values()]
    return Known(
        day=day,
        standards={lot.id: lot for lot in in_use if lot is not None},
        tables={table.code: table for table in tables if table is not None},
        limits=bands_of(term),
        settings=settings_of(term, site),
        last=dict(last),
        uses=uses_of(requirement.position),
    )
