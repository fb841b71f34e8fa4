"""A site on a Monday in March, its supervisor, an operator and a pump."""

from __future__ import annotations

import pytest

from assets.models import Person, Position, Role, Site
from tests.conftest import Clock
from tests.make import make_person, make_position, make_site


@pytest.fixture
def site(clock: Clock) -> Site:
    clock.set(2026, 3, 2, 19)  # 12:00 at the site, a Monday
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


@pytest.fixture
def ines(site: Site) -> Person:
    return make_person(site=site, name="Ines Calder")


@pytest.fixture
def pump(site: Site) -> Position:
    return make_position(site=site, tag="P-61", does="moves", quantity="", unit="")
