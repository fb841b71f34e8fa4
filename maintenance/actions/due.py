"""The only writer of due items: each act that changes a fact of a routine has its due items worked out anew here."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from django.db.models import Q

from assets.history import UPKEEP, Act, lock_site
from assets.models import Asset, Fitting, Position
from maintenance.models import Application, Occurrence, Performance, Plan, PlanTerm, TermInput
from maintenance.reads.due_facts import STORED, DueItem, Known, due_items, known_of, stored_items


def site_day(act: Act, plan: Plan) -> dt.date:
    """Return the plant's date at the moment of the act."""
    return act.at.astimezone(plan.site.zone).date()


def rewrite_due(act: Act, plan: Plan) -> Collection[DueItem]:
    """Work out the due items of a routine from its facts and store what differs; part of the act that changed them.

    Returns every due item as it is stored now.
    """
    return rewrite_all(act, [plan])[plan.pk]


def rewrite_all(act: Act, plans: Sequence[Plan]) -> dict[int, Collection[DueItem]]:
    """Do so for several routines, whose facts are read together; returns their due items by routine."""
    for site in {plan.site_id: plan.site for plan in plans}.values():
        lock_site(UPKEEP, site)
    known, stored = known_of(plans), stored_items(plans)
    return {plan.pk: _rewrite(act, plan, known[plan.pk], stored[plan.pk]) for plan in plans}


def _rewrite(act: Act, plan: Plan, known: Known, stored: Mapping[str, DueItem]) -> Collection[DueItem]:
    day = site_day(act, plan)
    wanted = due_items(known, day)
    gone = stored.keys() - wanted.keys()
    if gone:
        Occurrence.objects.filter(plan=plan, turn__in=gone).delete()
    for turn, item in wanted.items():
        if turn not in stored:
            act.add(Occurrence(plan=plan, site=plan.site, performance=_done_by(plan, item), **_columns(item)))
        elif stored[turn] != item:
            # Scratch, of which no digest is kept: it need not be read before it is written, nor after.
            row = Occurrence.objects.filter(plan=plan, turn=turn)
            row.update(performance=_done_by(plan, item), **_columns(item))
    Plan.objects.filter(pk=plan.pk).update(computed_on=day)
    plan.computed_on = day
    return wanted.values()


def still_good(plans: list[Plan], day: dt.date) -> None:
    """Note that the stored due items of these routines were worked out for `day` too and had not changed."""
    Plan.objects.filter(pk__in=[plan.pk for plan in plans], computed_on__lt=day).update(computed_on=day)


def _columns(item: DueItem) -> dict[str, Any]:
    return {name: getattr(item, name) for name in STORED}


def _done_by(plan: Plan, item: DueItem) -> Performance | None:
    return Performance.objects.get(plan=plan, key=item.by_act) if item.by_act else None


def rewrite_blocks(act: Act, position: Position) -> None:
    """Work out the due items of a position's routines anew, after a lock that stops it went on or came off."""
    rewrite_all(act, plans_of(position))


def rewrite_blocks_of(act: Act, application: Application) -> None:
    """Do so for every position that one lock stops: that of its lockout, and all that its point serves."""
    stopped = {application.lockout.position_id}
    if application.point is not None:
        stopped |= set(application.point.serves.filter(to_at__isnull=True).values_list("position_id", flat=True))
    for position in Position.objects.filter(pk__in=stopped).order_by("pk"):
        rewrite_blocks(act, position)


def owe_before_use(act: Act, fitting: Fitting) -> None:
    """After an asset was fitted: routines that follow the asset are owed by the new one before it is used.

    Routines that look at a counter are worked out anew too, those of the tag and those of every tag where the machine
    was before: it is from now on the counter of this one.
    """
    places = Fitting.objects.filter(asset=fitting.asset_id).values("position")
    follows = Q(position=fitting.position_id, follows="asset")
    inputs = TermInput.objects.filter(reads_at__in=places).values("term__plan")
    counting = PlanTerm.objects.exclude(use_every="").filter(
        Q(reads_at__in=places) | Q(reads_at=None, plan__position__in=places)
    )
    which = follows | Q(pk__in=inputs) | Q(pk__in=counting.values("plan"))
    rewrite_all(act, list(Plan.objects.standing().filter(which).select_related("site").order_by("pk")))


def plans_of(target: Position | Asset) -> list[Plan]:
    """Routines in force of a tag or of a carried asset."""
    which = {"position": target} if isinstance(target, Position) else {"asset": target}
    return list(Plan.objects.standing().filter(**which).select_related("site").order_by("pk"))
