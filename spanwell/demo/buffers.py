"""The bottles of pH buffer of a year and a half: received, opened, used up, and the one that was bad."""

from __future__ import annotations

from dataclasses import dataclass

from calibration.actions.lots import LotTyped, record_lot_fact, register_lot
from calibration.actions.tables import load_standard_tables, own_files
from calibration.models import Lot, StandardKind
from spanwell.demo import cast
from spanwell.demo.plant import FIRST_DAY, Plant

KINDS = {"4": ("phthalate", "4.01"), "7": ("phosphate-7.00", "7.00"), "10": ("carbonate", "10.01")}
ISSUER = "Brackwater Reagents"


@dataclass(frozen=True, slots=True)
class Bottle:
    """One bottle, by days back from today: opened, out of date, thrown away and why."""

    key: str
    opened: int
    expires: int
    gone: int | None = None
    why: str = ""

    @property
    def label(self) -> str:
        """What the trade calls it: 4, 7 or 10."""
        return self.key.partition("-")[0].rstrip("abcdefgh")

    @property
    def received(self) -> int:
        """Days back on which it came."""
        return min(self.opened + 12, FIRST_DAY)


USED_UP = "used up"
MONTHS = range(544, 200, -30)
"""Days back of the checks of the first year; each takes a new bottle of pH 10, each third one of pH 7 and 4."""


def first_year(label: str, days_back: int) -> str:
    """The key of the bottle of a label that was open on a day of the first year."""
    step = 1 if label == "10" else 3
    opened = [day for day in MONTHS[::step] if day >= days_back]
    return f"{label}-{opened[-1]}"


def _first_year() -> tuple[Bottle, ...]:
    tens = [Bottle(f"10-{day}", day, day - 150, day - 4, USED_UP) for day in MONTHS]
    others = [
        Bottle(f"{label}-{day}", day, day - 300, day - 86, "opened 86 days ago")
        for day in MONTHS[::3]
        for label in ("7", "4")
    ]
    return (*tens, *others)


# Days are those of the checks; opened life is 90 days, 30 for pH 10.
BOTTLES = (
    *_first_year(),
    Bottle("7a", 182, -180, 91, "opened 91 days ago"),
    Bottle("7b", 94, -120, 4, "opened 90 days ago"),
    Bottle("7c", 67, -150),
    Bottle("7d", 21, -126),
    Bottle("7e", 2, -200),
    Bottle("4a", 182, 125, 119, "out of date"),
    Bottle("4b", 120, -90, 29, "opened 91 days ago"),
    Bottle("4c", 21, -156),
    Bottle("10a", 182, -20, 180, USED_UP),
    Bottle("10b", 153, -30, 151, USED_UP),
    Bottle("10c", 124, -60, 121, USED_UP),
    Bottle("10d", 96, -90, 92, USED_UP),
    Bottle("10e", 94, -90, 88, USED_UP),
    Bottle("10f", 67, -120, 63, USED_UP),
    Bottle("10g", 67, -120, 60, USED_UP),
    Bottle("10h", 39, -140, 33, USED_UP),
    Bottle("10ab", 1, -160),
    Bottle("10ac", 1, -190),
)


def stock_buffers(plant: Plant) -> None:
    """Write the tables of the buffers, then each bottle as it comes, is opened and goes."""
    plant.script.add(plant.days.at(FIRST_DAY, "10:00"), load_tables)
    for number, bottle in enumerate(BOTTLES):
        _follow(plant, bottle, number)


def load_tables() -> None:
    """Take in the solutions' values at temperature from the project's own files."""
    load_standard_tables(files=own_files(), by=None)


def _follow(plant: Plant, bottle: Bottle, number: int) -> None:
    days, add = plant.days, plant.script.add
    add(days.at(bottle.received, "10:30"), _receive, plant, bottle, number)
    add(days.at(bottle.opened, "06:40"), _fact, plant, bottle, "opened")
    if bottle.gone is not None:
        gone = bottle.gone
        add(days.at(gone, "16:10"), _fact, plant, bottle, "discarded")


def number_of(plant: Plant, bottle: Bottle) -> str:
    """The lot number: year and month received, and a letter for what it is."""
    letter = chr(ord("A") + BOTTLES.index(bottle) % 8)
    return f"{plant.days.back(bottle.received):%y%m}-{letter}"


def _receive(plant: Plant, bottle: Bottle, number: int) -> None:
    code, label = KINDS[bottle.label]
    lot = LotTyped(
        kind=StandardKind.objects.get(code=code),
        number=number_of(plant, bottle),
        label_value=label,
        received_on=plant.days.back(bottle.received),
        expires_on=plant.days.back(bottle.expires),
        uncertainty="0.02",
        coverage="2",
        certificate=f"BR-{4100 + 7 * number}",
        issuer=ISSUER,
    )
    register_lot(site=plant.site, lot=lot, by=plant.person(cast.RUTH))


def lot(plant: Plant, key: str) -> Lot:
    """The lot of a bottle."""
    bottle = next(one for one in BOTTLES if one.key == key)
    code, _ = KINDS[bottle.label]
    return Lot.objects.get(site=plant.site, kind__code=code, number=number_of(plant, bottle))


def _fact(plant: Plant, bottle: Bottle, kind: str) -> None:
    days_back = (plant.days.today - plant.day).days
    why = bottle.why if kind == "discarded" else ""
    who = plant.person(plant.on_shift(days_back))
    record_lot_fact(lot=lot(plant, bottle.key), kind=kind, day=plant.day, why=why, by=who)
