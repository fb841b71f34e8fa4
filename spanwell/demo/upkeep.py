"""Routines recorded in words: put into force on their first day, done by whoever was on shift, at times left undone."""

from __future__ import annotations

import csv
from dataclasses import dataclass

from django.conf import settings

from maintenance.actions.performances import record_work
from maintenance.actions.routines import Interval, Work, register_routine, retire_routine
from maintenance.models import Occurrence, Plan
from spanwell.demo import cast
from spanwell.demo.plant import Plant

TABLE = settings.BASE_DIR / "fixtures" / "demo" / "routines.csv"
PRACTICE = "common practice"
EYEWASH = "ANSI/ISEA Z358.1, weekly activation, from memory"
WEEK = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Routine:
    """One routine of the plant and the days back on which it was done; `every` is days or, with `unit`, months.

    `first`: counted from fixed days, the first of them so many days back. `today`: the state of what is due next.
    """

    tag: str
    kind: str
    title: str
    minutes: int
    every: int
    done: tuple[int, ...]
    said: str
    unit: str
    early: int
    late: int
    first: int | None = None
    by_rule: bool = False
    follows: str = "position"
    time: str = "10:20"
    today: str = "not yet"

    @property
    def key(self) -> str:
        """What its records are told apart by."""
        return f"{self.tag}-{self.title}".lower().replace(" ", "-")[:40]


def days_of(text: str) -> tuple[int, ...]:
    """Read days back, oldest first: '184 171' are two, '98-8/30' is each thirtieth, '!57' is left out."""
    days: set[int] = set()
    for word in text.split():
        if "/" in word:
            ends, _, step = word.partition("/")
            begin, _, end = ends.partition("-")
            days |= set(range(int(begin), int(end) - 1, -int(step)))
        elif not word.startswith("!"):
            days.add(int(word))
    days -= {int(word[1:]) for word in text.split() if word.startswith("!")}
    return tuple(sorted(days, reverse=True))


def _read(row: dict[str, str]) -> Routine:
    return Routine(
        tag=row["tag"],
        kind=row["kind"],
        title=row["title"],
        minutes=int(row["minutes"]),
        every=int(row["every"]),
        unit=row["unit"],
        early=int(row["early"]),
        late=int(row["late"]),
        first=int(row["first"]) if row["first"] else None,
        by_rule=row["by rule"] == "yes",
        follows=row["follows"],
        time=row["time"],
        done=days_of(row["done"]),
        today=row["today"],
        said=row["said"],
    )


ROUTINES = tuple(_read(row) for row in csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))
RETIRED = Routine(
    tag="P-62",
    kind="inspect",
    title="Count the drip of the packing",
    minutes=5,
    every=7,
    unit="day",
    early=7,
    late=2,
    first=183,
    done=days_of("183-64/7"),
    said="20 to 40 a minute",
)


def keep_up(plant: Plant) -> None:
    """Write every routine, each time it was done, one time it could not be done, and one routine that ended."""
    days, add = plant.days, plant.script.add
    for routine in (*ROUTINES, RETIRED):
        begun = routine.done[0]
        add(days.at(begun, "06:35"), _put_into_force, plant, routine)
        for days_back in routine.done:
            add(days.at(days_back, routine.time), _do, plant, routine, days_back)
    add(days.at(6, "13:40"), _could_not, plant, "STR-05", "river too high to reach the screen")
    add(days.at(60, "16:00"), _retire, plant)


def _put_into_force(plant: Plant, routine: Routine) -> None:
    fixed = routine.first is not None
    weeks = fixed and routine.unit == "day"
    interval = Interval(
        mode="fixed" if fixed else "floating",
        every=routine.every // WEEK if weeks else routine.every,
        unit="week" if weeks else routine.unit,
        source=EYEWASH if routine.by_rule else PRACTICE,
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
