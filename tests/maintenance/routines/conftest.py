"""One site with a supervisor, an operator and a pump."""

from __future__ import annotations

import pytest

from assets.models import Person, Position, Role, Site
from tests.conftest import Clock
from tests.make import make_area, make_person, make_position, make_site


@pytest.fixture
def site(clock: Clock) -> Site:
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


@pytest.fixture
def ines(site: Site) -> Person:
    return make_person(site=site, name="Ines Calder")


@pytest.fixture
def tag(site: Site) -> Position:
    make_area(site=site, name="Pump house")
    return make_position(site=site, tag="P-61", does="moves")
