"""What every test may ask for: a fixed day, a clock that can be moved, and a database whose triggers stand."""

from __future__ import annotations

import gc
import ipaddress
import socket
from collections import defaultdict
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection
from django.utils import timezone
from hypothesis import HealthCheck
from hypothesis import settings as of_properties
from pytest_django import DjangoDbBlocker

from tests.fresh import Fresh
from tests.published import Reproduced

TRANSACTIONAL_FIXTURES = {
    "transactional_db",
    "live_server",
    "django_db_reset_sequences",
    "django_db_serialized_rollback",
}

# How long an example takes says how busy the machine is, not whether a property holds.
of_properties.register_profile("spanwell", deadline=None, suppress_health_check=[HealthCheck.too_slow])
of_properties.load_profile("spanwell")

SLOW = ("journeys/", "durability/", "spanwell/", "contract/test_gates_serving.py")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Skip what the chosen database cannot do; .ci/run runs both, so that nothing is skipped everywhere."""
    # The slowest files first, so that no core waits for another one at the end.
    items.sort(key=lambda item: not any(f"tests/{room}" in item.nodeid for room in SLOW))
    other = {"sqlite": "postgres", "postgresql": "sqlite"}[connection.vendor]
    reason = pytest.mark.skip(reason=f"runs on {other}; SPANWELL_DATABASE chooses")
    once = pytest.mark.skip(reason="minutes, and the same on every database: .ci/run does it on PostgreSQL; or name it")
    for item in items:
        if item.get_closest_marker(other):
            item.add_marker(reason)
        if item.get_closest_marker("once") and connection.vendor == "sqlite" and is_whole(config):
            item.add_marker(once)


def is_whole(config: pytest.Config) -> bool:
    """Whether nobody named a part of the suite; a worker asks who started it."""
    named = config.args_source is pytest.Config.ArgsSource.ARGS
    return bool(getattr(config, "workerinput", {}).get("whole", not named))


def pytest_collection_finish() -> None:
    """Look for cycles seldom, and not among the thousands of tests: that saves a fifteenth of the run."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(100_000, 50, 50)


def fresh_of(config: pytest.Config) -> Fresh:
    """The fresh database of the run, which its processes share: the folder is that of the process they came from."""
    return Fresh(Path(getattr(config, "workerinput", {}).get("of_the_run", settings.DATA)))


@pytest.hookimpl(optionalhook=True)  # of pytest-xdist, which a run may leave out
def pytest_xdist_setupnodes(config: pytest.Config) -> None:
    fresh_of(config).begin()


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    node.workerinput["of_the_run"] = str(settings.DATA)
    node.workerinput["whole"] = is_whole(node.config)


def pytest_unconfigure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):
        fresh_of(config).end()


@pytest.fixture(scope="session")
def fresh(pytestconfig: pytest.Config) -> Fresh:
    """Give fresh databases: `fresh.copy_to(folder / "spanwell.sqlite3")` is what `manage.py migrate` would leave."""
    return fresh_of(pytestconfig)


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix: None, fresh: Fresh) -> None:
    """Begin with a copy of the run's fresh database; the migrate that follows finds nothing to do."""
    of_tests = connection.settings_dict["TEST"]
    if connection.vendor == "sqlite":
        fresh.copy_to(Path(of_tests["NAME"]))
    else:
        of_tests["TEMPLATE"] = fresh.database()


@pytest.fixture(scope="session")
def django_db_keepdb(django_db_keepdb: bool) -> bool:
    """Take the file that lies there already; it is thrown away with its folder."""
    return django_db_keepdb or connection.vendor == "sqlite"


@pytest.fixture
def reproduced(record_property: Any) -> Iterator[Reproduced]:
    """Compare with published figures; what agreed is counted and printed at the end of the run."""
    compare = Reproduced()
    yield compare
    for file, row in compare.counted:
        record_property("reproduced", f"{file}|{row}")


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Print how many published figures this run reproduced, file by file; the README's table holds the same counts."""
    found: defaultdict[str, set[str]] = defaultdict(set)
    # Recorded when the fixture ends, so with the report of the teardown.
    for reports in terminalreporter.stats.values():
        for report in reports:
            for name, told in getattr(report, "user_properties", ()):
                if name == "reproduced":
                    file, _, row = told.partition("|")
                    found[file].add(row)
    if not found:
        return
    terminalreporter.section("published figures reproduced")
    for file, figures in sorted(found.items()):
        terminalreporter.line(f"{len(figures):5d}  {file}")
    terminalreporter.line(f"{sum(map(len, found.values())):5d}  in all")


class Clock:
    """The time that `django.utils.timezone.now` gives, standing still until it is moved."""

    def __init__(self, now: datetime) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now

    def set(self, *moment: int, tz: Any = UTC) -> datetime:
        """Set to year, month, day, hour ... of `tz`."""
        self.now = datetime(*moment, tzinfo=tz).astimezone(UTC)  # type: ignore[misc, arg-type]
        return self.now

    def forward(self, **span: float) -> datetime:
        """Move on by days=, hours=, minutes= ..."""
        self.now += timedelta(**span)
        return self.now


@pytest.fixture
def today() -> date:
    """The day tests speak of when no other is needed: a Wednesday far from month ends and clock changes."""
    return date(2026, 11, 25)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """Stop the clock at 25 November 2026, 14:05 UTC; `clock.set(...)` and `clock.forward(...)` move it."""
    stopped = Clock(datetime(2026, 11, 25, 14, 5, tzinfo=UTC))
    monkeypatch.setattr(timezone, "now", stopped)
    return stopped


@pytest.fixture(autouse=True)
def clock_before_everything(request: pytest.FixtureRequest) -> None:
    """Stop the clock before any other fixture of a test is made: a lockout begun at the real time would begin later."""
    if "clock" in request.fixturenames:
        request.getfixturevalue("clock")


@pytest.fixture(autouse=True)
def triggers_dropped_before_flush(request: pytest.FixtureRequest) -> Iterator[None]:
    """Let tests that commit be cleaned up.

    Such a test ends in a flush, which the triggers refuse. They are dropped first; the flush sends post_migrate, which
    makes them anew for the next test.
    """
    marker = request.node.get_closest_marker("django_db")
    commits = bool(marker and marker.kwargs.get("transaction"))
    if not commits and not TRANSACTIONAL_FIXTURES & set(request.fixturenames):
        yield
        return
    request.getfixturevalue("transactional_db")
    yield
    from assets import triggers

    triggers.drop(connection)


@pytest.fixture(autouse=True, scope="session")
def no_connection_left(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """End what threads of live servers still hold open, or PostgreSQL does not let go of the test database."""
    yield
    # A run of nothing but sites of their own has no test database.
    if connection.vendor == "postgresql" and str(connection.settings_dict["NAME"]).startswith("test_"):
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )


@pytest.fixture(autouse=True)
def empty_cache() -> Iterator[None]:
    """Leave no counted sign-in failure or cached row to the next test."""
    yield
    cache.clear()


@pytest.fixture(autouse=True, scope="session")
def no_network() -> Iterator[None]:
    """Refuse every connection that leaves this machine."""
    connect = socket.socket.connect

    def only_here(self: socket.socket, address: Any) -> None:
        if self.family in {socket.AF_INET, socket.AF_INET6} and not _is_here(str(address[0])):
            raise OSError(f"a test tried to reach {address[0]}; tests use no network")
        connect(self, address)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket.socket, "connect", only_here)
        yield


def _is_here(host: str) -> bool:
    return host == "localhost" or ipaddress.ip_address(host.partition("%")[0]).is_loopback
