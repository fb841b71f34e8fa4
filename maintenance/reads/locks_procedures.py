"""The energy procedure of a position: which revision is in force, and all of them for its page."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q

from assets.models import Position
from maintenance.models import IsolationPoint, ProcedureDecision, ProcedureLine, ProcedureVersion


def version_in_force(position: Position) -> ProcedureVersion | None:
    """The newest approved revision of a position's procedure; None when that one is withdrawn as unsafe.

    An older revision does not come back by itself: it was replaced for a reason.
    """
    decided = ProcedureDecision.objects.filter(version=OuterRef("pk"))
    rows = ProcedureVersion.objects.filter(Exists(decided.filter(kind="approved")), procedure__position=position)
    version = rows.select_related("written_for", "procedure__position").order_by("-revision").first()
    if version is None or version.decisions.filter(kind="withdrawn").exists():
        return None
    return version


@dataclass(frozen=True, slots=True)
class Revision:
    """One revision with what was decided on it; `running` numbers the open lockouts under it."""

    version: ProcedureVersion
    lines: tuple[ProcedureLine, ...]
    approved: ProcedureDecision | None
    withdrawn: ProcedureDecision | None
    in_force: bool
    running: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class ProcedurePage:
    """The procedure of a position, newest revision first, and the points that serve the position."""

    position: Position
    revisions: tuple[Revision, ...]
    points: tuple[IsolationPoint, ...]

    @property
    def in_force(self) -> Revision | None:
        """The revision a lockout would begin under."""
        return next((r for r in self.revisions if r.in_force), None)


def procedure_page(position: Position) -> ProcedurePage:
    """Read a position's procedure with its revisions, in a number of queries that does not grow with them."""
    rows = (
        ProcedureVersion.objects.filter(procedure__position=position)
        .select_related("written_by", "written_for", "procedure__position")
        .prefetch_related("lines__point", "decisions__by", "lockouts")
    )
    force = version_in_force(position)
    revisions = tuple(_revision(version, in_force=version == force) for version in rows)
    points = IsolationPoint.objects.filter(
        Q(serves__position=position, serves__to_at__isnull=True), retired_at__isnull=True
    )
    return ProcedurePage(position, revisions, tuple(points))


def _revision(version: ProcedureVersion, *, in_force: bool) -> Revision:
    decided = {decision.kind: decision for decision in version.decisions.all()}
    running = tuple(sorted(o.number for o in version.lockouts.all() if o.closed_at is None))
    return Revision(
        version=version,
        lines=tuple(version.lines.all()),
        approved=decided.get("approved"),
        withdrawn=decided.get("withdrawn"),
        in_force=in_force,
        running=running,
    )
