"""A check written as a Digital Calibration Certificate, schema 3.2.0 or 3.3.0 with D-SI units.

The schema is that of the Physikalisch-Technische Bundesanstalt (https://ptb.de/dcc), order of elements as published.
What is written is an in-house check: the document says so in its statements and claims no traceability of its own.
Two units of a water plant have no D-SI name (NTU, psi); they are written with a bar before them, as D-SI does for
units outside the SI.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal, TypeAlias
from xml.etree.ElementTree import Element, SubElement, indent, register_namespace, tostring

from calibration.compute.method import Verdict

DCC, SI = "https://ptb.de/dcc", "https://ptb.de/si"
Version: TypeAlias = Literal["3.2.0", "3.3.0"]
VERSIONS: tuple[Version, ...] = ("3.2.0", "3.3.0")

UNITS = {
    "": r"\one",
    "pH": r"\one",
    "%": r"\percent",
    "mV": r"\milli\volt",
    "V": r"\volt",
    "mA": r"\milli\ampere",
    "°C": r"\degreecelsius",
    "K": r"\kelvin",
    "mg/L": r"\milli\gram\litre\tothe{-1}",
    "µg/L": r"\micro\gram\litre\tothe{-1}",
    "g/L": r"\gram\litre\tothe{-1}",
    "kg/m³": r"\kilo\gram\metre\tothe{-3}",
    "µS/cm": r"\micro\siemens\centi\metre\tothe{-1}",
    "mS/cm": r"\milli\siemens\centi\metre\tothe{-1}",
    "L/s": r"\litre\second\tothe{-1}",
    "L/min": r"\litre\minute\tothe{-1}",
    "mL/min": r"\milli\litre\minute\tothe{-1}",
    "m³/h": r"\metre\tothe{3}\hour\tothe{-1}",
    "m³": r"\metre\tothe{3}",
    "L": r"\litre",
    "mL": r"\milli\litre",
    "kPa": r"\kilo\pascal",
    "Pa": r"\pascal",
    "bar": r"\bar",
    "mbar": r"\milli\bar",
    "m": r"\metre",
    "cm": r"\centi\metre",
    "mm": r"\milli\metre",
    "s": r"\second",
    "min": r"\minute",
    "h": r"\hour",
    "kg": r"\kilogram",
    "g": r"\gram",
}
CONFORMITY: dict[Verdict, str] = {
    "pass": "pass",
    "conditional pass": "conditionalPass",
    "conditional fail": "conditionalFail",
    "fail": "fail",
}
STATUS = {"as found": "beforeAdjustment", "confirming": "beforeAdjustment", "as left": "afterAdjustment"}
SAID = (
    "This is the record of a check made by the operator of the plant with its own standards. It is not a certificate "
    "of an accredited laboratory. Traceability is not claimed; the standards used are named with what they rest on."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One number: its name, its value as text, its unit, what it was judged to be, its uncertainty where stated."""

    name: str
    value: str
    unit: str
    verdict: Verdict | None = None
    uncertainty: str = ""
    k: str = ""
    probability: str = "0.95"


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedStandard:
    """A standard that was used: its name, who numbered it, its number, what it rests on."""

    name: str
    number: str
    certificate: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultSet:
    """One reading set: as found, confirming or as left."""

    kind: str
    on: date
    quantities: tuple[Quantity, ...]
    standards: tuple[UsedStandard, ...]
    remark: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """All that it says. `country` is an ISO 3166-1 code of two letters; `replaces` names a corrected check."""

    number: str
    country: str
    site: str
    place: str
    instrument: str
    maker: str
    model: str
    serial: str
    tag: str
    method: str
    rule: str
    sets: tuple[ResultSet, ...]
    signed_by: str
    issued_on: date
    software: str
    release: str
    replaces: str = ""


def _tag(name: str, space: str = DCC) -> str:
    return f"{{{space}}}{name}"


def _add(parent: Element, name: str, text: str = "", *, space: str = DCC) -> Element:
    made = SubElement(parent, _tag(name, space))
    if text:
        made.text = text
    return made


def _words(parent: Element, name: str, text: str) -> Element:
    """Add an element that holds words in a language."""
    made = _add(parent, name)
    content = _add(made, "content", text)
    content.set("lang", "en")
    return made


def unit_in_dsi(code: str) -> str:
    """Return a unit as D-SI writes it; one it does not know with a bar before it."""
    return UNITS.get(code, f"|{code}")


def xml_of(certificate: Certificate, *, version: Version = "3.3.0") -> bytes:
    """Return the document as UTF-8 XML. Raises ValueError for a check without any signed set."""
    if not certificate.sets:
        raise ValueError(f"Check {certificate.number} has no signed set; there is nothing to write down yet.")
    register_namespace("dcc", DCC)
    register_namespace("si", SI)
    root = Element(_tag("digitalCalibrationCertificate"), {"schemaVersion": version})
    _administration(root, certificate)
    results = _add(root, "measurementResults")
    for one in certificate.sets:
        _result_set(results, certificate, one, version)
    indent(root)
    return bytes(tostring(root, encoding="utf-8", xml_declaration=True))


