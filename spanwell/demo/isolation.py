"""Where energy is cut off, the locks and boxes, the testers in date, and the written procedures in their revisions."""

from __future__ import annotations

from assets.actions import AssetFacts, register_asset
from calibration.actions.certificates import accept_certificate
from maintenance.actions.isolation import register_point
from maintenance.actions.isolation_procedures import LineText, ProcedureText, approve_procedure, write_procedure
from maintenance.actions.lockout.register import register_box, register_lock
from maintenance.models import IsolationPoint
from spanwell.demo import cast
from spanwell.demo.plant import Plant, bring_in_contractor

TESTER, GAUGE = "V-4419", "G-1203"
OWNERS = {
    "14": cast.NOOR,
    "15": cast.NOOR,
    "16": cast.TOMAS,
    "17": cast.NOOR,
    "18": cast.NOOR,
    "19": cast.NOOR,
    "22": cast.INES,
}
POINTS = (
    ("B-01", "motor supply of P-01", "breaker", "electricity, 400 V", "P-01"),
    ("V-011", "suction of P-01", "valve", "water under pressure", "P-01"),
    ("V-012", "discharge of P-01", "valve", "water under pressure", "P-01"),
    ("B-71", "motor supply of P-71", "breaker", "electricity, 400 V", "P-71"),
    ("V-711", "suction of P-71", "valve", "water under pressure", "P-71"),
    ("V-712", "discharge of P-71", "valve", "water under pressure", "P-71"),
    ("B-61", "motor supply of P-61", "breaker", "electricity, 400 V", "P-61"),
    ("V-611", "suction of P-61", "valve", "water under pressure", "P-61"),
    ("V-612", "discharge of P-61", "valve", "water under pressure", "P-61"),
    ("B-72", "motor supply of P-72", "breaker", "electricity, 400 V", "P-72"),
    ("V-721", "suction of P-72", "valve", "water under pressure", "P-72"),
    ("V-722", "discharge of P-72", "valve", "water under pressure", "P-72"),
)
# Days back on which a revision was written; the fourth of P-72 is the one in force.
REVISIONS = {"P-01": (520,), "P-71": (430,), "P-61": (160,), "P-72": (160, 131, 98, 61)}
CLOSING = (
    "Bolts tightened to the sheet",
    "Suction and discharge flanges tight",
    "Drain closed, seal water on",
    "Coupling aligned and the sheet filled in",
    "Guard and coupling cover on and fast",
)
ACCEPTANCE = ("Primed and vented", "Run for ten minutes, no leak seen", "Discharge pressure at full flow")


def prepare_isolation(plant: Plant) -> None:
    """Write the points, the locks, the boxes, the certificates and the procedures."""
    days, add = plant.days, plant.script.add
    add(days.at(540, "13:30"), _register, plant)
    add(days.at(539, "08:50"), _bring_gauge, plant)
    for days_back, ending in ((539, "1"), (171, "2")):
        add(days.at(days_back, "09:00"), _certify, plant, days_back, ending)
    for tag, revisions in REVISIONS.items():
        for number, days_back in enumerate(revisions, start=1):
            add(days.at(days_back, "11:00"), _write, plant, tag, number)
    add(days.at(20, "10:40"), _welcome, plant)


def _register(plant: Plant) -> None:
    ruth = plant.person(cast.RUTH)
    for name, what, kind, energy, tag in POINTS:
        register_point(
            site=plant.site,
            name=name,
            what=what,
            kind=kind,
            energy=energy,
            plate_code=cast.PLATES[name].characters,
            positions=[plant.tag(tag)],
            by=ruth,
        )
    for name in ("1", "3"):
        register_box(site=plant.site, name=name, plate_code=cast.PLATES[name].characters, by=ruth)
    for number, part in OWNERS.items():
        stamp = cast.STAMPS[number].characters
        register_lock(site=plant.site, number=number, stamp=stamp, issued_to=plant.person(part), by=ruth)


def _bring_gauge(plant: Plant) -> None:
    ruth = plant.person(cast.RUTH)
    facts = AssetFacts(kind="Pressure gauge", serial=GAUGE, model="0 to 1000 kPa", note="tool cabinet, pump house")
    register_asset(site=plant.site, facts=facts, by=ruth)


def _certify(plant: Plant, days_back: int, ending: str) -> None:
    ruth = plant.person(cast.RUTH)
    for serial, number in ((TESTER, f"CL-223{ending}"), (GAUGE, f"CL-224{ending}")):
        accept_certificate(
            asset=plant.asset(serial),
            from_day=plant.days.back(days_back + 19),
            until=plant.days.back(days_back - 346),
            issuer="Corbel Street Laboratory",
            number=number,
            file_hash="",
            by=ruth,
        )


def _write(plant: Plant, tag: str, revision: int) -> None:
    version = write_procedure(position=plant.tag(tag), text=_text(plant, tag, revision), by=plant.person(cast.WILMA))
    plant.clock.wait(55)
    approve_procedure(version=version, by=plant.person(cast.RUTH), proof=plant.proof(cast.RUTH))


def _text(plant: Plant, tag: str, revision: int) -> ProcedureText:
    number = tag.removeprefix("P-")
    names = (f"B-{number}", f"V-{number}1", f"V-{number}2")
    breaker, suction, discharge = (IsolationPoint.objects.get(site=plant.site, name=name) for name in names)
    lines = (
        LineText(
            energy="electricity, motor supply",
            point=breaker,
            safe_state="open, handle down",
            relief="none, because the motor has no heater, no capacitor and no drive",
            test="voltage tester on all three poles at the motor, then the start button: it does not start",
        ),
        LineText(
            energy="water under pressure, suction side",
            point=suction,
            safe_state="closed",
            relief=f"drain D-{number} open until the gauge on the casing reads 0 kPa and nothing runs",
            test="gauge on the casing at 0 kPa, drain open and dry",
        ),
        LineText(
            energy="water under pressure, discharge side",
            point=discharge,
            safe_state="closed",
            relief="none, because it is one space with the suction side and is let off there",
            test="gauge on the casing at 0 kPa, drain open and dry",
        ),
    )
    return ProcedureText(
        purpose=f"Work inside {tag}: seal, bearings, impeller, or the whole pump.",
        shutdown="Tell the operators. Selector to off, wait until the shaft stands still.",
        restore="Locks off by their owners, valves open slowly, vent, breaker closed, selector as found or as told.",
        lines=lines,
        closing="\n".join(CLOSING[: 1 + revision]),
        acceptance="\n".join(ACCEPTANCE),
    )


def _welcome(plant: Plant) -> None:
    person = bring_in_contractor(plant)
    plant.clock.wait(10)
    stamp = cast.STAMPS["DM-4"].characters
    register_lock(
        site=plant.site,
        number="DM-4",
        stamp=stamp,
        issued_to=person,
        issuer=person.company,
        by=plant.person(cast.RUTH),
    )
