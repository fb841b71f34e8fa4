"""The pH probes in the year before the half-year that is told in figures: checked each month, one of them exchanged."""

from __future__ import annotations

import random

from assets.actions import AssetFacts, exchange_asset, register_asset
from calibration.models import Check
from spanwell.demo import cast
from spanwell.demo.buffers import MONTHS, first_year
from spanwell.demo.cast import Part
from spanwell.demo.plant import FIRST_DAY, GROWN, Plant
from spanwell.demo.probes import Probe, State
from spanwell.demo.probing import Place, as_found, as_found_lost, as_left

GOOD_ENOUGH = 0.045
"""Error at the process, pH, below which the people of this plant adjust nothing."""

EXCHANGED = 333
"""Days back on which the probe of AIT-210 was exchanged, after two years in the water."""

# Share of theory and offset in mV on the first day, loss of slope a day, drift of the offset a day. On the day the
# half-year begins each is about what it is there.
FIRST = {
    "AIT-410": (1.004, -6.0, 0.0000165, 0.020),
    "AIT-120": (1.012, -12.0, 0.000074, 0.025),
    "AIT-210": (0.962, 14.0, 0.000150, -0.060),
}
NEW_AT_210 = State(1.001, 4.0)
BOTTLES = {"AIT-410": ("7", "10"), "AIT-120": ("7", "10"), "AIT-210": ("4", "7")}
LATER = {"AIT-410": 0, "AIT-120": 1, "AIT-210": 0}


def check_in_first_year(plant: Plant, places: dict[str, Place], times: dict[str, str], seed: str) -> None:
    """Write the checks of each month; on the day the half-year begins each place has its probe of that half-year."""
    at, add = plant.days.at, plant.script.add
    for tag, place in places.items():
        now = place.probe
        place.probe = _first_probe(plant, tag, seed)
        for day in MONTHS:
            days_back = day - LATER[tag]
            first, second = (first_year(label, day) for label in BOTTLES[tag])
            add(at(days_back, times[tag]), quiet_check, place, plant.on_shift(days_back), (first, second))
        add(at(GROWN, "05:00"), _go_on_with, place, now)
    add(at(EXCHANGED + 60, "14:05"), _spare, plant)
    add(at(EXCHANGED, "10:10"), _exchange, plant, places["AIT-210"])


def _first_probe(plant: Plant, tag: str, seed: str) -> Probe:
    slope, offset, loss, drift = FIRST[tag]
    chance = random.Random(f"{seed} {tag} first year")  # noqa: S311 - an invented drift, no secret
    fresh = State(slope, offset)
    since = plant.days.back(FIRST_DAY)
    return Probe(since=since, fresh=fresh, slope_loss=loss, offset_drift=drift, believed=fresh, chance=chance)


def _go_on_with(place: Place, probe: Probe) -> None:
    place.probe = probe


def _spare(plant: Plant) -> None:
    facts = AssetFacts(kind="pH probe", serial="40-7788", model="glass, combined", note="spare, bin 3-B")
    register_asset(site=plant.site, facts=facts, by=plant.person(cast.RUTH))


def _exchange(plant: Plant, place: Place) -> None:
    """The old probe has lost a tenth of its slope: a new one is fitted, adjusted and read."""
    exchange_asset(position=plant.tag("AIT-210"), asset=plant.asset("40-7788"), by=plant.person(cast.INES))
    place.probe = Probe(
        since=place.day,
        fresh=NEW_AT_210,
        slope_loss=0.00007,
        offset_drift=-0.04,
        believed=NEW_AT_210,
        chance=place.probe.chance,
    )
    plant.clock.wait(15)
    bottles = (first_year("4", EXCHANGED), first_year("7", EXCHANGED))
    check = as_found_lost(place, cast.INES, "new probe, read only after it was adjusted")
    as_left(place, cast.INES, check, bottles, done="adjusted")


def quiet_check(place: Place, part: Part, bottles: tuple[str, str]) -> Check:
    """Check a probe that is good enough, and adjust it where it has drifted."""
    error = place.probe.process_shown(place.ph, place.water(), place.day) - place.ph
    if abs(error) < GOOD_ENOUGH:
        return as_found(place, part, bottles, then="nothing")
    check = as_found(place, part, bottles)
    return as_left(place, part, check, bottles, done="adjusted")
