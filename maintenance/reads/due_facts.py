"""The facts behind due items, read from their tables for the one formula, and the due items it gives."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from zoneinfo import ZoneInfo

from django.db.models import Q

from assets.compute.words import day_named
from assets.models import Fitting
from maintenance.compute import schedule
from maintenance.models import Application, Occurrence, Performance, Plan, PlanTerm, PointOfPosition
from maintenance.models.occurrences import SAID, SEEN
from maintenance.reads.stretch_facts import (
    also_of,
    deferrals_of,
    off_blocks,
    pauses_of,
    runs_of,
    stale_days_of,
    term_of,
)
from maintenance.reads.use_facts import looked_at

# Due items are stored so far ahead that a fortnight without the nightly task loses no day of a daily routine. A daily
# routine then has 14 open rows, which an act that moves them all (a lock on its tag) rewrites one by one: not more.
AHEAD = dt.timedelta(days=14)


@dataclass(frozen=True, slots=True)
class Known:
    """All that is known about one routine."""

    facts: schedule.Facts
    blocks: tuple[schedule.Block, ...]
    deferrals: tuple[schedule.Deferral, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DueItem:
    """The columns of one due item as the formula gives them."""

    turn: str
    raw: dt.date
    due: dt.date
    earliest: dt.date
    latest: dt.date
    blocked_from: dt.date | None
    missed_from: dt.date | None
    deferred_until: dt.date | None
    day_due: dt.date | None
    use_next: str
    use_now: str
    why: str
    because: str
    ended: str
    ended_on: dt.date | None
    by_act: str


BY_TERMS = "by the terms until"
STORED = tuple(f.name for f in fields(DueItem) if f.name != "by_act")


def due_items(known: Known, day: dt.date) -> dict[str, DueItem]:
    """Due items of one routine as they stand on `day`, by turn."""
    turns = schedule.turns(known.facts, day, until=day + AHEAD)
    return {turn.key: _item(turn, known, day) for turn in turns}


def _item(turn: schedule.Turn, known: Known, day: dt.date) -> DueItem:
    deferrals = tuple(one for one in known.deferrals if one.turn == turn.key)
    row = schedule.stored_turn(turn, known.blocks, day, deferrals)
    return DueItem(
        turn=row.key,
        raw=row.raw,
        due=min(row.due, row.use_due or schedule.NEVER),
        earliest=min(row.earliest, row.use_earliest or schedule.NEVER, row.due, row.use_due or schedule.NEVER),
        latest=min(row.latest, row.use_latest or schedule.NEVER),
        blocked_from=row.blocked_from,
        missed_from=row.missed_from,
        deferred_until=row.deferred_until,
        day_due=row.due if turn.use is not None else None,
        use_next=_total(turn.use.next_at, turn.use.unit) if turn.use is not None else _good(turn)[:SAID],
        use_now=_total(turn.use.now, turn.use.unit) if turn.use is not None else turn.seen[:SEEN],
        why=turn.why,
        because=schedule.state(turn, day, known.blocks, deferrals).because[:200],
        ended=row.ended.value,
        ended_on=row.ended_on,
        by_act=turn.by_act,
    )


def _good(turn: schedule.Turn) -> str:
    """What was good by the limits under which a condition raised a turn, and until when these held."""
    if not turn.good or turn.good_until is None:
        return turn.good
    return f"{turn.good} {BY_TERMS} {day_named(turn.good_until)}"


def _total(value: Fraction | None, unit: str) -> str:
    """A total as it is stored for show, to three digits behind the mark; "" for none. The formula never reads it."""
    return "" if value is None else f"{f'{float(value):.3f}'.rstrip('0').rstrip('.')} {unit}"


def known_of(plans: Sequence[Plan]) -> dict[int, Known]:
    """Facts and blocks of routines, by routine; the number of queries does not depend on theirs."""
    ids = [plan.pk for plan in plans]
    terms: dict[int, list[PlanTerm]] = defaultdict(list)
    acts: dict[int, list[schedule.Act]] = defaultdict(list)
    for term in PlanTerm.objects.filter(plan__in=ids).order_by("id"):
        terms[term.plan_id].append(term)
    also = also_of(ids)
    counts_for = defaultdict(set)
    for plan_id, declared in also.items():
        for one in declared:
            counts_for[int(one.routine)].add(plan_id)
    for plan_id, act in _acts([*ids, *counts_for]):
        acts[plan_id].append(act)
        for other in counts_for[plan_id]:
            acts[other].append(replace(act, routine=str(plan_id)))
    fittings = _fittings(plans)
    blocks = blocks_at({plan.position_id: plan.site.zone for plan in plans if plan.position_id})
    runs, pauses = runs_of(plans, terms), pauses_of(plans)
    looked, deferrals, stale = looked_at(plans, terms), deferrals_of(ids), stale_days_of(plans)
    return {
        plan.pk: Known(
            facts=schedule.Facts(
                start=plan.activated_on,
                terms=tuple(term_of(term) for term in terms[plan.pk]),
                acts=tuple(acts[plan.pk]),
                fittings=tuple(fittings[plan.pk]),
                follows_asset=plan.follows == "asset",
                retired=_retirement(plan),
                runs=tuple(runs[plan.pk]),
                pauses=tuple(pauses[plan.pk]),
                also=tuple(also[plan.pk]),
                metered=looked[plan.pk].metered if plan.pk in looked else (),
                values=looked[plan.pk].values if plan.pk in looked else (),
                stale_days=stale[plan.site_id],
            ),
            # The lock of the routine's own job stops nobody from doing it.
            blocks=(
                *(b.block for b in blocks[plan.position_id or 0] if b.own_plan != plan.pk),
                *off_blocks(plan, terms[plan.pk], runs[plan.pk]),
            ),
            deferrals=tuple(deferrals[plan.pk]),
        )
        for plan in plans
    }


def _acts(plans: list[int]) -> Iterator[tuple[int, schedule.Act]]:
    """Yield the work on routines; as plain columns, for a routine of each day has hundreds of them."""
    columns = ("key", "performed_on", "performed_at", "recorded_at", "counts", "because")
    rows = Performance.objects.filter(plan__in=plans).order_by("id")
    for plan, asset, replaces, key, day, at, recorded, counts, because in rows.values_list(
        "plan", "asset", "replaces__key", *columns
    ):
        yield (
            plan,
            schedule.Act(
                key=key,
                day=day,
                performed_at=at,
                recorded_at=recorded,
                counts=counts,
                because=because,
                asset=str(asset or ""),
                replaces=replaces or "",
            ),
        )


def _fittings(plans: Sequence[Plan]) -> dict[int, list[schedule.Fitting]]:
    following = {plan.position_id: plan for plan in plans if plan.follows == "asset"}
    at_position = defaultdict(list)
    for fitting in Fitting.objects.filter(position__in=following).order_by("from_at", "id"):
        zone = following[fitting.position_id].site.zone
        at_position[fitting.position_id].append(
            schedule.Fitting(
                key=str(fitting.pk),
                asset=str(fitting.asset_id),
                from_day=fitting.from_at.astimezone(zone).date(),
                from_at=fitting.from_at,
                recorded_at=fitting.recorded_at,
            )
        )
    return {plan.pk: at_position[plan.position_id or 0] if plan.follows == "asset" else [] for plan in plans}


def _retirement(plan: Plan) -> schedule.Retirement | None:
    if plan.retired_at is None or plan.retired_on is None:
        return None
    return schedule.Retirement(day=plan.retired_on, recorded_at=plan.retired_at, because=plan.retired_because)


@dataclass(frozen=True, slots=True)
class PositionBlock:
    """A stretch in which a lock stops a position, and the routine whose own job the lock belongs to."""

    block: schedule.Block
    own_plan: int | None


def blocks_at(zones: dict[int, ZoneInfo]) -> dict[int, list[PositionBlock]]:
    """Blocks of positions, each with the zone its days are counted in: a lock of anyone on a point or in a lockout.

    A lock on a point stops every position that the point serves while it hangs there.
    """
    served = defaultdict(list)
    for use in PointOfPosition.objects.filter(position__in=zones).order_by("id"):
        served[use.point_id].append(use)
    found: dict[int, list[PositionBlock]] = defaultdict(list)
    locks = Application.objects.filter(Q(lockout__position__in=zones) | Q(point__in=served))
    for lock in locks.select_related("lockout__order").order_by("id"):
        if lock.lockout.position_id in zones:
            found[lock.lockout.position_id].append(_block(lock, zones[lock.lockout.position_id]))
        for use in served[lock.point_id or 0]:
            if use.position_id != lock.lockout.position_id and _overlap(lock, use):
                found[use.position_id].append(_block(lock, zones[use.position_id], use))
    return found


def _overlap(lock: Application, use: PointOfPosition) -> bool:
    begun_in_time = use.to_at is None or lock.applied_at < use.to_at
    return begun_in_time and (lock.removed_at is None or use.from_at < lock.removed_at)


def _block(lock: Application, zone: ZoneInfo, use: PointOfPosition | None = None) -> PositionBlock:
    begins = max(lock.applied_at, use.from_at) if use else lock.applied_at
    ends = min((end for end in (lock.removed_at, use.to_at if use else None) if end), default=None)
    order = lock.lockout.order
    block = schedule.Block(
        from_day=begins.astimezone(zone).date(),
        to_day=ends.astimezone(zone).date() if ends else None,
        because=f"locked, {lock.lockout}",
        recorded_at=lock.recorded_at,
        to_recorded_at=lock.removed_recorded_at,
    )
    return PositionBlock(block, order.plan_id if order else None)


def stored_items(plans: Iterable[Plan]) -> dict[int, dict[str, DueItem]]:
    """Due items as they are stored, by routine and turn."""
    found: dict[int, dict[str, DueItem]] = defaultdict(dict)
    rows = Occurrence.objects.filter(plan__in=[plan.pk for plan in plans]).order_by("id")
    for plan_id, by_act, *columns in rows.values_list("plan", "performance__key", *STORED):
        item = DueItem(**dict(zip(STORED, columns, strict=True)), by_act=by_act or "")
        found[plan_id][item.turn] = item
    return found
