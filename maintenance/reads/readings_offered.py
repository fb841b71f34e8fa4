"""Readings that can be chosen for a value that is worked out: at which tag, of which name, when last read."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Max

from assets.compute.units import codes_for
from assets.compute.words import day_named
from assets.models import Fitting, Position, Reading, Site


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingOffered:
    """One reading of a tag; `last`: when it was read last, None for never."""

    position: Position
    what: str
    unit: str
    last: dt.datetime | None

    @property
    def value(self) -> str:
        """What a form sends."""
        return f"{self.position.pk}:{self.what}"

    @property
    def label(self) -> str:
        """What a form shows: FIT-02: Flow, m³/h, read 25 November 2026."""
        read = "never read yet" if self.last is None else f"read {day_named(self.last)}"
        return f"{self.position.tag}: {self.what}, {self.unit}, {read}"


def readings_offered(site: Site) -> list[ReadingOffered]:
    """Every reading by tag and name, in walking order; those of a machine at the tag where it is fitted now."""
    positions = {row.pk: row for row in Position.objects.at(site).standing().in_walking_order()}
    now_at = dict(
        Fitting.objects.filter(position__in=positions, to_at__isnull=True).values_list("asset_id", "position_id")
    )
    found: dict[tuple[int, str], ReadingOffered] = {}
    read = Reading.objects.standing().filter(site=site).order_by("what", "unit")
    for row in read.values("position", "asset", "what", "unit").annotate(last=Max("taken_at")):
        place = row["position"] or now_at.get(row["asset"])
        _offer(found, positions.get(place or 0), row["what"], row["unit"], row["last"].astimezone(site.zone))
    for position in positions.values():
        if position.unit:
            _offer(found, position, position.quantity, position.unit, None)
    order = {pk: n for n, pk in enumerate(positions)}
    return sorted(found.values(), key=lambda one: (order[one.position.pk], one.what))


def _offer(
    found: dict[tuple[int, str], ReadingOffered],
    position: Position | None,
    what: str,
    unit: str,
    last: dt.datetime | None,
) -> None:
    """Put one in; of one name at one tag the newest counts."""
    if position is None or not what:
        return
    key = (position.pk, what.casefold())
    before = found.get(key)
    if before is None or (last is not None and (before.last is None or last > before.last)):
        found[key] = ReadingOffered(position=position, what=what, unit=unit, last=last)


def measuring(offered: Sequence[ReadingOffered], unit: str) -> list[ReadingOffered]:
    """Those that measure the same as a unit."""
    codes = set(codes_for(unit))
    return [one for one in offered if one.unit in codes]
