"""Instruments that serve as standards: their certificates, the one that was refused, the one that is away."""

from __future__ import annotations

from dataclasses import dataclass, replace

from calibration.actions.certificates import CertificateTyped, take_in_certificate
from calibration.actions.custody import SendingTyped, send_out
from calibration.actions.standards_instruments import UseTyped, serve_as_standard
from calibration.reads.certificates import INTAKE
from calibration.reads.instruments import key_of_asset
from spanwell.demo import cast
from spanwell.demo.plant import FIRST_DAY, GROWN, Plant

LABORATORY = "Stillwater Metrology"
OWN = "Kestrel Hollow, own measurement"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """One instrument and its certificate: what is printed there, in `unit`."""

    serial: str
    family: str
    unit: str
    number: str
    issuer: str = LABORATORY
    value: str = ""
    uncertainty: str = ""
    corrections: tuple[tuple[str, str], ...] = ()
    measured_how: str = ""


REFERENCES = (
    Reference(
        serial="RG-0210",
        family="gauge",
        unit="kPa",
        number="SM-20417",
        uncertainty="0.5",
        corrections=(("0", "0.0"), ("500", "-0.4"), ("1000", "-0.6")),
    ),
    Reference(
        serial="RT-0055",
        family="thermometer",
        unit="°C",
        number="SM-20418",
        uncertainty="0.04",
        corrections=(("0", "-0.05"), ("20", "-0.08"), ("40", "-0.10")),
    ),
    Reference(serial="CS-0331", family="source", unit="mA", number="SM-20419", uncertainty="0.004"),
    Reference(
        serial="PF-0088",
        family="flow meter",
        unit="m³/h",
        number="SM-20455",
        uncertainty="1.0",
        corrections=(("50", "0.2"), ("150", "0.4")),
    ),
    Reference(serial="B-1120", family="bench meter", unit="mg/L", number="SM-20460", uncertainty="0.03"),
    Reference(serial="B-1302", family="bench meter", unit="%", number="SM-20461", uncertainty="0.4"),
    Reference(serial="B-1410", family="bench meter", unit="mg/L", number="SM-20462", uncertainty="0.02"),
    Reference(serial="US-0231", family="UV sensor", unit="W/m²", number="SM-20470", uncertainty="3"),
    Reference(serial="CC-0140", family="column", unit="mL", number="SM-20471", uncertainty="0.4"),
    Reference(serial="MS-0020", family="mass", unit="kg", number="SM-20472", value="20", uncertainty="0.002"),
    Reference(
        serial="TK-0015",
        family="tank",
        unit="m²",
        number="KH-2",
        issuer=OWN,
        value="141.0",
        uncertainty="0.4",
        measured_how="inside diameter at three heights and two crossings, steel tape",
    ),
)
REFUSED = Reference(serial="B-0764", family="bench meter", unit="NTU", number="SM-20733", uncertainty="0.05")
REFUSED_ON, AWAY_SINCE, BACK_IN = 34, 8, 13
AWAY = "RT-0055"


def certify(plant: Plant) -> None:
    """Write which instruments serve as standards and what came with them; one is away since last week."""
    at, add = plant.days.at, plant.script.add
    add(at(FIRST_DAY, "11:00"), _serve_all, plant)
    for days_back in (FIRST_DAY, GROWN):
        add(at(days_back, "11:10"), _accept_all, plant, days_back)
    add(at(REFUSED_ON, "15:30"), _refuse, plant)
    add(at(AWAY_SINCE, "15:45"), _send, plant)


def reference_key(plant: Plant, serial: str) -> str:
    """What a field of a check names the instrument by."""
    return key_of_asset(plant.asset(serial).pk)


def _serve(plant: Plant, one: Reference) -> None:
    tank = one.family == "tank"
    use = UseTyped(
        family=one.family,
        unit=one.unit,
        measured_by=cast.WILMA.name if tank else "",
        measured_how=one.measured_how,
    )
    serve_as_standard(asset=plant.asset(one.serial), use=use, by=plant.person(cast.RUTH))


def _certificate(plant: Plant, one: Reference, *, days_back: int, answers: dict[str, str]) -> CertificateTyped:
    inside = one.issuer == LABORATORY
    return CertificateTyped(
        number=one.number,
        issuer=one.issuer,
        accreditation="SW-114" if inside else "",
        in_scope=inside,
        method="by comparison, procedure of the laboratory" if inside else one.measured_how,
        calibrated_on=plant.days.back(days_back),
        until=plant.days.back(days_back - 400),
        unit=one.unit,
        as_found_given=inside,
        as_left_given=inside,
        value=one.value,
        uncertainty=one.uncertainty,
        coverage="2",
        corrections=one.corrections,
        asked=dict.fromkeys(INTAKE, "yes") | answers,
    )


def _serve_all(plant: Plant) -> None:
    for one in REFERENCES:
        _serve(plant, one)


def _accept_all(plant: Plant, days_back: int) -> None:
    """Accept what came with each instrument: a year ago from its calibration before, then from the newest."""
    for one in REFERENCES:
        own = {} if one.issuer == LABORATORY else {"both": "no", "conditions": "no"}
        number = one.number if days_back == GROWN else f"{one.number}-1"
        read = _certificate(plant, replace(one, number=number), days_back=days_back + 16, answers=own)
        take_in_certificate(
            asset=plant.asset(one.serial), read=read, accepted=True, because="", by=plant.person(cast.RUTH)
        )


def _refuse(plant: Plant) -> None:
    _serve(plant, REFUSED)
    read = _certificate(
        plant, REFUSED, days_back=REFUSED_ON + 6, answers={"this_one": "no", "both": "no", "good_enough": "no"}
    )
    because = "it names serial B-0746, the plate says B-0764, and nothing is told of the meter as it came in"
    take_in_certificate(
        asset=plant.asset(REFUSED.serial), read=read, accepted=False, because=because, by=plant.person(cast.RUTH)
    )


def _send(plant: Plant) -> None:
    sending = SendingTyped(
        sent_to=LABORATORY,
        why="yearly calibration",
        sent_with="parcel service, in its case",
        sent_on=plant.day,
        due_back=plant.days.back(-BACK_IN),
    )
    send_out(asset=plant.asset(AWAY), sending=sending, by=plant.person(cast.TOMAS))
