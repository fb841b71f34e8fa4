"""What the record knows about a place and its standards on a day, made ready for a method."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Collection, Mapping
from fractions import Fraction

from assets.compute.numbers import kept_number
from assets.models import Asset, Position, Site
from calibration.compute.method import AnyMethod, Band, Known
from calibration.compute.methods import METHODS
from calibration.compute.temperature_tables import TemperatureTable as Table
from calibration.models import ReadingSet, Requirement, RequirementTerm, StandardKind
from calibration.reads.instruments import key_of_asset
from calibration.reads.standards import standards_at, table_of_kind
from maintenance.models import Override, OverrideKind

HOLDS_UP = ("paces", "permits", "trips")
"""Uses of a signal that move something while its probe is in a buffer."""


def term_in_force(requirement: Requirement, day: dt.date) -> RequirementTerm | None:
    """Return the limits that count on a day: the newest recorded of those that begin on or before it."""
    terms = [term for term in requirement.terms.all() if term.from_day <= day]
    return max(terms, key=lambda term: (term.from_day, term.pk), default=None)


def bands_of(term: RequirementTerm) -> dict[str, Band]:
    """Return the limits of a term by name; a limit left open is the one the method works out itself.

    The stated uncertainty counts only under the guarded rule, for limits in the unit of the method's headline.
    """
    guard = kept_number(term.uncertainty) if term.rule == "guarded" else None
    unit = headline_unit(METHODS[term.requirement.method])
    return {
        name: Band(
            low=kept_number(limit["low"]),
            high=kept_number(limit["high"]),
            unit=limit["unit"],
            source=limit["source"],
            tag=limit["tag"],
            uncertainty=guard if limit["unit"] == unit else None,
            uncertainty_source=term.uncertainty_source if guard is not None and limit["unit"] == unit else "",
        )
        for name, limit in json.loads(term.limits).items()
        if limit["low"].strip() or limit["high"].strip()
    }


def headline_unit(method: AnyMethod) -> str:
    """Return the unit of the limit that a method's headline is judged by."""
    named = {limit.name: limit.unit for limit in method.limits}
    return named.get(method.headline, method.limits[0].unit)


def settings_of(term: RequirementTerm, site: Site) -> dict[str, str]:
    """Return the settings of a place as the method reads them, and the mark that typed numbers were read with."""
    working = kept_number(term.working_value)
    return {
        **{name: text.replace(",", ".") for name, text in json.loads(term.settings or "{}").items()},
        "decimal_mark": site.decimal_mark,
        "slope_sign": "positive" if term.slope_sign == "rising" else "negative",
        "working_ph": "" if working is None else str(working),
        "points": "2",
    }


def uses_of(position: Position) -> tuple[str, ...]:
    """Return what a signal moves: 'paces P-41'."""
    uses = position.uses.now().select_related("target")
    return tuple(f"{use.use} {use.on}" for use in uses if use.use in HOLDS_UP)


def forced_at(position: Position, moment: dt.datetime) -> tuple[str, ...]:
    """Return the values forced at a moment at a tag, or at one whose signal acts on it: 'flow on the HMI: 40 m³/h'."""
    rows = Override.objects.touching(position).in_force_at(moment).filter(kind=OverrideKind.FORCED)
    return tuple(f"{row.what}: {row.value} {row.unit}" for row in rows.order_by("number"))


def known_for(
    requirement: Requirement,
    term: RequirementTerm,
    *,
    day: dt.date,
    last: Mapping[str, Fraction],
    keys: Collection[str] = (),
    asset: Asset | None = None,
    at: dt.datetime | None = None,
) -> Known:
    """Return what is known about a requirement's place on a day.

    `last` are figures of earlier sets; `keys` the standards already chosen; `asset` what is fitted there; `at` the
    moment of the reading, for what was forced then.
    """
    method = METHODS[requirement.method]
    site = requirement.site
    kinds = {kind for ask in method.asks for kind in ask.of}
    unit_key = key_of_asset(asset.pk) if asset is not None else ""
    return Known(
        day=day,
        standards=standards_at(site, day, kinds=kinds, keys=keys, unit_key=unit_key),
        tables=_tables(kinds),
        limits=bands_of(term),
        settings={**settings_of(term, site), **_last_primary(requirement, kinds, asset, day)},
        last=dict(last),
        uses=uses_of(requirement.position),
        forced=forced_at(requirement.position, at) if at is not None else (),
        unit_key=unit_key,
        unit_label=str(asset) if asset is not None else "",
        guarded=term.rule == "guarded" and not term.uncertainty.strip(),
    )


def _last_primary(
    requirement: Requirement, kinds: Collection[str], asset: Asset | None, day: dt.date
) -> dict[str, str]:
    """Return the day on which this instrument was last adjusted in a primary standard, where blocks hang on it.

    A block's value was given after one primary calibration; it is worth nothing after the next.
    """
    if asset is None or "turbidity block" not in kinds:
        return {}
    zone = requirement.site.zone
    adjusted = (
        ReadingSet.objects.filter(kind="as left", same_as_found=False, outcome__valid=True)
        .filter(check_of__asset=asset, check_of__method=requirement.method, check_of__replaced_by__isnull=True)
        .filter(performed_at__lt=dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), tzinfo=zone))
        .filter(entries__quantity="way", entries__text="primary")
        .filter(entries__quantity="done", entries__text__in=("adjusted", "both"))
    )
    at = adjusted.order_by("-performed_at").values_list("performed_at", flat=True).first()
    return {} if at is None else {"last_primary": at.astimezone(zone).date().isoformat()}


def _tables(kinds: Collection[str]) -> dict[str, Table]:
    """Return the tables that a standard of these kinds could be mistaken for: only buffers are told apart by them."""
    if "buffer" not in kinds:
        return {}
    tables = (
        table_of_kind(kind) for kind in StandardKind.objects.prefetch_related("tables") if kind.of_family == "buffer"
    )
    return {table.code: table for table in tables if table is not None}
