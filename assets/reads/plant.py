"""The plant in the order it is walked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

from django.db.models import Exists, OuterRef, Prefetch, Q

from assets.compute.label_codes import spaced
from assets.models import Area, Fitting, MattersFor, Position
from assets.permissions import Desk
from assets.queries import PositionQuerySet

FILTERS = {
    "": "All",
    "measures": "That measure",
    "moves": "That move or are worked on",
    "reported": "Compliance points",
    "empty": "Nothing fitted",
    "retired": "Retired",
    **{f"matters-{value}": f"Matter for {label.lower()}" for value, label in MattersFor.choices},
}


@dataclass(frozen=True, slots=True)
class PlantRow:
    """One tagged place and what is fitted there."""

    position: Position
    fitting: Fitting | None

    @property
    def machine(self) -> bool:
        """Whether its plate is black."""
        return not self.position.measures


@dataclass(frozen=True, slots=True)
class PlantArea:
    """One area and its places in walking order."""

    area: Area
    rows: tuple[PlantRow, ...]


COLUMNS = (
    "area",
    "tag",
    "service",
    "does",
    "fitted",
    "quantity",
    "unit",
    "matters for",
    "reported",
    "label",
    "retired",
)


def plant_of(desk: Desk, which: str, area: str, found: Q) -> PositionQuerySet:
    """Return the places of a filter (a word of FILTERS, the key of an area or '', a condition) in walking order."""
    rows = _chosen(Position.objects.at(desk.site), which).filter(found)
    if area:
        rows = rows.filter(area=int(area))
    now = Prefetch("fittings", Fitting.objects.now().select_related("asset"), to_attr="fitted")
    return rows.in_walking_order().prefetch_related(now)


def has_tags(desk: Desk) -> bool:
    """Return whether any tag stands at the site: without one, all that can be done is to begin."""
    return Position.objects.at(desk.site).standing().exists()


@dataclass(frozen=True, slots=True)
class Areas:
    """The areas that stand: as the words of a filter, and those without a tag."""

    words: Mapping[str, str]
    empty: tuple[Area, ...]


def areas_of(desk: Desk) -> Areas:
    """Return the areas of the site; one question."""
    tags = Position.objects.standing().filter(area=OuterRef("pk"))
    rows = list(Area.objects.at(desk.site).standing().annotate(has_tags=Exists(tags)))
    words = {"": "Everywhere", **{str(area.pk): area.name for area in rows}}
    return Areas(words, tuple(area for area in rows if not area.has_tags))  # type: ignore[attr-defined]


def by_area(rows: Iterable[Position], empty: Iterable[Area] = ()) -> tuple[PlantArea, ...]:
    """Return places of `plant_of` under their areas; `empty` ones last."""
    areas = tuple(
        PlantArea(area, tuple(PlantRow(one, _fitting(one)) for one in found))
        for area, found in groupby(rows, key=lambda one: one.area)
    )
    return (*areas, *(PlantArea(area, ()) for area in empty))


def _fitting(position: Position) -> Fitting | None:
    return position.fitted[0] if position.fitted else None  # type: ignore[attr-defined]


def plant_cells(rows: Iterable[Position]) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for places of `plant_of`."""
    for one in rows:
        fitting = _fitting(one)
        yield (
            *(one.area.name, one.tag, one.service, one.get_does_display(), str(fitting.asset) if fitting else ""),
            *(one.quantity or "", one.unit, one.get_matters_for_display(), "yes" if one.compliance_point else ""),
            *(spaced(one.label_code), one.retired_at.date().isoformat() if one.retired_at else ""),
        )


def _chosen(positions: PositionQuerySet, which: str) -> PositionQuerySet:
    if which == "retired":
        return positions.filter(retired_at__isnull=False)
    standing = positions.filter(retired_at__isnull=True)
    if which in {"measures", "moves"}:
        return standing.filter(does=which)
    if which == "empty":
        return standing.exclude(pk__in=Fitting.objects.now().values("position"))
    if which == "reported":
        return standing.filter(compliance_point=True)
    if which.startswith("matters-"):
        return standing.filter(matters_for=which.removeprefix("matters-"))
    return standing


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one printed label; `address` is what its QR code holds."""

    tag: str
    service: str
    machine: bool
    code: str
    address: str


def label_tags(desk: Desk, *, tags: frozenset[int] | None = None) -> PositionQuerySet:
    """Return every standing place, or those whose keys are given, in walking order."""
    positions = Position.objects.at(desk.site).standing().in_walking_order()
    return positions if tags is None else positions.filter(pk__in=tags)


def labels(desk: Desk, positions: Iterable[Position]) -> tuple[Label, ...]:
    """Return the labels of places."""
    return tuple(
        Label(
            tag=position.tag,
            service=position.service,
            machine=not position.measures,
            code=spaced(position.label_code),
            # Capitals only: a QR code holds them in its denser alphanumeric mode.
            address=f"{desk.site.address}/T/{position.label_code}".upper(),
        )
        for position in positions
    )
