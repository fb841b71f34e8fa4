"""What bears on a routine beside its interval: pauses, what it fulfils too, what must be so first, deferrals."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Q

from assets.compute.numbers import kept_number
from assets.compute.units import OtherQuantity, UnknownUnit, convert
from assets.models import Reading
from assets.permissions import SUPERVISORS, Desk
from maintenance.compute.schedule import READ_THE_METER, Need, State
from maintenance.models import (
    AlsoFulfils,
    Deferral,
    Lockout,
    NeedKind,
    Occurrence,
    Pause,
    Performance,
    Plan,
    Prerequisite,
)
from maintenance.reads.due_words import state_of

__all__ = ["READ_THE_METER", "Bearing", "NeedRow", "ReviewDeferrals", "bears_on", "needs_of", "review_deferrals"]


@dataclass(frozen=True, slots=True)
class NeedRow:
    """Something that must be so first, and whether it is."""

    row: Prerequisite
    need: Need


@dataclass(frozen=True, slots=True)
class Bearing:
    """What bears on one routine."""

    pauses: tuple[Pause, ...]
    fulfils: tuple[AlsoFulfils, ...]
    fulfilled_by: tuple[AlsoFulfils, ...]
    needs: tuple[NeedRow, ...]
    deferrals: tuple[Deferral, ...]
    from_tomorrow: Deferral | None


def bears_on(plan: Plan, today: dt.date) -> Bearing:
    """Return what bears on a routine now, and what has been put off."""
    standing = Q(to_day__isnull=True) | Q(to_day__gt=today)
    pauses = Pause.objects.filter(Q(plan=plan) | Q(position=plan.position_id, position__isnull=False))
    also = AlsoFulfils.objects.filter(standing)
    return Bearing(
        pauses=tuple(pauses[:10]),
        fulfils=tuple(also.filter(plan=plan).select_related("fulfils__position", "fulfils__asset")),
        fulfilled_by=tuple(also.filter(fulfils=plan).select_related("plan__position", "plan__asset")),
        needs=tuple(needs_of([plan]).get(plan.pk, ())),
        deferrals=tuple(plan.deferrals.select_related("asked_by", "decided_by")[:10]),
        from_tomorrow=put_off_from_tomorrow(plan, today),
    )


def overdue_now(plan: Plan, turn: str, today: dt.date) -> bool:
    """Whether a turn is overdue today: approved then, a deferral counts from the day after (`compute.moved`)."""
    item = Occurrence.objects.open().filter(plan=plan, turn=turn).first()
    return item is not None and state_of(item, today) is State.OVERDUE


def put_off_from_tomorrow(plan: Plan, today: dt.date) -> Deferral | None:
    """Return the deferral approved today of a turn that was overdue already and stays so today; None where none was."""
    rows = plan.deferrals.filter(approved=True, decided_on=today).select_related("decided_by").order_by("pk")
    return next((row for row in rows if overdue_now(plan, row.turn, today)), None)


def needs_of(plans: Sequence[Plan]) -> dict[int, list[NeedRow]]:
    """What must be so first, by routine, with what was found; the number of queries does not depend on theirs."""
    rows = list(
        Prerequisite.objects.filter(plan__in=[plan.pk for plan in plans], ended_at__isnull=True).select_related(
            "plan", "routine", "position"
        )
    )
    if not rows:
        return {}
    locked = _locked_out(row.plan.position_id for row in rows if row.kind == NeedKind.LOCKOUT)
    done = _last_done([row.plan_id for row in rows] + [row.routine_id or 0 for row in rows])
    read = _newest([row for row in rows if row.kind == NeedKind.READING])
    found: dict[int, list[NeedRow]] = {}
    for row in rows:
        found.setdefault(row.plan_id, []).append(NeedRow(row, _need(row, locked, done, read)))
    return found


def _locked_out(positions: Iterable[int | None]) -> set[int]:
    """Tags with an open lockout on which a lock hangs; whether it was tested stands on its own page."""
    hung = Lockout.objects.open().filter(position__in=[one for one in positions if one])
    return set(hung.filter(applications__removed_at__isnull=True).values_list("position", flat=True))


def _last_done(plans: Sequence[int]) -> dict[int, dt.datetime]:
    rows = Performance.objects.standing().filter(plan__in=plans, counts=True).order_by("performed_at")
    return dict(rows.values_list("plan", "performed_at"))


def _newest(rows: Sequence[Prerequisite]) -> dict[tuple[int, str], Reading]:
    found: dict[tuple[int, str], Reading] = {}
    places = {row.position_id for row in rows}
    for reading in Reading.objects.standing().filter(position__in=places).order_by("taken_at", "id"):
        found[reading.position_id or 0, reading.what.casefold()] = reading
    return found


def _need(
    row: Prerequisite, locked: set[int], done: dict[int, dt.datetime], read: dict[tuple[int, str], Reading]
) -> Need:
    if row.kind == NeedKind.LOCKOUT:
        return Need(met=(row.plan.position_id or 0) in locked, because=f"{row.words}: no lock of a lockout hangs there")
    if row.kind == NeedKind.ROUTINE and row.routine is not None:
        last, own = done.get(row.routine_id or 0), done.get(row.plan_id)
        met = last is not None and (own is None or last > own)
        return Need(met=met, because=f"{row.words}: {row.routine.title} was not done since")
    reading = read.get((row.position_id or 0, row.reads.casefold()))
    if reading is None:
        return Need(met=False, because=f"{row.words}: it was never read")
    return Need(met=_inside(row, reading), because=f"{row.words}: read {reading.entered} {reading.unit}")


def _inside(row: Prerequisite, reading: Reading) -> bool:
    number = kept_number(reading.entered)
    try:
        value = convert(number, reading.unit, row.unit) if number is not None else None
    except (UnknownUnit, OtherQuantity):
        return False
    low, high = kept_number(row.low), kept_number(row.high)
    return value is not None and (low is None or value >= low) and (high is None or value <= high)


@dataclass(frozen=True, slots=True)
class ReviewDeferrals:
    """Deferrals that wait for a decision."""

    waiting: tuple[Deferral, ...]
    may_decide: bool


def review_deferrals(desk: Desk) -> ReviewDeferrals:
    """What Review shows of deferrals: those asked for and not decided, the oldest first."""
    rows = Deferral.objects.filter(site=desk.site, decided_at__isnull=True)
    found = rows.select_related("plan__position", "plan__asset", "asked_by").order_by("asked_at")
    return ReviewDeferrals(tuple(found), desk.may(SUPERVISORS))
