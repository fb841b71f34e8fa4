"""Where a forced value, hold, bypass or shelved alarm stands, when it must be looked at, and how long it may last.

Time alarms; it never takes anything off.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from fractions import Fraction

from assets.compute.site_rules import InForce

ORDER = ("safety", "compliance", "production", "other")
"""What something matters for, most serious first."""


class State(StrEnum):
    """Where it stands, in the words of the screen."""

    ASKED = "asked for"
    REFUSED = "refused"
    UNAPPROVED = "in force, not yet approved"
    IN_FORCE = "in force"
    OVER = "over its time limit"
    REMOVED = "taken off, not yet seen to work"
    ENDED = "ended"


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What is known of one; instants are aware. `looked_at` is the last look against independent evidence."""

    begun_at: datetime | None
    limit_at: datetime
    needs_approval: bool
    approved_at: datetime | None = None
    refused_at: datetime | None = None
    removed_at: datetime | None = None
    restored_at: datetime | None = None
    looked_at: datetime | None = None


def state_of(facts: Facts, now: datetime) -> State:
    """Return where it stands; being over its limit outweighs a missing approval, and changes nothing else."""
    if facts.refused_at is not None and facts.begun_at is None:
        return State.REFUSED
    if facts.restored_at is not None:
        return State.ENDED
    if facts.removed_at is not None:
        return State.REMOVED
    if facts.begun_at is None:
        return State.ASKED
    if now > facts.limit_at:
        return State.OVER
    if facts.needs_approval and facts.approved_at is None:
        return State.UNAPPROVED
    return State.IN_FORCE


def next_look(facts: Facts, rules: InForce) -> datetime | None:
    """Return by when it must be held against independent evidence; None while it is not in force."""
    if facts.begun_at is None or facts.removed_at is not None:
        return None
    return (facts.looked_at or facts.begun_at) + _hours(rules.hours("look_hours"))


def longest(matters_for: str, rules: InForce) -> timedelta:
    """Return for how long it may be put on, or extended from now, by what it matters for."""
    name = matters_for if matters_for in {"safety", "compliance"} else "other"
    return _hours(rules.hours(f"override_hours_{name}"))


def needs_approval(matters_for: str, rules: InForce) -> bool:
    """Tell whether another person approves it, by what it matters for. Raises ValueError for an unknown word."""
    return ORDER.index(matters_for) <= ORDER.index(rules.text("approver_from"))


def _hours(hours: Fraction) -> timedelta:
    return timedelta(seconds=float(hours * 3600))
