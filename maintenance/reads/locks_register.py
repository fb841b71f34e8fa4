"""What the register pages show: points with what they serve, locks with where they hang, boxes with what they serve."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import F, Prefetch, Q, QuerySet

from assets.models import Site
from maintenance.models import Application, IsolationPoint, Lock, LockBox, Lockout, PointOfPosition


@dataclass(frozen=True, slots=True)
class PointRow:
    """A point, what it serves now, and the locks on it."""

    point: IsolationPoint
    serves: tuple[PointOfPosition, ...]
    on: tuple[Application, ...]


@dataclass(frozen=True, slots=True)
class LockRow:
    """A lock and where it hangs now, if it does."""

    lock: Lock
    on: Application | None


@dataclass(frozen=True, slots=True)
class BoxRow:
    """A box and the open lockout it serves, if any."""

    box: LockBox
    lockout: Lockout | None


def _hanging() -> Prefetch[str]:
    on = Application.objects.on().select_related("lock", "applied_by", "lockout", "point", "box")
    return Prefetch("applications", queryset=on, to_attr="hanging")


POINTS_SHOWN = {"": "All", "on": "With a lock on", "free": "Without a lock", "retired": "Gone from the plant"}
POINT_COLUMNS = ("point", "kind", "what it is", "cuts off", "serves", "locks on", "plate code")


def points(site: Site, shown: str, kind: str, find: str) -> QuerySet[IsolationPoint]:
    """Points of a site that a filter asks for, by name, with what they serve and the locks on them."""
    serves = PointOfPosition.objects.filter(to_at=None).select_related("position").order_by("position__tag")
    rows = IsolationPoint.objects.filter(site=site, retired_at__isnull=shown != "retired")
    if find:
        at_tag = Q(pk__in=serves.filter(position__tag__icontains=find).values("point"))
        rows = rows.filter(at_tag | Q(name__icontains=find) | Q(what__icontains=find) | Q(energy__icontains=find))
    if kind:
        rows = rows.filter(kind=kind)
    if shown in {"on", "free"}:
        on = Q(pk__in=Application.objects.on().filter(point__isnull=False).values("point"))
        rows = rows.filter(on if shown == "on" else ~on)
    return rows.order_by("name", "pk").prefetch_related(
        Prefetch("serves", queryset=serves, to_attr="serving"), _hanging()
    )


def point_rows(rows: Iterable[IsolationPoint]) -> tuple[PointRow, ...]:
    """Rows to show for points."""
    return tuple(
        PointRow(row, tuple(row.serving), tuple(row.hanging))  # type: ignore[attr-defined]
        for row in rows
    )


def point_cells(rows: Iterable[IsolationPoint]) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for points."""
    for row in point_rows(rows):
        yield (
            *(row.point.name, row.point.get_kind_display(), row.point.what, row.point.energy),
            *(_joined(one.position.tag for one in row.serves), _joined(_said(one) for one in row.on)),
            row.point.plate_code,
        )


LOCKS_SHOWN = {
    "": "All",
    "plant": "The plant’s",
    "visitors": "Visitors’",
    "on": "On now",
    "off": "Not on",
    "lost": "Lost",
}
LOCK_COLUMNS = ("lock", "of", "issued to", "on", "since", "lockout", "lost")


def locks(site: Site, shown: str, found: Q) -> QuerySet[Lock]:
    """Locks of a site that a filter asks for: the plant's first, then the visitors', by number."""
    on = Q(pk__in=Application.objects.on().values("lock"))
    chosen = {
        "plant": Q(issuer__isnull=True),
        "visitors": Q(issuer__isnull=False),
        "on": on,
        "off": ~on & Q(lost_at__isnull=True),
        "lost": Q(lost_at__isnull=False),
    }
    rows = Lock.objects.filter(chosen.get(shown, Q()), found, site=site)
    plant_first = F("issuer__name").asc(nulls_first=True)
    return rows.order_by(plant_first, "number", "pk").select_related("issued_to", "issuer").prefetch_related(_hanging())


def lock_rows(rows: Iterable[Lock]) -> tuple[LockRow, ...]:
    """Rows to show for locks."""
    return tuple(LockRow(row, next(iter(row.hanging), None)) for row in rows)  # type: ignore[attr-defined]


def lock_cells(rows: Iterable[Lock], zone: dt.tzinfo) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for locks; the stamp stands on no page and in no file."""
    for row in lock_rows(rows):
        lock, on = row.lock, row.on
        yield (
            *(lock.number, lock.issuer.name if lock.issuer else "the plant", lock.issued_to.name),
            *(str(on.point or on.box) if on else "", _iso(on.applied_at, zone) if on else ""),
            *(str(on.lockout.number) if on else "", _iso(lock.lost_at, zone) if lock.lost_at else ""),
        )


BOXES_SHOWN = {"": "All", "used": "In use", "free": "Free"}
BOX_COLUMNS = ("box", "plate code", "state", "tag", "lockout")


def boxes(site: Site, shown: str, found: Q) -> QuerySet[LockBox]:
    """Boxes of a site that a filter asks for, by name, with the open lockout that each serves."""
    open_ones = Lockout.objects.open().select_related("position")
    used = Q(pk__in=Lockout.objects.open().filter(box__isnull=False).values("box"))
    rows = LockBox.objects.filter({"used": used, "free": ~used}.get(shown, Q()), found, site=site)
    return rows.order_by("name", "pk").prefetch_related(Prefetch("lockouts", queryset=open_ones, to_attr="serving"))


def box_rows(rows: Iterable[LockBox]) -> tuple[BoxRow, ...]:
    """Rows to show for boxes."""
    return tuple(BoxRow(row, next(iter(row.serving), None)) for row in rows)  # type: ignore[attr-defined]


def box_cells(rows: Iterable[LockBox]) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for boxes."""
    for row in box_rows(rows):
        used = row.lockout
        tag, number = (used.position.tag, str(used.number)) if used else ("", "")
        yield row.box.name, row.box.plate_code, "in use" if used else "free", tag, number


def _said(on: Application) -> str:
    return f"lock {on.lock.number} of {on.applied_by.name}, lockout {on.lockout.number}"


def _joined(words: Iterable[str]) -> str:
    return "; ".join(words)


def _iso(at: dt.datetime, zone: dt.tzinfo) -> str:
    return at.astimezone(zone).strftime("%Y-%m-%d %H:%M")