def _administration(root: Element, of: Certificate) -> None:
    data = _add(root, "administrativeData")
    software = _add(_add(data, "dccSoftware"), "software")
    _words(software, "name", of.software)
    _add(software, "release", of.release)
    _core(data, of)
    _item(data, of)
    laboratory = _add(data, "calibrationLaboratory")
    _contact(_add(laboratory, "contact"), of)
    person = _add(_add(data, "respPersons"), "respPerson")
    _words(_add(person, "person"), "name", of.signed_by)
    _add(person, "mainSigner", "true")
    _contact(_add(data, "customer"), of)
    _words(_add(_add(data, "statements"), "statement"), "declaration", SAID)


def _core(data: Element, of: Certificate) -> None:
    days = [one.on for one in of.sets]
    core = _add(data, "coreData")
    _add(core, "countryCodeISO3166_1", of.country)
    _add(core, "usedLangCodeISO639_1", "en")
    _add(core, "mandatoryLangCodeISO639_1", "en")
    _add(core, "uniqueIdentifier", of.number)
    _add(core, "beginPerformanceDate", min(days).isoformat())
    _add(core, "endPerformanceDate", max(days).isoformat())
    _add(core, "performanceLocation", "customer")
    _add(core, "issueDate", of.issued_on.isoformat())
    if of.replaces:
        previous = _add(core, "previousReport")
        _words(previous, "name", of.replaces)


def _item(data: Element, of: Certificate) -> None:
    item = _add(_add(data, "items"), "item")
    _words(item, "name", of.instrument)
    if of.maker:
        _words(_add(item, "manufacturer"), "name", of.maker)
    if of.model:
        _add(item, "model", of.model)
    numbers = _add(item, "identifications")
    for issuer, value, said in (("manufacturer", of.serial, "serial number"), ("owner", of.tag, "tag")):
        if value:
            one = _add(numbers, "identification")
            _add(one, "issuer", issuer)
            _add(one, "value", value)
            _words(one, "name", said)


def _contact(contact: Element, of: Certificate) -> None:
    _words(contact, "name", of.site)
    location = _add(contact, "location")
    _add(location, "city", of.place or of.site)
    _add(location, "countryCode", of.country)


def _result_set(results: Element, of: Certificate, one: ResultSet, version: Version) -> None:
    made = _add(results, "measurementResult")
    _words(made, "name", f"{of.method}, {one.kind}")
    _words(_add(_add(made, "usedMethods"), "usedMethod"), "name", of.method)
    if one.standards:
        equipment = _add(made, "measuringEquipments")
        for standard in one.standards:
            _standard(equipment, standard)
    condition = _add(_add(made, "influenceConditions"), "influenceCondition")
    _words(condition, "name", one.kind)
    _add(condition, "status", STATUS[one.kind])
    _words(_add(condition, "data"), "text", one.remark or f"Read {one.kind} on {one.on.isoformat()}.")
    result = _add(_add(made, "results"), "result")
    _words(result, "name", one.kind)
    data = _add(result, "data")
    for quantity in one.quantities:
        _quantity(data, quantity, of.rule, version)


def _standard(equipment: Element, standard: UsedStandard) -> None:
    made = _add(equipment, "measuringEquipment")
    _words(made, "name", standard.name)
    if standard.certificate:
        _words(made, "description", f"rests on {standard.certificate}")
    one = _add(_add(made, "identifications"), "identification")
    _add(one, "issuer", "owner")
    _add(one, "value", standard.number)


def _quantity(data: Element, of: Quantity, rule: str, version: Version) -> None:
    made = _add(data, "quantity")
    _words(made, "name", of.name)
    real = _add(made, "real", space=SI)
    _add(real, "value", of.value, space=SI)
    _add(real, "unit", unit_in_dsi(of.unit), space=SI)
    if of.uncertainty and of.k:
        _uncertainty(real, of, version)
    if of.verdict is not None:
        meta = _add(_add(made, "measurementMetaData"), "metaData")
        _words(meta, "declaration", rule)
        _add(meta, "conformity", CONFORMITY[of.verdict])


def _uncertainty(real: Element, of: Quantity, version: Version) -> None:
    """Write the expanded uncertainty as the D-SI that belongs to the schema spells it."""
    if version == "3.2.0":
        made = _add(real, "expandedUnc", space=SI)
        names = ("uncertainty", "coverageFactor", "coverageProbability")
    else:
        made = _add(_add(real, "measurementUncertaintyUnivariate", space=SI), "expandedMU", space=SI)
        names = ("valueExpandedMU", "coverageFactor", "coverageProbability")
    for name, text in zip(names, (of.uncertainty, of.k, of.probability), strict=True):
        _add(made, name, text, space=SI)
