"""What bears on routines, one of each that an address can name."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils import timezone

from assets.models import Person, Position
from maintenance.actions.deferrals import ask_deferral
from maintenance.actions.stretches import NeedTyped, declare_fulfils, pause, require_first
from maintenance.models import AlsoFulfils, Deferral, Pause, Prerequisite
from tests.make_upkeep import make_plan, open_item


@dataclass
class Bears:
    """A pause, a declared fulfilment, something needed first, a deferral that waits."""

    pause: Pause
    fulfils: AlsoFulfils
    need: Prerequisite
    deferral: Deferral


def make_bears(position: Position, *, ruth: Person, ines: Person) -> Bears:
    """One of each at a tag: written by Ruth, the deferral asked by Ines."""
    today = timezone.now().astimezone(position.site.zone).date()
    first, second, third = (make_plan(position, by=ruth, title=f"Routine {n}") for n in (1, 2, 3))
    return Bears(
        pause=pause(target=first, from_day=today, because="out of season", by=ruth),
        fulfils=declare_fulfils(plan=second, fulfils=third, from_day=today, by=ruth),
        need=require_first(plan=second, need=NeedTyped(kind="lockout", words="locked out"), by=ruth),
        deferral=ask_deferral(
            occurrence=open_item(third),
            to_day=today + dt.timedelta(days=3),
            because="the part comes on Friday",
            risk="more drip; the drain copes",
            by=ines,
        ),
    )
