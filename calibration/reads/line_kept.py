"""Is the line of an instrument still the one it was? Its check standards, read through the line of an earlier check.

The line in use is that of the first good set of the newest stretch: as left after an adjustment, else the first check
as found of the instrument that is fitted now. Every later check as found is held against it (NIST e-Handbook 2.3.7).
Nothing is kept, and no verdict uses it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from calibration.compute.figures import shown
from calibration.compute.line_control import LineInUse, control
from calibration.compute.line_working import FOR_LIMITS, LineOfPoints
from calibration.compute.methods import METHODS
from calibration.compute.reporting import places_of
from calibration.models import Outcome, ReadingSet, Requirement
from calibration.reads.line import stored_line, stored_points
from calibration.reads.stored import judged_in

ALARM = 0.05
"""Chance of a false alarm of all standards of one check together: as the handbook's example."""

NEWEST = 12
"""Later checks that are listed at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """One later check against the line: its largest difference, the limit on both sides, and how many lie outside."""

    check: int
    at: dt.datetime
    standards: int
    largest: str
    limit: str
    outside: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LineKept:
    """The line in use and the checks since, oldest first."""

    check: int
    kind: str
    at: dt.datetime
    n: int
    slope: str
    offset: str
    unit: str
    checks: tuple[Held, ...]


def line_kept(requirement: Requirement) -> LineKept | None:
    """Return how the checks of a place hold to its line; None where no check since has several points."""
    stretch = _newest_stretch(_sets(requirement))
    first, line = next(((of, line) for of in stretch if (line := _usable(of)) is not None), (None, None))
    if first is None or line is None:
        return None
    later = [of for of in stretch[stretch.index(first) + 1 :] if of.kind == "as found"]
    held = tuple(one for of in later if (one := _held(line, of)) is not None)
    if not held:
        return None
    intercept, slope = line.fit.coefficients
    u = line.fit.uncertainties or (0.0, 0.0)
    return LineKept(
        check=first.check_of.number,
        kind=first.kind,
        at=first.performed_at,
        n=line.n,
        slope=shown(slope, places_of(u[1])),
        offset=shown(intercept, places_of(u[0]), plus=True),
        unit=line.unit,
        checks=held[-NEWEST:],
    )


def _sets(requirement: Requirement) -> list[ReadingSet]:
    return list(
        ReadingSet.objects.filter(check_of__requirement=requirement, check_of__replaced_by__isnull=True)
        .select_related("outcome", "check_of")
        .prefetch_related("entries", "check_of__withdrawals")
        .order_by("performed_at", "pk")
    )


def _newest_stretch(sets: Sequence[ReadingSet]) -> list[ReadingSet]:
    """Return the good sets of the instrument fitted now, from its last adjustment on.

    An adjustment ends a stretch whatever its own readings came to.
    """
    if not sets:
        return []
    mine = [of for of in sets if of.check_of.asset_id == sets[-1].check_of.asset_id]
    begin = max((place for place, of in enumerate(mine) if _adjusted(of)), default=0)
    return [of for of in mine[begin:] if _good(of)]


def _good(of: ReadingSet) -> bool:
    outcome: Outcome | None = getattr(of, "outcome", None)
    read = of.kind != "confirming" and not of.same_as_found
    return read and outcome is not None and outcome.valid and not of.check_of.withdrawals.all()


def _adjusted(of: ReadingSet) -> bool:
    return of.kind == "as left" and bool(
        {"adjusted", "both"} & {entry.text for entry in of.entries.all() if entry.quantity == "done"}
    )


def _usable(of: ReadingSet) -> LineOfPoints | None:
    """Return the line of a set that later ones can be held against: its scatter is known and its slope is not level."""
    line = stored_line(METHODS[of.check_of.method], of.outcome, judged_in(of.outcome))
    return line if line is not None and line.n >= FOR_LIMITS and line.u and line.fit.slope else None


def _held(line: LineOfPoints, of: ReadingSet) -> Held | None:
    points = stored_points(of.outcome)
    s = line.fit.residual_sd
    if len({true for true, _ in points}) < 2 or not s:
        return None
    in_use = LineInUse(intercept=line.fit.coefficients[0], slope=line.fit.slope, s=s, dof=line.fit.dof)
    found = control(in_use, points, standards=len(points), alpha=ALARM)
    places = places_of(found.limit)
    return Held(
        check=of.check_of.number,
        at=of.performed_at,
        standards=len(points),
        largest=shown(max(found.differences, key=abs), places, plus=True),
        limit=shown(found.limit, places),
        outside=len(found.out),
    )
