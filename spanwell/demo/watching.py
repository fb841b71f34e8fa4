"""Two routines that no calendar asks for: a strainer watched by its worked-out pressure, algae in the warm months."""

from __future__ import annotations

import datetime as dt

from maintenance.actions.nightly import carry_forward
from maintenance.actions.performances import record_work
from maintenance.actions.routines import Interval, Work, register_routine
from maintenance.actions.worked_out import WorkedOut
from maintenance.models import Occurrence
from spanwell.demo import cast
from spanwell.demo.plant import Plant

RINSE, WATCHED_SINCE = "Rinse the strainer with the raw pumps", 60
ALGAE = "Brush algae off the weirs"
ALGAE_DAYS = range(520, 8, -14)
FIRST, LAST = dt.date(2000, 5, 1), dt.date(2000, 9, 30)
"""The season of the algae; the year is not read."""


def watch(plant: Plant) -> None:
    """Write both routines, and the brushing on each second week of a season."""
    at, add = plant.days.at, plant.script.add
    add(at(WATCHED_SINCE, "11:10"), _watch_strainer, plant)
    add(at(ALGAE_DAYS[0], "11:20"), _begin_season, plant)
    for days_back in ALGAE_DAYS:
        add(at(days_back, "13:50"), _brush, plant)


def _watch_strainer(plant: Plant) -> None:
    rise = WorkedOut(
        kind="strainer",
        readings={"pressure": (plant.tag("DPIT-05"), "pressure"), "flow": (plant.tag("FIT-110"), "flow")},
        numbers={"reference": ("39", "L/s"), "clean": ("4.0", "kPa")},
        same_walk=True,
        baseline_from="after the cleaning in spring, three readings",
    )
    interval = Interval(
        mode="condition",
        source="own judgement: twice what the clean screen takes",
        reads_unit="kPa",
        high="4.0",
        answer_days=3,
        worked_out=rise,
    )
    work = Work(kind="upkeep", title=RINSE, minutes=30)
    register_routine(
        site=plant.site, target=plant.tag("STR-05"), work=work, interval=interval, by=plant.person(cast.RUTH)
    )


def _begin_season(plant: Plant) -> None:
    interval = Interval(
        mode="floating",
        every=14,
        early=7,
        late=14,
        source="common practice",
        season_first=FIRST,
        season_last=LAST,
    )
    work = Work(kind="upkeep", title=ALGAE, minutes=40)
    register_routine(
        site=plant.site, target=plant.tag("CL-1"), work=work, interval=interval, by=plant.person(cast.RUTH)
    )


def _brush(plant: Plant) -> None:
    """Brush in the season only, where something is owed."""
    if not (FIRST.month, FIRST.day) <= (plant.day.month, plant.day.day) <= (LAST.month, LAST.day):
        return
    items = Occurrence.objects.open().filter(plan__position__tag="CL-1", plan__title=ALGAE)
    if not items.exists():
        carry_forward(site=plant.site, today=plant.day)  # as each night does: a season has begun
    item = items.select_related("plan__site", "plan__position").order_by("due").first()
    if item is None:
        return
    record_work(
        occurrence=item,
        performed_at=plant.clock.now,
        what="green threads off both weirs, hosed",
        could_not="",
        key=f"cl-1-algae-{plant.day.isoformat()}",
        by=plant.person(plant.on_shift(plant.days_back)),
    )
