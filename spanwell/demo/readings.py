"""Readings outside a round: a few tags each morning of the weeks before the round is walked daily, pump hours."""

from __future__ import annotations

import random

from assets.actions import ReadingFacts, correct_reading, record_reading
from assets.models import Asset, Position, Reading
from spanwell.demo import cast
from spanwell.demo.counters import HOUR_METERS, RUN_HOURS
from spanwell.demo.plant import FIRST_DAY, Plant
from spanwell.demo.walking import WALKED_SINCE, is_walked

# Tag: what, unit, where it is read, the usual value, how far it strays, digits after the point.
MORNING = {
    "FIT-110": ("flow", "L/s", "HMI", 39.0, 1.6, 1),
    "AIT-350": ("turbidity", "NTU", "HMI", 0.07, 0.02, 2),
    "AIT-410": ("pH", "pH", "HMI", 7.80, 0.04, 2),
    "AIT-510": ("chlorine", "mg/L", "display", 0.84, 0.05, 2),
    "LIT-601": ("level", "m", "display", 4.1, 0.35, 2),
}
HOURS_A_DAY = {"RP-2201": 12.1, "RP-2202": 9.6, "8-2213": 6.2}
HOURS_BEFORE = {"RP-2201": 29460, "RP-2202": 27015, "8-2213": 20110}

LOOSE = 45
"""Days back since when somebody writes a few figures down each morning."""


def take_readings(plant: Plant, seed: str) -> None:
    """Write the readings; nobody wrote any on one day in nine, as it goes."""
    chance = random.Random(f"{seed} readings")  # noqa: S311 - invented figures, no secret
    for days_back in range(FIRST_DAY - 1, -1, -1):
        moment = plant.days.at(days_back, "06:20")
        if WALKED_SINCE < days_back <= LOOSE and days_back % 9 != 4 and not is_walked(plant, days_back):
            plant.script.add(moment, _morning, plant, chance, days_back)
        if days_back % 14 == 3:
            plant.script.add(moment, _hours, plant, days_back)
    plant.script.add(plant.days.at(33, "09:55"), _correct, plant)


def _morning(plant: Plant, chance: random.Random, days_back: int) -> None:
    by = plant.person(plant.on_shift(days_back))
    for tag, (what, unit, face, usual, stray, digits) in MORNING.items():
        value = f"{usual + chance.uniform(-stray, stray):.{digits}f}"
        facts = ReadingFacts(what=what, entered=value, unit=unit, face=face, source="morning round")
        record_reading(of=plant.tag(tag), facts=facts, by=by)


def _hours(plant: Plant, days_back: int) -> None:
    by = plant.person(plant.on_shift(days_back))
    told: list[tuple[Asset | Position, str]] = [
        (plant.asset(serial), str(HOURS_BEFORE[serial] + round(a_day * (FIRST_DAY - days_back))))
        for serial, a_day in HOURS_A_DAY.items()
    ]
    if days_back > WALKED_SINCE:  # since then the walk reads the two high-lift pumps, each morning
        told += [(plant.tag(one.tag), one.shown(plant)) for one in HOUR_METERS]
    for of, hours in told:
        facts = ReadingFacts(what=RUN_HOURS, entered=hours, unit="h", face="display", source="fortnightly round")
        record_reading(of=of, facts=facts, by=by)


def _correct(plant: Plant) -> None:
    """A figure of the day before, written with its digits turned, is corrected: both stay."""
    wrong = Reading.objects.filter(position=plant.tag("LIT-601")).order_by("-taken_at")[0]
    facts = ReadingFacts(what=wrong.what, entered="4.02", unit="m", face="display", source="read again from the trend")
    correct_reading(reading=wrong, facts=facts, by=plant.person(cast.RUTH))
