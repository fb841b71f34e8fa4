"""A person with a probe, two cups and a draft: what they type, read from the drifting probe, and what they sign."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.actions.drafts import begin_correction, begin_draft, keep_draft
from calibration.actions.sets import sign_set
from calibration.models import Check, Draft, Figure, Lot, Requirement
from calibration.reads.standards import lot_in_use
from spanwell.demo.buffers import lot
from spanwell.demo.cast import Part
from spanwell.demo.plant import Plant
from spanwell.demo.probes import Probe, typed

MINUTES_A_SET = 11
BAD_BOTTLE = 0.16
"""How much more the bad bottle is worth than its label says, pH."""


@dataclass(slots=True)
class Place:
    """A tag where pH is measured: its probe now, the pH of its water, and whether its signal paces a chemical.

    `held`: it paces, so that it is put on hold for a check, and the display shows `ph`, whatever the water has; else
    `ph` is what the water has.
    """

    plant: Plant
    tag: str
    probe: Probe
    ph: float
    held: bool

    @property
    def requirement(self) -> Requirement:
        """What the tag is checked by."""
        rows = Requirement.objects.select_related("site", "position__site", "plan")
        return rows.get(site=self.plant.site, position__tag=self.tag)

    @property
    def day(self) -> dt.date:
        """The plant's date in the story."""
        return self.plant.day

    def water(self) -> float:
        """Temperature of the water, warmest in August, degC."""
        season = math.cos((self.day.timetuple().tm_yday - 218) * 2 * math.pi / 365)
        return 10.0 + 3.6 * season + self.probe.chance.uniform(-0.4, 0.4)


def read_cups(place: Place, bottles: tuple[str, str], *, water: float) -> dict[str, str]:
    """What is typed for two buffers: lot, temperature, millivolts, display, seconds, steady."""
    fields: dict[str, str] = {}
    warmth = water + place.probe.chance.uniform(1.5, 3.5)
    for number, key in enumerate(bottles, start=1):
        standard = lot(place.plant, key)
        celsius = typed(warmth + place.probe.chance.uniform(0, 0.5), 1)
        worth = _worth(standard, celsius) + (BAD_BOTTLE if key == "7c" else 0)
        volts = place.probe.millivolts(worth, float(celsius), place.day)
        fields |= {
            f"point{number}_lot": str(standard.pk),
            f"point{number}_temperature": celsius,
            f"point{number}_mv": typed(volts, 1),
            f"point{number}_shown": typed(place.probe.shown(volts, float(celsius)), 2),
            f"point{number}_seconds": str(place.probe.chance.randint(34, 95)),
            f"point{number}_steady": "yes",
        }
    return fields


def _worth(standard: Lot, celsius: str) -> float:
    in_use = lot_in_use(standard)
    assert in_use is not None
    return float(in_use.tabled.at(Fraction(celsius)).value)


def before(place: Place, *, water: float, last: bool) -> dict[str, str]:
    """What is typed before the probe comes out: the process and the hold; `last` set of the check: hold off again."""
    fields = {
        "process_shown": typed(_process_shown(place, water), 2),
        "process_temperature": typed(water, 1),
        "hold": "on" if place.held else "off",
    }
    if place.held:
        fields["hold_on_at"] = place.plant.time_written(-6)
    if place.held and last:
        fields["hold_off_at"] = place.plant.time_written(MINUTES_A_SET)
    return fields


def _process_shown(place: Place, water: float) -> float:
    """What the display shows in the process: a signal that paces its own chemical is kept at what is asked."""
    if place.held:
        return place.ph + place.probe.chance.uniform(-0.02, 0.02)
    return place.probe.process_shown(place.ph, water, place.day)


def sign(place: Place, draft: Draft, fields: Mapping[str, str], part: Part) -> Check:
    """Keep what was typed and sign it some minutes later, as the person."""
    who = place.plant.person(part)
    kept = keep_draft(draft=draft, fields=fields, answers={}, version=draft.version, settles=False, by=who)
    place.plant.clock.wait(MINUTES_A_SET)
    return sign_set(draft=kept, version=kept.version, proof=place.plant.proof(part), by=who)


def as_found(place: Place, part: Part, bottles: tuple[str, str], *, then: str = "more") -> Check:
    """Read and sign as found; `then`: nothing (as left is as found) or more."""
    draft = begin_draft(requirement=place.requirement, by=place.plant.person(part))
    water = place.water()
    fields = before(place, water=water, last=then == "nothing") | read_cups(place, bottles, water=water)
    return sign(place, draft, fields | {"next": then}, part)


def as_found_lost(place: Place, part: Part, because: str) -> Check:
    """Sign that nothing could be read as found, and why."""
    draft = begin_draft(requirement=place.requirement, by=place.plant.person(part))
    fields = before(place, water=place.water(), last=False) | {"lost_because": because, "next": "more"}
    return sign(place, draft, fields, part)


def second_buffer(place: Place, part: Part, check: Check, bottles: tuple[str, str]) -> Check:
    """Read a failed as found again in other bottles."""
    return _further(place, part, check, "confirming", read_cups(place, bottles, water=place.water()))


def as_left(place: Place, part: Part, check: Check, bottles: tuple[str, str], *, done: str) -> Check:
    """Clean or adjust (cleaned, adjusted, both), then read again and sign."""
    if done in {"adjusted", "both"}:
        place.probe.adjust(place.day)
    place.plant.clock.wait(8)
    fields = read_cups(place, bottles, water=place.water()) | {"done": done}
    if done in {"cleaned", "both"}:
        fields["cleaned_with"] = "soft cloth, dilute acid, rinsed"
    return _further(place, part, check, "as left", fields)


def nothing_done(place: Place, part: Part, check: Check) -> Check:
    """Sign that nothing was cleaned or adjusted, so that as left is what was read last."""
    return _further(place, part, check, "as left", {"done": "nothing"})


def _further(place: Place, part: Part, check: Check, stage: str, fields: dict[str, str]) -> Check:
    who = place.plant.person(part)
    draft = begin_draft(requirement=place.requirement, by=who, stage=stage, check=check)
    carried = dict(draft.typed["fields"])
    if place.held and stage == "as left":
        carried["hold_off_at"] = place.plant.time_written(MINUTES_A_SET)
    return sign(place, draft, carried | fields, part)


def correct(place: Place, part: Part, check: Check, fields: Mapping[str, str], *, why: str) -> Check:
    """Sign a new check that names the one that was wrong; `fields` are those that change."""
    draft = begin_correction(check=check, why=why, by=place.plant.person(part))
    return sign(place, draft, {**draft.typed["fields"], **fields}, part)


def error_of(check: Check) -> float:
    """The error at the process of the newest set, pH."""
    figures = Figure.objects.filter(name="error", outcome__set__check_of=check).order_by("-pk")
    return float(Fraction(figures[0].exact))
