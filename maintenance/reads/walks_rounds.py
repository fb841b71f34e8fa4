"""A round as a supervisor keeps it: its check points in walking order and what each asks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch

from assets.permissions import SUPERVISORS, Desk
from maintenance.compute.walk import days_said
from maintenance.models import CheckPoint, LineKind, PointLine, Round
from maintenance.queries import CheckPointQuerySet


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedLine:
    """One thing asked, in words."""

    line: PointLine
    tag: str
    kind: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundPoint:
    """One check point with what it asks."""

    point: CheckPoint
    number: int
    lines: tuple[AskedLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundPage:
    """A round with its check points."""

    round: Round
    days: str
    points: tuple[RoundPoint, ...]
    may_keep: bool


def round_page(desk: Desk, row: Round) -> RoundPage:
    """Return what the page of a round shows; the same number of queries for few and many check points."""
    return _round_page(desk, row, tuple(_with_lines(row.points.standing())))


def rounds_list(desk: Desk) -> tuple[RoundPage, ...]:
    """Return every round that is walked, with its check points; the same number of queries for few and many."""
    points = Prefetch("points", queryset=_with_lines(CheckPoint.objects.standing()), to_attr="walked")
    rows = Round.objects.at(desk.site).standing().select_related("plan").prefetch_related(points)
    return tuple(_round_page(desk, row, row.walked) for row in rows)  # type: ignore[attr-defined]


def _with_lines(points: CheckPointQuerySet) -> CheckPointQuerySet:
    lines = PointLine.objects.filter(ended_at__isnull=True).select_related("position", "twin")
    return points.select_related("position").prefetch_related(Prefetch("lines", queryset=lines, to_attr="asked"))


def _round_page(desk: Desk, row: Round, points: Iterable[CheckPoint]) -> RoundPage:
    return RoundPage(
        round=row,
        days=days_said(row.days),
        points=tuple(
            RoundPoint(point=point, number=number, lines=tuple(_line(one) for one in point.asked))  # type: ignore[attr-defined]
            for number, point in enumerate(points, 1)
        ),
        may_keep=desk.may(SUPERVISORS) and row.retired_at is None,
    )


def _line(line: PointLine) -> AskedLine:
    said = [
        f"{line.unit}, read at {line.get_face_display()}" if line.is_number and line.kind != LineKind.DRAWDOWN else "",
        f"at least {line.low}" if line.low else "",
        f"at most {line.high}" if line.high else "",
        f"begins anew at {line.modulus}" if line.modulus else "",
        f"shares its running with {line.twin.tag}" if line.twin is not None else "",
        "stands still where all is well" if line.constant else "",
        line.hint,
    ]
    return AskedLine(
        line=line,
        tag=line.position.tag if line.position is not None else "",
        kind=LineKind(line.kind).label.partition(":")[0],
        says="; ".join(one for one in said if one),
    )
