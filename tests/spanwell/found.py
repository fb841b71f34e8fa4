"""What stands in the demo plant, put together for its tests: bottles on the shelf, counters, questions of the walks."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from itertools import pairwise

from assets.models import Position, Reading
from calibration.models import Check, Lot
from calibration.reads.standards import lot_in_use
from maintenance.compute.walk import as_answered
from maintenance.models import WalkEntry


def good_bottles_beside(check: Check, today: dt.date) -> set[str]:
    """Values of the lots, other than those a check used, that are open, in date and not set aside."""
    used = set(check.sets.get().points.values_list("lot", flat=True))
    others = [in_use for lot in Lot.objects.exclude(pk__in=used) if (in_use := lot_in_use(lot)) is not None]
    return {
        lot.nominal_text
        for lot in others
        if not lot.quarantined
        and lot.discarded is None
        and lot.expires is not None
        and lot.expires >= today
        and lot.opened is not None
        and lot.opened_until is not None
        and lot.opened_until >= today
    }


def counted(position: Position, what: str) -> list[tuple[Fraction, Fraction]]:
    """Hours gone and what a counter counted in them, from each reading to the next."""
    rows = Reading.objects.standing().filter(position=position, what=what).order_by("taken_at")
    numbers = [(row.taken_at, Fraction(row.entered)) for row in rows]
    return [
        (Fraction(int((then - at).total_seconds()), 3600), number - before)
        for (at, before), (then, number) in pairwise(numbers)
    ]


def asked_and_answered() -> list[tuple[str, str]]:
    """Every question that was put on a walk, with its answer."""
    entries = WalkEntry.objects.exclude(asked="")
    return [(one.head, one.answer) for entry in entries for one in as_answered(entry.asked)]


def typed_anew(what: str) -> list[tuple[str, str]]:
    """What was typed first and what counts, where that is another number."""
    rows = WalkEntry.objects.filter(line__what=what).exclude(first_typed="")
    return list(rows.order_by("pk").values_list("first_typed", "typed"))
