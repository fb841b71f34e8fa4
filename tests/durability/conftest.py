"""The site that these tests start, kill and ask; on PostgreSQL in a database of its own beside the test run's."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest

from tests.durability.browser import Browser
from tests.durability.site import Site, Web
from tests.fresh import NAME, Fresh, server

DATABASE = f"spanwell_durability_{os.environ.get('PYTEST_XDIST_WORKER', 'alone')}"  # files may run side by side


@pytest.fixture(scope="session")
def database(fresh: Fresh) -> Iterator[str]:
    """The address of a migrated PostgreSQL database; empty text for SQLite."""
    given = os.environ.get("SPANWELL_DATABASE", "")
    if not given:
        yield ""
        return
    with server() as cursor:
        cursor.execute(f"DROP DATABASE IF EXISTS {DATABASE} WITH (FORCE)")
        cursor.execute(f"CREATE DATABASE {DATABASE} TEMPLATE {fresh.database()}")
    yield urlsplit(given)._replace(path=f"/{DATABASE}").geturl()
    with server() as cursor:
        cursor.execute(f"DROP DATABASE {DATABASE} WITH (FORCE)")


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory, database: str, fresh: Fresh) -> Iterator[Site]:
    """A migrated site that nobody serves yet."""
    made = Site(tmp_path_factory.mktemp("site"), database)
    if not database:
        fresh.copy_to(made.folder / NAME)
    yield made
    made.end()
    assert made.faults_said() == ""


@pytest.fixture(scope="session")
def plant(site: Site) -> dict[str, Any]:
    """Its people and tags."""
    made: dict[str, Any] = site.asked("make_plant", people=5, tags=4)
    return made


@pytest.fixture(scope="session")
def webs(site: Site, plant: dict[str, Any]) -> list[Web]:
    """Two web server processes on the one database."""
    return [site.serve(), site.serve_beside()]


@pytest.fixture(scope="session")
def device(webs: list[Web], plant: dict[str, Any]) -> Callable[[int], Browser]:
    """The signed-in device of one of the people; odd numbers speak to the second process."""

    def made(number: int) -> Browser:
        web = webs[number % 2]
        return Browser(lambda: web.address).signed_in(plant["names"][number], plant["password"])

    return made
