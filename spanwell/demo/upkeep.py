"""Routines recorded in words: put into force on the first day, done by whoever was on shift, at times left undone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from maintenance.actions.performances import record_work
from maintenance.actions.routines import Interval, Work, register_routine, retire_routine
from maintenance.models import Occurrence, Plan
from spanwell.demo import cast
from spanwell.demo.plant import FIRST_DAY, Plant

PRACTICE = "common practice"
EYEWASH = "ANSI/ISEA Z358.1, weekly activation, from memory"


@dataclass(frozen=True, slots=True)
class Routine:
    """One routine of the plant and the days back on which it was done; `every` is days or, with `unit`, months."""

    tag: str
    kind: str
    title: str
    minutes: int
    every: int
    done: tuple[int, ...]
    said: str
    unit: str = "day"
    early: int = 7
    late: int = 0
    first: int | None = None
    by_rule: bool = False
    follows: str = "position"
    source: str = PRACTICE
    time: str = "10:20"

    @property
    def key(self) -> str:
        """What its records are told apart by."""
        return f"{self.tag}-{self.title}".lower().replace(" ", "-")[:40]


def each(step: int, *, to: int, but: Iterable[int] = ()) -> tuple[int, ...]:
    """The days back from the first day to `to`, every `step` days, left out those of `but`."""
    days = range(to, FIRST_DAY, step)
    return (FIRST_DAY, *sorted((day for day in days if day not in set(but)), reverse=True))


# The newest day of each decides the state the routine is in today; it stands beside it.
ROUTINES = (
    # Overdue by a day, and one turn missed two months ago.
    Routine(
        "E-SHW-2",
        "inspect",
        "Flush eyewash and shower",
        10,
        7,
        each(7, to=8, but=(57,)),
        "ran clear after a minute, both nozzles even",
        first=183,
        by_rule=True,
        source=EYEWASH,
        time="06:55",
    ),
    # Overdue.
    Routine(
        "STR-05",
        "upkeep",
        "Clean intake strainer",
        45,
        14,
        (FIRST_DAY, 171, 157, 143, 129, 114, 100, 86, 72, 58, 44, 33, 21),
        "leaves and sand out, screen whole",
        early=3,
        late=3,
        time="13:10",
    ),
    # Late but allowed.
    Routine(
        "AIT-350",
        "upkeep",
        "Clean sample line and bubble trap",
        20,
        7,
        each(8, to=8),
        "line flushed, trap clean",
        late=2,
        time="11:05",
    ),
    Routine(
        "LIT-601",
        "inspect",
        "Tape-down against the display",
        30,
        3,
        (FIRST_DAY, 98),
        "tape 4.10 m, display 4.11 m",
        unit="month",
        late=14,
        time="14:00",
    ),
    # Due today.
    Routine(
        "AIT-510",
        "upkeep",
        "Change reagents, clean the cell",
        40,
        28,
        (FIRST_DAY, 158, 131, 106, 80, 54, 28),
        "reagents changed, cell wiped, zero looked at",
        early=5,
        late=3,
    ),
    # Can be done now.
    Routine(
        "P-51",
        "inspect",
        "Look over tubing, valves and fittings",
        15,
        30,
        (FIRST_DAY, 155, 126, 97, 68, 47, 26),
        "no crack, no crystals",
        late=7,
    ),
    Routine(
        "P-42",
        "inspect",
        "Look over valves and fittings",
        15,
        30,
        (FIRST_DAY, 156, 128, 102, 76, 50, 24),
        "valves clean, no leak",
        late=7,
    ),
    # Not yet.
    Routine(
        "P-41",
        "inspect",
        "Look over valves and fittings",
        15,
        30,
        (FIRST_DAY, 154, 125, 95, 66, 36, 5),
        "valves clean, no leak",
        late=7,
    ),
    Routine(
        "P-21",
        "inspect",
        "Look over valves and fittings",
        15,
        1,
        (FIRST_DAY, 161, 130, 100, 70, 39, 9),
        "foot valve clean, no air",
        unit="month",
        first=161,
    ),
    Routine("P-61", "upkeep", "Grease bearings", 20, 3, (FIRST_DAY, 101, 40), "two strokes each", unit="month", late=7),
    Routine("P-71", "upkeep", "Grease bearings", 20, 30, (FIRST_DAY, 150, 115, 80, 46, 12), "two strokes each", late=7),
    Routine(
        "M-4",
        "inspect",
        "Look over leads and tips, try on the proving unit",
        5,
        30,
        (FIRST_DAY, 150, 118, 85, 50, 15),
        "leads whole, three lamps light",
        late=3,
        time="07:10",
    ),
    Routine(
        "M-7",
        "upkeep",
        "Electrode: rinse, fresh storage solution",
        5,
        14,
        each(14, to=3),
        "rinsed, solution changed",
        early=3,
        late=4,
        time="15:30",
    ),
    # Blocked: the machine is locked since before the due day, and a new pump owes its check before use.
    Routine("P-72", "upkeep", "Grease bearings", 20, 30, (FIRST_DAY, 153, 117, 80, 44), "two strokes each", late=7),
    Routine(
        "P-72",
        "inspect",
        "Vibration and noise, by hand and ear",
        15,
        30,
        (FIRST_DAY, 152, 121, 92, 65, 36),
        "no worse than last time",
        late=7,
        follows="asset",
    ),
)
RETIRED = Routine(
    "P-62", "inspect", "Count the drip of the packing", 5, 7, each(7, to=64), "20 to 40 a minute", first=183, late=2
)


def keep_up(plant: Plant) -> None:
    """Write every routine, each time it was done, one time it could not be done, and one routine that ended."""
    days, add = plant.days, plant.script.add
    add(days.at(FIRST_DAY, "12:10"), _put_into_force, plant)
    for routine in (*ROUTINES, RETIRED):
        for days_back in routine.done:
            time = "15:20" if days_back == FIRST_DAY else routine.time
            add(days.at(days_back, time), _do, plant, routine, days_back)
    add(days.at(6, "13:40"), _could_not, plant, "STR-05", "river too high to reach the screen")
    add(days.at(60, "16:00"), _retire, plant)


def _put_into_force(plant: Plant) -> None:
    for routine in (*ROUTINES, RETIRED):
        fixed = routine.first is not None
        interval = Interval(
            mode="fixed" if fixed else "floating",
            every=routine.every if not fixed or routine.unit == "month" else routine.every // 7,
            unit="week" if fixed and routine.unit == "day" else routine.unit,
            source=routine.source,
            anchor=plant.days.back(routine.first) if routine.first is not None else None,
            early=routine.early,
            late=routine.late,
            by_rule=routine.by_rule,
        )
        register_routine(
            site=plant.site,
            target=plant.tag(routine.tag),
            work=Work(kind=routine.kind, title=routine.title, minutes=routine.minutes, follows=routine.follows),
            interval=interval,
            by=plant.person(cast.RUTH),
        )


def _plan(plant: Plant, tag: str, title: str) -> Plan:
    return Plan.objects.select_related("site", "position").get(site=plant.site, position__tag=tag, title=title)


def _open_item(plan: Plan) -> Occurrence:
    item = Occurrence.objects.open().filter(plan=plan).order_by("-due")[0]
    item.plan = plan
    return item


def _do(plant: Plant, routine: Routine, days_back: int) -> None:
    record_work(
        occurrence=_open_item(_plan(plant, routine.tag, routine.title)),
        performed_at=plant.clock.now,
        what=routine.said,
        could_not="",
        key=f"{routine.key}-{plant.days.back(days_back).isoformat()}",
        by=plant.person(plant.on_shift(days_back)),
    )


def _could_not(plant: Plant, tag: str, why: str) -> None:
    plan = next(routine for routine in ROUTINES if routine.tag == tag)
    record_work(
        occurrence=_open_item(_plan(plant, tag, plan.title)),
        performed_at=plant.clock.now,
        what="",
        could_not=why,
        key=f"{plan.key}-could-not",
        by=plant.person(cast.TOMAS),
    )


def _retire(plant: Plant) -> None:
    plan = _plan(plant, RETIRED.tag, RETIRED.title)
    retire_routine(plan=plan, because="the drip is looked at on the daily round", by=plant.person(cast.RUTH))
