"""The round: walked each week since it was written down, each morning since three weeks ago."""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, replace

from django.conf import settings

from maintenance.actions.walks import LineTyped, StopTyped, begin_walk, end_walk, write_stop
from maintenance.actions.walks_rounds import LineAsked, PointTyped, RoundTyped, add_line, add_point, change_round
from maintenance.actions.walks_rounds import register_round as register
from maintenance.models import LineKind, PointLine, Round
from spanwell.demo import cast
from spanwell.demo.counters import ask_counters, read_counters
from spanwell.demo.plant import FIRST_DAY, Plant
from spanwell.demo.upkeep import ROUTINES

TABLE = settings.BASE_DIR / "fixtures" / "demo" / "round.csv"
WALKED_SINCE = 17
"""Days back since when the round is walked each morning."""

WEEKLY, DAILY = "Weekly round", "Morning round"
MONDAY = 0
STRAINER, CLEAN, A_DAY = "DPIT-05", 4.0, 0.12
"""The strainer loses 4.0 kPa when clean, and each day a little more."""

CLEANED = next(one.done for one in ROUTINES if one.tag == "STR-05")
NOT_WALKED, COULD_NOT, RAN = 9, 6, 4
"""Days back of a morning nobody walked, of one at which a point could not be reached, of a look that was not good."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One thing asked on the round: at which tag, what, its usual value, how far that strays, `summer` adds to it."""

    tag: str
    what: str
    kind: str
    unit: str
    face: str
    hint: str
    usual: float = 0.0
    stray: float = 0.0
    summer: float = 0.0
    digits: int = 0

    def value(self, chance: random.Random, day_of_year: int) -> str:
        """A figure as somebody types it on a day of the year."""
        season = math.cos((day_of_year - 205) * 2 * math.pi / 365)
        return f"{self.usual + self.summer * season + chance.uniform(-self.stray, self.stray):.{self.digits}f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One check point of the round."""

    name: str
    tag: str
    caution: str = ""
    lines: tuple[Asked, ...] = ()


def _asked(row: dict[str, str]) -> Asked:
    return Asked(
        tag=row["tag"],
        what=row["what"],
        kind=row["kind"],
        unit=row["unit"],
        face=row["face"] or "HMI",
        hint=row["hint"],
        usual=float(row["usual"] or 0),
        stray=float(row["stray"] or 0),
        summer=float(row["summer"] or 0),
        digits=int(row["digits"] or 0),
    )


def _stops() -> Iterator[Stop]:
    """Read the round: a row with the name of a stop begins one, each row asks one thing there."""
    stop: Stop | None = None
    for row in csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()):
        if row["stop"]:
            if stop is not None:
                yield stop
            stop = Stop(name=row["stop"], tag=row["at"], caution=row["caution"])
        assert stop is not None
        stop = replace(stop, lines=(*stop.lines, _asked(row)))
    if stop is not None:
        yield stop


STOPS = tuple(_stops())


def is_walked(plant: Plant, days_back: int) -> bool:
    """Whether the round is walked on a day."""
    if days_back <= WALKED_SINCE:
        return days_back != NOT_WALKED
    return plant.days.back(days_back).weekday() == MONDAY


def walk_the_round(plant: Plant, seed: str) -> None:
    """Write the round down and walk it each week, then every morning but one."""
    at, add = plant.days.at, plant.script.add
    chance = random.Random(f"{seed} walks")  # noqa: S311 - invented figures, no secret
    add(at(FIRST_DAY, "14:30"), _write_down, plant)
    add(at(WALKED_SINCE + 1, "14:30"), _ask_daily, plant)
    add(at(WALKED_SINCE + 1, "14:40"), lambda: ask_counters(plant, _round(plant)))
    for days_back in range(FIRST_DAY - 1, -1, -1):
        moment = at(days_back, "06:40") if days_back else plant.days.ago(150)
        if is_walked(plant, days_back):
            add(moment, _walk, plant, chance, days_back)


def _write_down(plant: Plant) -> None:
    ruth = plant.person(cast.RUTH)
    row = register(site=plant.site, typed=RoundTyped(name=WEEKLY, days="1", asked_from="06:30"), by=ruth)
    for stop in STOPS:
        typed = PointTyped(name=stop.name, position=plant.tag(stop.tag), caution=stop.caution)
        point = add_point(round=row, typed=typed, by=ruth)
        for asked in stop.lines:
            line = LineAsked(
                kind=asked.kind,
                what=asked.what,
                position=plant.tag(asked.tag),
                unit=asked.unit,
                face=asked.face,
                hint=asked.hint,
            )
            add_line(point=point, typed=line, by=ruth)
            plant.clock.wait(1)


def _round(plant: Plant) -> Round:
    return Round.objects.select_related("site").get(site=plant.site)


def _ask_daily(plant: Plant) -> None:
    typed = RoundTyped(name=DAILY, days="1234567", asked_from="06:30")
    change_round(round=_round(plant), typed=typed, by=plant.person(cast.RUTH), version=None)


def _walk(plant: Plant, chance: random.Random, days_back: int) -> None:
    by = plant.person(plant.on_shift(days_back))
    walk = begin_walk(round=_round(plant), by=by)
    asked: dict[int, list[PointLine]] = {}
    for row in (
        PointLine.objects.filter(point__round=walk.round)
        .select_related("position__site", "point", "twin")
        .order_by("number")
    ):
        asked.setdefault(row.point_id, []).append(row)
    for stop, told in zip(walk.stops.select_related("walk__site", "point").order_by("number"), STOPS, strict=True):
        plant.clock.wait(4)
        if days_back == COULD_NOT and told.tag == "STR-05":
            typed = StopTyped(outcome="could not", because="river over the gangway")
        else:
            rows = asked[stop.point_id]
            pairs = zip((row for row in rows if row.kind != LineKind.COUNTER), told.lines, strict=True)
            lines = tuple(_line(plant, row, one, chance) for row, one in pairs)
            typed = StopTyped(outcome="read", lines=(*lines, *read_counters(plant, rows)))
        write_stop(stop=stop, typed=typed, key=f"walk-{plant.days.back(days_back)}-{stop.number}", by=by)
    plant.clock.wait(2)
    end_walk(walk=walk, by=by)


def _line(plant: Plant, row: PointLine, asked: Asked, chance: random.Random) -> LineTyped:
    if asked.tag == STRAINER:
        return LineTyped(line=row, typed=f"{CLEAN + A_DAY * _days_dirty(plant) + chance.uniform(-0.2, 0.2):.1f}")
    if asked.kind in {LineKind.READING, LineKind.SAMPLE_FLOW}:
        return LineTyped(line=row, typed=asked.value(chance, plant.day.timetuple().tm_yday))
    if asked.what.startswith("Packing") and plant.days_back == RAN:
        return LineTyped(line=row, good=False, words="runs in a thread; tray emptied, gland left alone, Ruth told")
    return LineTyped(line=row, good=True)


def _days_dirty(plant: Plant) -> int:
    """Days since the strainer was cleaned, when nobody has yet: as if after a fortnight."""
    return min((day - plant.days_back for day in CLEANED if day >= plant.days_back), default=14)
