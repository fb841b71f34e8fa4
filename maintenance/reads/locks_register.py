"""What the register pages show: points with what they serve, locks with where they hang, boxes with what they serve."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Prefetch

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
class Register:
    """The plant's locks and the visitors'."""

    plant: tuple[LockRow, ...]
    visitors: tuple[LockRow, ...]


@dataclass(frozen=True, slots=True)
class BoxRow:
    """A box and the open lockout it serves, if any."""

    box: LockBox
    lockout: Lockout | None


def _hanging() -> Prefetch[str]:
    on = Application.objects.on().select_related("lock", "applied_by", "lockout", "point", "box")
    return Prefetch("applications", queryset=on, to_attr="hanging")


def points(site: Site) -> list[PointRow]:
    """Standing points of a site, in three queries."""
    serves = PointOfPosition.objects.filter(to_at=None).select_related("position")
    rows = IsolationPoint.objects.filter(site=site, retired_at=None).prefetch_related(
        Prefetch("serves", queryset=serves, to_attr="serving"), _hanging()
    )
    return [
        PointRow(row, tuple(row.serving), tuple(row.hanging))  # type: ignore[attr-defined]
        for row in rows
    ]


def register(site: Site) -> Register:
    """Every lock of a site, in two queries."""
    rows = Lock.objects.filter(site=site).select_related("issued_to", "issuer").prefetch_related(_hanging())
    found = [
        LockRow(row, next(iter(row.hanging), None))  # type: ignore[attr-defined]
        for row in rows
    ]
    return Register(
        tuple(row for row in found if row.lock.issuer_id is None),
        tuple(row for row in found if row.lock.issuer_id is not None),
    )


def boxes(site: Site) -> list[BoxRow]:
    """Every box of a site, in two queries."""
    open_ones = Lockout.objects.open().select_related("position")
    rows = LockBox.objects.filter(site=site).prefetch_related(
        Prefetch("lockouts", queryset=open_ones, to_attr="serving")
    )
    return [BoxRow(row, next(iter(row.serving), None)) for row in rows]
