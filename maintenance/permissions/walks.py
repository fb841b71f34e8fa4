"""Who gets at which round, check point, walk and part of the water balance."""

from __future__ import annotations

from assets.permissions import Desk, found
from maintenance.models import BalancePart, CheckPoint, PointLine, Round, StopAnswer, StrappingTable, Walk, WalkStop


def round_for(desk: Desk, pk: int) -> Round:
    """A round of the asking person's site."""
    return found(Round.objects.at(desk.site).select_related("site", "plan"), pk=pk)


def point_for(desk: Desk, pk: int) -> CheckPoint:
    """A check point of the asking person's site that is still asked."""
    rows = CheckPoint.objects.standing().filter(round__site=desk.site)
    return found(rows.select_related("round__site", "position"), pk=pk)


def line_for(desk: Desk, pk: int) -> PointLine:
    """Something asked at a check point of the asking person's site, and not ended."""
    rows = PointLine.objects.filter(point__round__site=desk.site, ended_at__isnull=True)
    return found(rows.select_related("point__round__site", "point__position", "position", "twin"), pk=pk)


def walk_for(desk: Desk, number: int) -> Walk:
    """A walk of the asking person's site, by its number."""
    rows = Walk.objects.at(desk.site).select_related("site", "round__plan__site", "begun_by", "ended_by")
    return found(rows, number=number)


def stop_for(desk: Desk, walk: Walk, point: int) -> WalkStop:
    """A check point of a walk, by its number."""
    stop = found(WalkStop.objects.filter(walk=walk).select_related("point__round", "position"), number=point)
    stop.walk = walk
    return stop


def second_for(desk: Desk, pk: int) -> StopAnswer:
    """An answer that came second at the asking person's site."""
    rows = StopAnswer.objects.filter(stop__walk__site=desk.site, beside__isnull=False)
    return found(rows.select_related("stop__walk__site", "stop__walk__round", "written_by"), pk=pk)


def part_for(desk: Desk, pk: int) -> BalancePart:
    """A part of the water balance of the asking person's site that has not ended."""
    rows = BalancePart.objects.filter(site=desk.site, ended_at__isnull=True)
    return found(rows.select_related("site", "position"), pk=pk)


def strapping_for(desk: Desk, pk: int) -> StrappingTable:
    """A strapping table of the asking person's site; a row that ended one has no page."""
    rows = StrappingTable.objects.filter(position__site=desk.site).exclude(rows="")
    return found(rows.select_related("position__site", "recorded_by"), pk=pk)
