"""The list of routines: those in force or retired, of a kind, in an area, and their cells in a file."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

from django.db.models import F, Q

from assets.models import Area, Site
from maintenance.models import Plan
from maintenance.models.routines import PlanKind
from maintenance.queries import PlanQuerySet
from maintenance.reads.routines import CARRIED, RoutineRow

SHOWN = {"": "In force", "retired": "Retired"}
NO_AREA = "carried"
ROUTINE_COLUMNS = (
    *("area", "tag", "what", "kind", "interval", "matters for", "state", "next due", "because", "last done"),
)


@dataclass(frozen=True, slots=True)
class RoutineArea:
    """Routines of one area."""

    name: str
    rows: tuple[RoutineRow, ...]


def list_words(site: Site) -> dict[str, dict[str, str]]:
    """Return the filters of the list, each with its values in words."""
    areas = {str(area.pk): area.name for area in Area.objects.at(site).standing()}
    return {
        "show": SHOWN,
        "kind": {"": "Any kind", **{str(kind): str(kind.label) for kind in PlanKind}},
        "area": {"": "Everywhere", **areas, NO_AREA: CARRIED},
    }


def listed_routines(site: Site, which: Mapping[str, str], found: Q) -> PlanQuerySet:
    """Return the routines that a filter asks for, in walking order, those of no tag last."""
    plans = Plan.objects.at(site).filter(found)
    plans = plans.filter(retired_at__isnull=False) if which["show"] else plans.standing()
    if which["kind"]:
        plans = plans.filter(kind=which["kind"])
    if which["area"]:
        area = which["area"]
        plans = plans.filter(position__isnull=True) if area == NO_AREA else plans.filter(position__area=int(area))
    ordered = plans.order_by(
        F("position__area__walk_order").asc(nulls_last=True),
        *("position__area__name", "position__walk_order", "position__tag", "title", "pk"),
    )
    return ordered.select_related("position__area", "asset")


def by_area(rows: Iterable[RoutineRow]) -> tuple[RoutineArea, ...]:
    """Return rows of the list under their areas."""
    return tuple(RoutineArea(name, tuple(group)) for name, group in groupby(rows, key=lambda row: row.area))


def routine_cells(rows: Iterable[RoutineRow]) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for rows of the list."""
    for row in rows:
        yield (
            *(row.area, row.tag, row.title, row.kind, row.interval, row.matters),
            *(row.state.word if row.state else "", row.due.isoformat() if row.due else "", row.why),
            row.last.done_on.isoformat() if row.last.done_on else "",
        )
