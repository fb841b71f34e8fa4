"""The morning round, walked from check point to check point since it was written down; before that, loose readings."""

from __future__ import annotations

import random
from dataclasses import dataclass

from maintenance.actions.walks import LineTyped, StopTyped, begin_walk, end_walk, write_stop
from maintenance.actions.walks_rounds import LineAsked, PointTyped, RoundTyped, add_line, add_point, register_round
from maintenance.models import LineKind, PointLine, Round
from spanwell.demo import cast
from spanwell.demo.plant import Plant

WALKED_SINCE = 17
ROUND = "Morning round"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One thing asked on the round: at which tag, what, its usual value and how far that strays."""

    tag: str
    what: str
    kind: str = LineKind.READING
    unit: str = ""
    face: str = "HMI"
    usual: float = 0.0
    stray: float = 0.0
    digits: int = 2
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One check point of the round."""

    name: str
    tag: str
    lines: tuple[Asked, ...]
    caution: str = ""


STOPS = (
    Stop(
        name="Intake, at the strainer",
        tag="STR-05",
        caution="Open water: rail shut, life ring in reach.",
        lines=(
            Asked(tag="FIT-110", what="flow", unit="L/s", face="display", usual=39.0, stray=1.6, digits=1),
            Asked(tag="STR-05", what="Screen free, level the same on both sides", kind=LineKind.LOOK),
        ),
    ),
    Stop(
        name="Filter gallery, panel",
        tag="AIT-350",
        lines=(
            Asked(tag="AIT-350", what="turbidity", unit="NTU", face="display", usual=0.07, stray=0.02),
            Asked(
                tag="AIT-350",
                what="sample flow",
                kind=LineKind.SAMPLE_FLOW,
                unit="mL/min",
                face="display",
                usual=310,
                stray=25,
                digits=0,
                hint="small rotameter below the cell",
            ),
            Asked(tag="AIT-350", what="No lamp, no message", kind=LineKind.LAMP),
        ),
    ),
    Stop(
        name="Chemical room",
        tag="P-51",
        caution="Look at the gas detector's display through the window before you go in.",
        lines=(
            Asked(tag="AIT-410", what="pH", unit="pH", face="display", usual=7.80, stray=0.04),
            Asked(tag="AIT-510", what="chlorine", unit="mg/L", face="display", usual=0.84, stray=0.05),
            Asked(tag="P-51", what="Tubing dry, no crystals", kind=LineKind.LOOK),
        ),
    ),
    Stop(
        name="Pump house",
        tag="P-61",
        caution="Machines start by themselves.",
        lines=(
            Asked(tag="P-61", what="Packing of P-61 drips, does not run", kind=LineKind.LOOK),
            Asked(tag="LIT-601", what="level", unit="m", face="display", usual=4.1, stray=0.35),
        ),
    ),
)


def walk_the_round(plant: Plant, seed: str) -> None:
    """Write the round down and walk it every morning but one; once a check point could not be reached."""
    chance = random.Random(f"{seed} walks")  # noqa: S311 - invented figures, no secret
    plant.script.add(plant.days.at(WALKED_SINCE + 1, "14:30"), _write_down, plant)
    for days_back in range(WALKED_SINCE, -1, -1):
        moment = plant.days.at(days_back, "06:40") if days_back else plant.days.ago(150)
        if days_back != 9:
            plant.script.add(moment, _walk, plant, chance, days_back)


def _write_down(plant: Plant) -> None:
    ruth = plant.person(cast.RUTH)
    row = register_round(site=plant.site, typed=RoundTyped(name=ROUND, days="1234567", asked_from="06:30"), by=ruth)
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


def _walk(plant: Plant, chance: random.Random, days_back: int) -> None:
    by = plant.person(plant.on_shift(days_back))
    walk = begin_walk(round=Round.objects.get(site=plant.site, name=ROUND), by=by)
    for stop, told in zip(walk.stops.select_related("walk__site", "point").order_by("number"), STOPS, strict=True):
        plant.clock.wait(6)
        if days_back == 6 and told.tag == "STR-05":
            typed = StopTyped(outcome="could not", because="river over the gangway")
        else:
            rows = PointLine.objects.filter(point=stop.point).select_related("position", "point").order_by("number")
            lines = tuple(_line(row, one, chance, days_back) for row, one in zip(rows, told.lines, strict=True))
            typed = StopTyped(outcome="read", lines=lines)
        write_stop(stop=stop, typed=typed, key=f"walk-{plant.days.back(days_back)}-{stop.number}", by=by)
    plant.clock.wait(2)
    end_walk(walk=walk, by=by)


def _line(row: PointLine, asked: Asked, chance: random.Random, days_back: int) -> LineTyped:
    if asked.unit:
        value = asked.usual + chance.uniform(-asked.stray, asked.stray)
        return LineTyped(line=row, typed=f"{value:.{asked.digits}f}")
    if asked.what.startswith("Packing") and days_back == 4:
        return LineTyped(line=row, good=False, words="runs in a thread; tray emptied, gland left alone, Ruth told")
    return LineTyped(line=row, good=True)
