"""What one job does at a point that another job uses too is written into the log of the other, and voids there."""

from __future__ import annotations

from collections.abc import Collection

from maintenance.actions.lockout.opening import LockAct
from maintenance.compute.lockout import Story
from maintenance.models import Application, LockoutLine


class Sharing:
    """The other open lockouts at points of one lockout."""

    @staticmethod
    def release(opened: LockAct, points: Collection[int], *, why: str) -> None:
        """Tell each other open lockout without a lock of its own at a point that the point is not as recorded."""
        lines = LockoutLine.objects.filter(point__in=points, lockout__closed_at=None).exclude(lockout=opened.lockout)
        held = set(Application.objects.on().filter(point__in=points).values_list("lockout_id", "point_id"))
        for line in lines.select_related("lockout__position", "point").order_by("lockout_id", "number"):
            if (line.lockout_id, line.point_id) not in held:
                line.lockout.refresh_from_db(fields=["next_number"])
                other = LockAct(opened.act, line.lockout, opened.by)
                other.note("point released", line=line, text=why)
                other.write("lockout.point_released", point=str(line.point), why=why)

    @staticmethod
    def run_at(story: Story, point_id: int | None) -> int | None:
        """Number of another lockout whose test run keeps a point energized, or None."""
        return next((number for point, number in story.runs_elsewhere if point == point_id), None)
