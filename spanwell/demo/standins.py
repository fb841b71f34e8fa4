"""A forced value that stands since last evening, looked at against a weir, and the shift handed over with it."""

from __future__ import annotations

import datetime as dt

from maintenance.actions.handover import hand_over
from maintenance.actions.overrides import OverrideTyped, approve_override, ask_override
from maintenance.actions.overrides_end import take_over_override
from maintenance.actions.overrides_time import LookTyped, look_at_override
from maintenance.models import Override
from spanwell.demo import cast
from spanwell.demo.plant import Plant

FORCED = "FIT-330"
ON, APPROVED, LOOKED, TAKEN, LOOKED_AGAIN, HANDED = 980, 940, 700, 690, 330, 44


def stand_in(plant: Plant) -> None:
    """Force the flow that paces the chlorine pump, approve it, look at it twice, hand the shift over."""
    ago, add = plant.days.ago, plant.script.add
    add(ago(ON), _force, plant)
    add(ago(APPROVED), _approve, plant)
    add(ago(LOOKED), _look, plant, "37.6")
    add(ago(TAKEN), _take, plant)
    add(ago(LOOKED_AGAIN), _look, plant, "38.3")
    add(ago(HANDED), _hand_over, plant)


def _force(plant: Plant) -> None:
    now = plant.clock.now
    typed = OverrideTyped(
        kind="forced value",
        what="flow on the HMI",
        way="HMI",
        place="HMI, flow faceplate",
        value="38.0",
        unit="L/s",
        basis="mean of the last six hours before the display board began to reset itself",
        last_good="38.2",
        last_good_at=now - dt.timedelta(minutes=25),
        reason="the transmitter restarts by itself since its display board is failing; the pump stopped twice",
        measures="weir read, chlorine grab sample each time, plant rate kept where it is",
        every_hours=6,
        limit_at=now + dt.timedelta(hours=23),
        on_since=now,
        cannot_wait="the chlorine pump stood still each time the flow dropped to zero",
    )
    ask_override(position=plant.tag(FORCED), typed=typed, by=plant.person(cast.INES))


def _newest(plant: Plant) -> Override:
    return Override.objects.select_related("site", "position").filter(site=plant.site).order_by("-number")[0]


def _approve(plant: Plant) -> None:
    approve_override(override=_newest(plant), proof=plant.proof(cast.RUTH), by=plant.person(cast.RUTH))


def _look(plant: Plant, value: str) -> None:
    typed = LookTyped(value=value, unit="L/s", source="weir at the clearwell", taken_at=plant.clock.now, agrees=True)
    look_at_override(override=_newest(plant), typed=typed, by=plant.person(cast.JOSS))


def _take(plant: Plant) -> None:
    take_over_override(override=_newest(plant), by=plant.person(cast.JOSS))


def _hand_over(plant: Plant) -> None:
    hand_over(
        site=plant.site,
        shift_from=plant.days.ago(HANDED + 12 * 60),
        words="River up and brown since three; rate left alone. Weir agreed both times.",
        proof=plant.proof(cast.JOSS),
        by=plant.person(cast.JOSS),
    )
