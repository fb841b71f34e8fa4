"""A round as a supervisor keeps it: its check points in walking order and what each asks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Prefetch, Q, QuerySet

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


SHOWN = {"": "Walked", "retired": "Not walked any more"}
COLUMNS = ("round", "days", "asked from", "check point", "name", "tag", "asks", "what", "how")


def listed_rounds(desk: Desk, shown: str, found: Q) -> QuerySet[Round]:
    """Return the rounds that are walked, or that no longer are, with their check points."""
    points = Prefetch("points", queryset=_with_lines(CheckPoint.objects.standing()), to_attr="walked")
    rows = Round.objects.at(desk.site).filter(found, retired_at__isnull=not shown)
    return rows.select_related("plan").prefetch_related(points)


def round_rows(desk: Desk, rounds: Iterable[Round]) -> tuple[RoundPage, ...]:
    """Return rounds of `listed_rounds` as rows; the same number of queries for few and many."""
    return tuple(_round_page(desk, row, row.walked) for row in rounds)  # type: ignore[attr-defined]


def round_cells(desk: Desk, rounds: Iterable[Round]) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for rounds of `listed_rounds`: a row a line asked, and one where nothing is."""
    for page in round_rows(desk, rounds):
        head = (page.round.name, page.days, str(page.round.asked_from))
        yield from ((*head, *("",) * 6) for _ in range(not page.points))
        for one in page.points:
            place = (str(one.number), one.point.name, one.point.position.tag if one.point.position else "")
            yield from ((*head, *place, "", "", "") for _ in range(not one.lines))
            for line in one.lines:
                yield *head, *place, line.tag, line.kind, line.says


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
