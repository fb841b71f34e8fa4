"""The unit of a standard is one the tool knows, in its own spelling; what it cannot hold is refused with a sentence."""

from __future__ import annotations

import pytest

from assets.errors import Refusal
from assets.models import Role, Site
from calibration.actions.standards_instruments import UseTyped, serve_as_standard
from calibration.actions.standards_kinds import KindTyped, add_kind
from calibration.models import StandardKind, StandardUse
from tests.make import make_asset, make_person, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def kind(**other: str) -> KindTyped:
    return KindTyped(**{"name": "Bottle", "family": "gas", "quantity": "chlorine", "unit": "ppm", **other})


@pytest.mark.parametrize(
    ("family", "unit", "kept"),
    [("gas", "%LEL", "% LEL"), ("chlorine standard", "mg/l", "mg/L"), ("conductivity solution", "uS/cm", "µS/cm")],
)
def test_a_unit_is_kept_in_one_spelling(site: Site, family: str, unit: str, kept: str) -> None:
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    assert add_kind(site=site, kind=kind(family=family, unit=unit), by=ruth).unit == kept


@pytest.mark.parametrize(
    ("family", "unit", "says"),
    [
        ("gas", "parts", "is not a unit"),
        ("conductivity solution", "mS/cm", "kept in µS/cm here"),
        ("redox solution", "V", "kept in mV here"),
        ("turbidity standard", "", "nothing is written"),
    ],
)
def test_a_unit_that_would_be_read_wrongly_is_refused(site: Site, family: str, unit: str, says: str) -> None:
    """1.413 mS/cm taken for 1.413 µS/cm would make a good cell fail a thousandfold."""
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    with pytest.raises(Refusal, match=says) as refused:
        add_kind(site=site, kind=kind(family=family, unit=unit), by=ruth)
    assert [reason.field for reason in refused.value.reasons] == ["unit"]
    assert not StandardKind.objects.filter(site=site).exists()


def test_an_instrument_serves_in_a_unit_that_is_one(site: Site) -> None:
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    gauge = make_asset(site=site)
    with pytest.raises(Refusal, match="is not a unit"):
        serve_as_standard(asset=gauge, use=UseTyped(family="gauge", unit="atmospheres"), by=ruth)
    assert not StandardUse.objects.exists()
    assert serve_as_standard(asset=gauge, use=UseTyped(family="gauge", unit="lbf/in²"), by=ruth).unit == "psi"
