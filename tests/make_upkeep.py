"""Routines, work done and work orders for tests, made by the actions."""

from __future__ import annotations

import datetime as dt
import itertools

from django.utils import timezone

from assets.models import Asset, Person, Position, Role
from maintenance.actions.handover import hand_over
from maintenance.actions.orders import raise_work_order
from maintenance.actions.overrides import OverrideTyped, ask_override
from maintenance.actions.overrides_time import ask_extension
from maintenance.actions.performances import record_performance
from maintenance.actions.routines import Interval, Work, register_routine
from maintenance.models import Handover, Occurrence, Override, OverrideExtension, Performance, Plan, WorkOrder
from tests.make import make_person, proof_of

NUMBERS = itertools.count(1)


def floating(every: int = 30, unit: str = "day", **other: object) -> Interval:
    """An interval counted from the last time."""
    return Interval(mode="floating", every=every, unit=unit, source="common practice", **other)  # type: ignore[arg-type]


def fixed(anchor: dt.date, every: int = 1, unit: str = "month", **other: object) -> Interval:
    """An interval on fixed dates."""
    return Interval(mode="fixed", every=every, unit=unit, anchor=anchor, source="common practice", **other)  # type: ignore[arg-type]


def make_plan(
    target: Position | Asset,
    *,
    by: Person | None = None,
    interval: Interval | None = None,
    kind: str = "inspect",
    title: str = "Look at the drip",
    follows: str = "position",
    from_day: dt.date | None = None,
) -> Plan:
    """A routine of a tag or asset; `by` is made when it is not given."""
    return register_routine(
        site=target.site,
        target=target,
        work=Work(kind=kind, title=title, follows=follows),
        interval=interval or floating(),
        by=by or make_person(site=target.site, role=Role.SUPERVISOR),
        activated_on=from_day,
    )


def make_done(
    plan: Plan,
    performed_at: dt.datetime,
    *,
    by: Person,
    because: str = "",
    key: str = "",
    asset: Asset | None = None,
    replaces: Performance | None = None,
) -> Performance:
    """Work on a routine; `because` says why it does not count."""
    return record_performance(
        plan=plan,
        key=key or f"test-{next(NUMBERS)}",
        performed_at=performed_at,
        counts=not because,
        because=because,
        asset=asset,
        source_label="record of a test",
        source_path="",
        by=by,
        replaces=replaces,
    )


def make_order(position: Position, *, by: Person, **other: object) -> WorkOrder:
    """A raised work order."""
    return raise_work_order(
        site=position.site,
        position=position,
        title="Replace the packing",
        reason="Drips more than the floor drain takes.",
        by=by,
        **other,  # type: ignore[arg-type]
    )


def open_item(plan: Plan) -> Occurrence:
    """The earliest open due item of a routine."""
    return Occurrence.objects.open().filter(plan=plan).order_by("due", "id")[0]


def override_typed(**other: object) -> OverrideTyped:
    """The lowest valid forced value, put on a minute ago, for six hours from now."""
    now = timezone.now()
    facts: dict[str, object] = {
        "kind": "forced value",
        "what": "pH on the HMI",
        "way": "HMI",
        "value": "7.4",
        "unit": "pH",
        "basis": "bench reading of 08:00",
        "reason": "the probe is cracked",
        "measures": "bench reading twice a shift",
        "limit_at": now + dt.timedelta(hours=6),
        "on_since": now - dt.timedelta(minutes=1),
        "cannot_wait": "the dose would run away",
    }
    return OverrideTyped(**{**facts, **other})  # type: ignore[arg-type]


def make_override(position: Position, *, by: Person, **other: object) -> Override:
    """A forced value in force at a tag, asked for and put on by a person."""
    return ask_override(position=position, typed=override_typed(**other), by=by)


def make_extension(override: Override, *, by: Person, hours: int = 2) -> OverrideExtension:
    """More time asked for."""
    to_at = override.limit_at + dt.timedelta(hours=hours)
    return ask_extension(override=override, to_at=to_at, reason="the new probe comes tomorrow", by=by)


def make_handover(*, by: Person, hours: int = 8, words: str = "P-61 drips more than yesterday") -> Handover:
    """A shift of so many hours handed over now."""
    site = by.memberships.get().site
    start = timezone.now() - dt.timedelta(hours=hours)
    return hand_over(site=site, shift_from=start, words=words, proof=proof_of(by), by=by)
