"""A check as a Digital Calibration Certificate: no schema file is to be had from a package, so its structure is tested.

The order of elements and the names are those of the published schema 3.2.0 and 3.3.0 with D-SI 2.1.0 and 2.2.1.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from defusedxml.ElementTree import fromstring

from assets.compute.units import UNITS as PLANT_UNITS
from calibration.compute import dcc

NAMES = {"dcc": dcc.DCC, "si": dcc.SI}
FOUND = dcc.ResultSet(
    kind="as found",
    on=date(2026, 11, 24),
    quantities=(
        dcc.Quantity(name="error", value="-0.14", unit="mg/L", verdict="pass", uncertainty="0.06", k="2"),
        dcc.Quantity(name="shown", value="0.31", unit="NTU"),
    ),
    standards=(dcc.UsedStandard(name="bench meter", number="BM-2", certificate="certificate 4711"),),
)
CHECK = dcc.Certificate(
    number="check-12",
    country="GB",
    site="An invented works",
    place="An invented town",
    instrument="chlorine analyzer",
    maker="",
    model="A <1> & B",
    serial="S-1",
    tag="AIT-410",
    method="Chlorine, against grab samples",
    rule="limit alone, ±0.15 mg/L",
    sets=(FOUND, replace(FOUND, kind="as left", on=date(2026, 11, 25))),
    signed_by="An invented person",
    issued_on=date(2026, 11, 26),
    software="Spanwell",
    release="0.1.0",
)


def children(element: object) -> list[str]:
    return [one.tag.rpartition("}")[2] for one in element]  # type: ignore[attr-defined]


@pytest.mark.parametrize("version", dcc.VERSIONS)
def test_the_parts_stand_in_the_order_of_the_schema(version: dcc.Version) -> None:
    root = fromstring(dcc.xml_of(CHECK, version=version))
    assert root.get("schemaVersion") == version
    assert children(root) == ["administrativeData", "measurementResults"]
    assert children(root[0]) == [
        *("dccSoftware", "coreData", "items", "calibrationLaboratory", "respPersons", "customer", "statements")
    ]
    assert children(root.find("dcc:administrativeData/dcc:coreData", NAMES)) == [
        *("countryCodeISO3166_1", "usedLangCodeISO639_1", "mandatoryLangCodeISO639_1", "uniqueIdentifier"),
        *("beginPerformanceDate", "endPerformanceDate", "performanceLocation", "issueDate"),
    ]
    assert children(root[1][0]) == ["name", "usedMethods", "measuringEquipments", "influenceConditions", "results"]


def test_as_found_and_as_left_are_before_and_after_adjustment() -> None:
    root = fromstring(dcc.xml_of(CHECK))
    assert [one.text for one in root.iter(f"{{{dcc.DCC}}}status")] == ["beforeAdjustment", "afterAdjustment"]


@pytest.mark.parametrize(
    ("version", "path"),
    [("3.2.0", "si:expandedUnc/si:uncertainty"), ("3.3.0", "si:measurementUncertaintyUnivariate/si:expandedMU")],
)
def test_an_uncertainty_is_spelt_as_the_schema_of_its_version_does(version: dcc.Version, path: str) -> None:
    root = fromstring(dcc.xml_of(CHECK, version=version))
    real = next(root.iter(f"{{{dcc.SI}}}real"))
    assert children(real)[:2] == ["value", "unit"]
    assert real.find(path, NAMES) is not None


@pytest.mark.parametrize(("verdict", "word"), [("pass", "pass"), ("conditional fail", "conditionalFail")])
def test_a_verdict_is_one_of_the_words_of_the_schema(verdict: str, word: str) -> None:
    judged = replace(FOUND, quantities=(replace(FOUND.quantities[0], verdict=verdict),))
    root = fromstring(dcc.xml_of(replace(CHECK, sets=(judged,))))
    assert root.findtext(".//dcc:conformity", namespaces=NAMES) == word


def test_it_says_that_it_is_no_certificate_of_an_accredited_laboratory() -> None:
    root = fromstring(dcc.xml_of(CHECK))
    said = root.findtext(".//dcc:statement/dcc:declaration/dcc:content", namespaces=NAMES)
    assert "not a certificate of an accredited laboratory" in " ".join(said.split())
    assert root.find(".//dcc:traceable", NAMES) is None


def test_units_outside_the_si_are_marked_and_text_is_kept_as_it_is() -> None:
    root = fromstring(dcc.xml_of(CHECK))
    units = {one.text for one in root.iter(f"{{{dcc.SI}}}unit")}
    assert units == {r"\milli\gram\litre\tothe{-1}", "|NTU"}
    assert root.findtext(".//dcc:item/dcc:model", namespaces=NAMES) == "A <1> & B"


def test_every_unit_it_names_is_a_unit_of_the_plant() -> None:
    assert set(dcc.UNITS) - {""} <= {unit.code for unit in PLANT_UNITS}


def test_a_check_without_a_signed_set_is_refused() -> None:
    with pytest.raises(ValueError, match="no signed set"):
        dcc.xml_of(replace(CHECK, sets=()))
