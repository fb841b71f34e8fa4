"""The plant in the order it is walked."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Prefetch

from assets.compute.label_codes import spaced
from assets.models import Area, Fitting, MattersFor, Position
from assets.permissions import Desk
from assets.queries import PositionQuerySet

FILTERS = {
    "all": "All",
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


@dataclass(frozen=True, slots=True)
class PlantPage:
    """The plant, or a part of it, area by area."""

    which: str
    title: str
    areas: tuple[PlantArea, ...]
    count: int
    is_new: bool


def plant_page(desk: Desk, which: str = "all") -> PlantPage:
    """Return the plant by area in walking order; an unknown filter shows everything."""
    which = which if which in FILTERS else "all"
    fitted = Prefetch("fittings", Fitting.objects.now().select_related("asset"), to_attr="fitted")
    rows = [
        PlantRow(position, position.fitted[0] if position.fitted else None)  # type: ignore[attr-defined]
        for position in _chosen(Position.objects.at(desk.site), which).in_walking_order().prefetch_related(fitted)
    ]
    if which == "empty":
        rows = [row for row in rows if row.fitting is None]
    areas: dict[Area, list[PlantRow]] = {}
    if which == "all":
        areas = {area: [] for area in Area.objects.at(desk.site).standing()}
    for row in rows:
        areas.setdefault(row.position.area, []).append(row)
    grouped = tuple(PlantArea(area, tuple(found)) for area, found in areas.items())
    return PlantPage(which, FILTERS[which], grouped, len(rows), not rows and which == "all")


def _chosen(positions: PositionQuerySet, which: str) -> PositionQuerySet:
    if which == "retired":
        return positions.filter(retired_at__isnull=False)
    standing = positions.filter(retired_at__isnull=True)
    if which in {"measures", "moves"}:
        return standing.filter(does=which)
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


def labels(desk: Desk, *, tags: frozenset[int] | None = None) -> tuple[Label, ...]:
    """Return the labels of every standing place, or of those whose keys are given, in walking order."""
    positions = Position.objects.at(desk.site).standing().in_walking_order()
    if tags is not None:
        positions = positions.filter(pk__in=tags)
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
