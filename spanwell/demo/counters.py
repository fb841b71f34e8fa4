"""Hour meters and counters of starts of the two high-lift pumps, read on the round; once the wrong way round."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assets.compute.readings.facts import taken
from maintenance.actions.walks import LineTyped
from maintenance.actions.walks_rounds import LineAsked, add_line
from maintenance.compute.walk import EXCHANGED, HOURS, ROUND, STARTS, Answered, Seen, answered, other_way_round
from maintenance.models import CheckPoint, LineKind, PointLine, Round
from maintenance.reads.walks_lines import line_views
from spanwell.demo import cast
from spanwell.demo.plant import FIRST_DAY, Plant

RUN_HOURS, STARTED = "Run hours", "Starts"
WRONG_WAY_ROUND = 12
"""Days back of a morning on which the counters of the two pumps were typed the wrong way round, and put right."""

SWINGS = 1.7
"""Radians a day: in some days one pump runs more, in others its twin does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """What one counter showed on the first day, what it counts a day, and how far it swings around that."""

    tag: str
    twin: str
    what: str
    unit: str
    first: float
    a_day: float
    swing: float

    def shown(self, plant: Plant) -> str:
        """What it shows at the story's moment: hours to the tenth, starts whole, both cut off as wheels do."""
        days = (plant.clock.now - plant.days.at(FIRST_DAY, "06:20")).total_seconds() / 86400
        shown = self.first + self.a_day * days + self.swing * math.sin(SWINGS * days)
        return f"{math.floor(10 * shown) / 10:.1f}" if self.unit == HOURS else str(math.floor(shown))


COUNTERS = (
    Counter(tag="P-61", twin="P-62", what=RUN_HOURS, unit=HOURS, first=12610, a_day=11.4, swing=1.5),
    Counter(tag="P-61", twin="P-62", what=STARTED, unit=STARTS, first=21840, a_day=6.4, swing=0.9),
    Counter(tag="P-62", twin="P-61", what=RUN_HOURS, unit=HOURS, first=12135, a_day=10.9, swing=-1.5),
    Counter(tag="P-62", twin="P-61", what=STARTED, unit=STARTS, first=19310, a_day=6.1, swing=-0.9),
)
HOUR_METERS = tuple(one for one in COUNTERS if one.unit == HOURS)


def ask_counters(plant: Plant, row: Round) -> None:
    """Ask the four counters at the pump house, behind what is looked at there; each names its twin."""
    ruth = plant.person(cast.RUTH)
    point = CheckPoint.objects.select_related("round__site", "position").get(round=row, position__tag="P-61")
    for one in COUNTERS:
        line = LineAsked(
            kind=LineKind.COUNTER,
            what=one.what,
            position=plant.tag(one.tag),
            unit=one.unit,
            hint="on the door of its starter",
            twin=plant.tag(one.twin),
        )
        add_line(point=point, typed=line, by=ruth)
        plant.clock.wait(1)


def read_counters(plant: Plant, lines: Sequence[PointLine]) -> tuple[LineTyped, ...]:
    """What is typed at the lines of a check point that are counters."""
    rows = [line for line in lines if line.kind == LineKind.COUNTER]
    shown = {line.pk: _of(line).shown(plant) for line in rows}
    if plant.days_back == WRONG_WAY_ROUND and rows:
        return _put_right(plant, rows, shown)
    return tuple(LineTyped(line=line, typed=shown[line.pk]) for line in rows)


def _of(line: PointLine) -> Counter:
    assert line.position is not None
    return next(one for one in COUNTERS if (one.tag, one.what) == (line.position.tag, line.what))


def _put_right(plant: Plant, rows: Sequence[PointLine], shown: Mapping[int, str]) -> tuple[LineTyped, ...]:
    """Each pump's numbers are typed at its twin; the page asks, and the answer puts both right."""
    now = plant.clock.now.astimezone(plant.site.zone)
    twin = {
        line.pk: next(one.pk for one in rows if (one.position, one.what) == (line.twin, line.what)) for line in rows
    }
    first = {line.pk: shown[twin[line.pk]] for line in rows}
    seen = {
        view.line.pk: Seen(
            tag=view.tag,
            asks=view.asks,
            history=view.history,
            now=taken(first[view.line.pk], view.line.unit, now),
        )
        for view in line_views(plant.site, rows, now)
    }
    asked: dict[int, tuple[Answered, ...]] = {}
    for line in rows:
        other = twin[line.pk]
        question = other_way_round(seen[line.pk], seen[other]) if other not in asked else None
        asked[line.pk] = answered((question,), {EXCHANGED: ROUND}) if question is not None else ()
    return tuple(
        LineTyped(line=line, typed=shown[line.pk], first_typed=first[line.pk], asked=asked[line.pk]) for line in rows
    )
