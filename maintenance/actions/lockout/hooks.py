"""What the plant may not do while a lock is on: its takers in the lists of the app below, and the same as triggers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from assets import hooks
from assets.errors import Reason, Refusal
from assets.history import LOCKOUT, lock_site
from assets.models import Asset, Fitting, Person, Position, Site
from maintenance.models import Application, Lockout
from maintenance.models.lock_guards import PLANT_GUARDS
from maintenance.reads.locks_story import locks_of_anyone


def keep_while_locked(thing: Position | Asset | Person, moment: dt.datetime) -> None:
    """Refuse to retire a position or the asset at it while a lock of anyone stops it, or a person with a lock on."""
    if isinstance(thing, Person):
        # A person may lock at several sites; one order for all of them, so that no two acts wait for each other.
        for site in Site.objects.filter(memberships__person=thing).distinct().order_by("pk"):
            lock_site(LOCKOUT, site)
        on = Application.objects.on().of(thing).select_related("lock", "lockout__position")
        _refuse(Reason(f"Lock {a.lock.number} of {thing.name} is on, at {a.lockout.position.tag}.") for a in on)
        return
    lock_site(LOCKOUT, thing.site)
    for position in _positions_of(thing):
        locks = locks_of_anyone(position)
        _refuse(Reason(f"Lock {f.lock} of {f.owner} is on at {position.tag}; it comes off first.") for f in locks)
    if isinstance(thing, Position):
        running = Lockout.objects.open().filter(position=thing)
        _refuse(Reason(f"Lockout {lockout.number} of {thing.tag} is open; close it first.") for lockout in running)


def _positions_of(thing: Position | Asset) -> list[Position]:
    if isinstance(thing, Position):
        return [thing]
    return [f.position for f in Fitting.objects.now().filter(asset=thing).select_related("position")]


def _refuse(reasons: Iterable[Reason]) -> None:
    found = list(reasons)
    if found:
        raise Refusal(found)


def lock_rules() -> None:
    """Put the lock rules into the lists of the plant, and into the triggers of its tables."""
    hooks.before_retire.append(keep_while_locked)
    for model in (Position, Asset, Person):
        guard = PLANT_GUARDS[model.__name__]
        model.guards = (*getattr(model, "guards", ()), guard)  # type: ignore[union-attr]
