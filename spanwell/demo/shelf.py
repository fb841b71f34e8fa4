"""The standards on the shelf beside the pH buffers: solutions, suspensions, a block, test gas, and dilutions."""

from __future__ import annotations

from dataclasses import dataclass

from assets.models import Asset
from calibration.actions.lots import LotTyped, record_lot_fact, register_lot
from calibration.actions.standards_kinds import KindTyped, add_kind
from calibration.actions.standards_made import AssignmentTyped, DilutionTyped, PartTyped, assign_value, make_dilution
from calibration.models import Check, Lot, StandardKind
from spanwell.demo import cast
from spanwell.demo.plant import FIRST_DAY, GROWN, Plant

ISSUER = "Brackwater Reagents"
YEARS = 365
"""Days that a closed suspension or a sealed cell keeps once it is in use: as its label says."""


@dataclass(frozen=True, slots=True)
class Jar:
    """One lot, by days back from today; `kind` is the code of a kind that comes with the tool, or a name of KINDS."""

    key: str
    kind: str
    number: str
    value: str
    uncertainty: str
    received: int
    opened: int
    expires: int | None
    life: int | None = None
    gone: int | None = None


KINDS = (
    KindTyped(
        name="Formazin, stock suspension", family="turbidity standard", quantity="turbidity", unit="NTU", nominal="4000"
    ),
    KindTyped(
        name="Formazin, diluted to 5 NTU", family="turbidity standard", quantity="turbidity", unit="NTU", nominal="5"
    ),
    KindTyped(
        name="Stabilised suspension, 0.5 NTU",
        family="turbidity standard",
        quantity="turbidity",
        unit="NTU",
        nominal="0.50",
    ),
    KindTyped(name="Secondary block, low range", family="turbidity block", quantity="turbidity", unit="NTU"),
    KindTyped(
        name="Sealed colour cell, 1.0 mg/L",
        family="chlorine standard",
        quantity="chlorine",
        unit="mg/L",
        nominal="1.00",
    ),
    KindTyped(name="Chlorine in nitrogen", family="gas", quantity="chlorine", unit="ppm"),
)
STOCK, DILUTED, LOW, BLOCK, COLOUR, GAS = (kind.name for kind in KINDS)
KCL, ZOBELL = "kcl-0.01-mol-kg", "zobell"

NEXT = (460, 373, 286, 199)
"""Days back on which a new jar of a solution was opened in the first year, the old one having been open 87 days."""


def _first_year(key: str, kind: str, number: str, value: str, uncertainty: str) -> tuple[Jar, ...]:
    opened = (FIRST_DAY - 1, *NEXT)
    gone = (*NEXT, GROWN - 2)
    return tuple(
        Jar(f"{key}-{n}", kind, f"{number}{3 * n + 1:02d}", value, uncertainty, min(day + 9, FIRST_DAY), day, day - 200,
            gone=end)
        for n, (day, end) in enumerate(zip(opened, gone, strict=True))
    )  # fmt: skip


# The first jar of redox solution of the second year stands there still, open too long.
JARS = (
    Jar("stock-0", STOCK, "FZ-4122", "4000", "40", FIRST_DAY, 547, 182, YEARS, gone=183),
    Jar("low-0", LOW, "SF-0388", "0.50", "0.02", FIRST_DAY, 547, 182, YEARS, gone=183),
    Jar("gas-0", GAS, "TG-0788", "5.0", "0.10", FIRST_DAY, 547, 170, gone=181),
    *_first_year("kcl", KCL, "KC-28", "1408", "7"),
    *_first_year("zobell", ZOBELL, "ZB-0", "428", "3"),
    Jar("stock-a", STOCK, "FZ-4410", "4000", "40", GROWN, 183, -150, YEARS),
    Jar("low-a", LOW, "SF-0512", "0.50", "0.02", GROWN, 183, -150, YEARS),
    Jar("block", BLOCK, "SB-07", "0.50", "", FIRST_DAY, 547, None),
    Jar("colour", COLOUR, "CC-218", "1.00", "0.02", GROWN, 183, -300, 2 * YEARS),
    Jar("gas-a", GAS, "TG-0931", "5.0", "0.10", GROWN, 183, -240),
    Jar("kcl-a", KCL, "KC-3071", "1408", "7", GROWN, 183, -90, gone=30),
    Jar("kcl-b", KCL, "KC-3098", "1408", "7", 80, 70, -200),
    Jar("kcl-c", KCL, "KC-3124", "1408", "7", 32, 30, -260),
    Jar("zobell-a", ZOBELL, "ZB-118", "428", "3", GROWN, 183, -20),
    Jar("zobell-b", ZOBELL, "ZB-126", "428", "3", 92, 88, -110),
    Jar("zobell-c", ZOBELL, "ZB-131", "428", "3", 9, 2, -210),
)
DILUTIONS = {546: "D-1", 378: "D-2", 182: "D-3", 98: "D-4"}
"""Formazin as it is diluted on the days of a primary calibration; it keeps for that day."""


