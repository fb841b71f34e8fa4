"""Isolation points, and which positions each serves."""

from __future__ import annotations

from collections.abc import Iterable

from assets.errors import Refusal
from assets.models import Person, Position, Site
from assets.permissions import SUPERVISORS, must_have_role
from maintenance.actions import due
from maintenance.actions.lockout.opening import LockAct
from maintenance.compute.lockout_stamps import normal
from maintenance.models import IsolationPoint, LockBox, PointOfPosition


def register_point(
    *,
    site: Site,
    name: str,
    what: str,
    kind: str,
    energy: str,
    plate_code: str,
    positions: Iterable[Position],
    by: Person,
) -> IsolationPoint:
    """Register a place where energy is cut off, and every position it serves; the plate code is shown nowhere again."""
    must_have_role(by, site, SUPERVISORS, to="register an isolation point")
    served = list(positions)
    if not served:
        raise Refusal("Choose at least one tag that this point serves.", field="positions")
    code = normal(plate_code)
    if LockBox.objects.filter(site=site, plate_code=code).exists():
        raise Refusal("A lock box of this site has this plate code; a code belongs to one place.", field="plate_code")
    with LockAct.on_site(site, by) as act:
        point = act.add(IsolationPoint(site=site, name=name, what=what, kind=kind, energy=energy, plate_code=code))
        for position in served:
            _must_be_here(site, position)
            act.add(PointOfPosition(point=point, position=position, from_at=act.at, from_by=by))
        act.write("point.registered", subject=point, facts={"tags": [p.tag for p in served], "kind": kind})
    return point


def serve_position(*, point: IsolationPoint, position: Position, by: Person) -> PointOfPosition:
    """Say that a point serves one more position; its locks stop that one too from now on."""
    must_have_role(by, point.site, SUPERVISORS, to="change what a point serves")
    _must_be_here(point.site, position)
    with LockAct.on_site(point.site, by) as act:
        row = act.add(PointOfPosition(point=point, position=position, from_at=act.at, from_by=by))
        act.write("point.serves", subject=point, facts={"tag": position.tag})
        due.rewrite_blocks(act, position)
    return row


def end_service(*, service: PointOfPosition, by: Person) -> PointOfPosition:
    """Say that a point no longer serves a position; refused by the row while a lock is on the point."""
    site = service.point.site
    must_have_role(by, site, SUPERVISORS, to="change what a point serves")
    with LockAct.on_site(site, by) as act:
        act.close(service, to_at=act.at, to_by=by)
        act.write("point.parted", subject=service.point, facts={"tag": service.position.tag})
        due.rewrite_blocks(act, service.position)
    return service


def retire_point(*, point: IsolationPoint, by: Person) -> IsolationPoint:
    """Retire a point that is gone from the plant; refused by the row while a lock is on it."""
    must_have_role(by, point.site, SUPERVISORS, to="retire an isolation point")
    with LockAct.on_site(point.site, by) as act:
        if point.applications.filter(removed_at__isnull=True).exists():
            raise Refusal(f"A lock is on {point}; it cannot be retired.")
        act.change(point, expect={"retired_at": None}, retired_at=act.at)
        for service in point.serves.filter(to_at__isnull=True):
            act.close(service, to_at=act.at, to_by=by)
        act.write("point.retired", subject=point)
    return point


def _must_be_here(site: Site, position: Position) -> None:
    if position.site_id != site.pk:
        raise Refusal(f"{position.tag} belongs to another site.", field="positions")