def stock_shelf(plant: Plant) -> None:
    """Write the kinds of this site, then each lot as it comes and is opened."""
    at, add = plant.days.at, plant.script.add
    add(at(FIRST_DAY, "10:05"), _add_kinds, plant)
    for jar in JARS:
        add(at(jar.received, "10:35"), _receive, plant, jar)
        add(at(jar.opened, "06:45"), _open, plant, jar)
        if jar.gone is not None:
            add(at(jar.gone, "16:05"), _throw_away, plant, jar)
    for days_back, number in DILUTIONS.items():
        add(at(days_back, "12:35"), _dilute, plant, number)


def _add_kinds(plant: Plant) -> None:
    for kind in KINDS:
        add_kind(site=plant.site, kind=kind, by=plant.person(cast.RUTH))


def kind_of(name: str) -> StandardKind:
    """A kind by its code, or by the name this site gave it."""
    found = StandardKind.objects.filter(code=name).first()
    return found if found is not None else StandardKind.objects.get(name=name)


def _receive(plant: Plant, jar: Jar) -> None:
    lot = LotTyped(
        kind=kind_of(jar.kind),
        number=jar.number,
        label_value=jar.value,
        received_on=plant.days.back(jar.received),
        expires_on=plant.days.back(jar.expires) if jar.expires is not None else None,
        uncertainty=jar.uncertainty,
        coverage="2" if jar.uncertainty else "",
        certificate=f"{jar.number}/C",
        issuer=ISSUER,
        opened_life_days=jar.life,
    )
    register_lot(site=plant.site, lot=lot, by=plant.person(cast.RUTH))


def jar_lot(plant: Plant, key: str) -> Lot:
    """The lot of a jar by its key, or of a dilution by its number."""
    number = next((jar.number for jar in JARS if jar.key == key), key)
    return Lot.objects.select_related("site", "kind", "dilution").get(site=plant.site, number=number)


def jar_in_use(plant: Plant, key: str) -> Lot:
    """The newest lot of a sort (kcl, zobell) that is open on the story's day."""
    today = plant.days_back
    there = [jar for jar in JARS if jar.key.rpartition("-")[0] == key and jar.opened >= today]
    return jar_lot(plant, min(there, key=lambda jar: jar.opened).key)


def _open(plant: Plant, jar: Jar) -> None:
    who = plant.person(plant.on_shift(jar.opened))
    record_lot_fact(lot=jar_lot(plant, jar.key), kind="opened", day=plant.day, why="", by=who)


def _throw_away(plant: Plant, jar: Jar) -> None:
    lot, who = jar_lot(plant, jar.key), plant.person(cast.RUTH)
    record_lot_fact(lot=lot, kind="discarded", day=plant.day, why="opened too long ago", by=who)


def _dilute(plant: Plant, number: str) -> None:
    made = DilutionTyped(
        kind=kind_of(DILUTED),
        number=number,
        parts=[PartTyped(lot=jar_in_use(plant, "stock"), taken="1.25", tolerance="0.006")],
        made_up="1000",
        made_up_tolerance="0.4",
        made_on=plant.day,
        use_by=plant.day,
    )
    make_dilution(site=plant.site, made=made, by=plant.person(cast.INES))


def give_block_its_value(plant: Plant, asset: Asset, primary: Check, value: str) -> None:
    """Read the block on a meter right after its primary calibration, and write the value down for that meter."""
    given = AssignmentTyped(value=value, on=plant.day, primary=primary)
    assign_value(lot=jar_lot(plant, "block"), asset=asset, given=given, by=plant.person(cast.INES))
