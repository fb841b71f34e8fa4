"""What the story of the demo plant is made of: the drifting probe, the order of scenes, the folder it keeps to."""

from __future__ import annotations

import csv
import datetime as dt
import importlib.util
import os
import random
import socket
import sqlite3
import subprocess
import sys
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection
from django.db.migrations import RunPython, RunSQL
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from assets.actions.secret_words import fit_pin
from assets.models import Site
from calibration.compute.methods.ph import nernst_slope
from spanwell.demo import building, cast, keepsake
from spanwell.demo.building import NotADemo, build
from spanwell.demo.clock import Days, Script, StoryClock, at_the_time_of
from spanwell.demo.keepsake import Keepsake
from spanwell.demo.plant import REGISTER, Plant
from spanwell.demo.probes import Probe, State, theory, typed
from spanwell.demo.references import AWAY, REFERENCES, REFUSED
from spanwell.demo.rounds import ROUNDS, Round
from spanwell.management.commands import demo
from tests.make import make_site

DENVER = ZoneInfo(cast.ZONE)
DAY = dt.date(2026, 11, 25)


def probe(**other: Any) -> Probe:
    sound = State(1.0, 0.0)
    facts = {"since": DAY, "fresh": sound, "slope_loss": 0.0, "offset_drift": 0.0, "believed": sound}
    return Probe(**{**facts, "chance": random.Random(1), **other})


# ---------------------------------------------------------------------------------------------------- the aging probe


@pytest.mark.parametrize(("celsius", "published"), [(0, 54.20), (20, 58.17), (25, 59.16), (30, 60.15), (50, 64.12)])
def test_an_ideal_electrode_has_the_published_slope(celsius: float, published: float) -> None:
    # The trade's table of theoretical slopes, mV per pH, as reprinted in fixtures/worked/ph_published.csv.
    assert theory(celsius) == pytest.approx(published, abs=0.01)


def test_the_probe_ages_by_the_same_slope_that_the_check_judges_it_by() -> None:
    assert theory(12.5) == pytest.approx(float(nernst_slope(Fraction("12.5"))), rel=1e-6)


def test_a_sound_probe_shows_the_water_as_it_is() -> None:
    assert probe().process_shown(7.8, 11.0, DAY) == pytest.approx(7.8, abs=0.003)  # its noise is 0.15 mV


def test_an_offset_of_one_slope_moves_the_display_by_one_ph_until_it_is_adjusted() -> None:
    off = probe(fresh=State(1.0, theory(25)))
    assert off.process_shown(7.0, 25, DAY) == pytest.approx(6.0, abs=0.003)
    off.adjust(DAY)
    assert off.process_shown(7.0, 25, DAY) == pytest.approx(7.0, abs=0.003)


def test_a_probe_loses_slope_and_gains_offset_by_the_day() -> None:
    old = probe(slope_loss=0.001, offset_drift=0.1)
    assert old.state(DAY + dt.timedelta(days=30)) == State(pytest.approx(0.97), pytest.approx(3.0))


@pytest.mark.parametrize(
    ("value", "places", "text"), [(-0.04, 1, "0.0"), (-178.63, 1, "-178.6"), (7.0, 2, "7.00"), (0.006, 2, "0.01")]
)
def test_figures_are_typed_as_people_type_them(value: float, places: int, text: str) -> None:
    assert typed(value, places) == text


# -------------------------------------------------------------------------------------------- the rounds of instruments


@pytest.mark.parametrize("one", ROUNDS, ids=lambda one: f"{one.tag} {one.method}")
def test_no_check_of_the_rounds_comes_later_than_its_routine_allows(one: Round) -> None:
    old = one.before or one.every
    gaps = [(earlier - later, one.every if turn > 0 else old) for (_, earlier), (turn, later) in pairwise(one.turns)]
    assert all(0 < gap <= every + one.late for gap, every in gaps)


def test_every_standard_that_is_an_instrument_is_in_the_register() -> None:
    register = {row["serial"] for row in csv.DictReader(REGISTER.read_text(encoding="utf-8").splitlines())}
    assert {one.serial for one in (*REFERENCES, REFUSED)} <= register
    assert AWAY in register


# ------------------------------------------------------------------------------------------------- the clock and scenes


def test_the_clock_of_the_story_is_everybodys_clock_inside_the_block_only() -> None:
    then = dt.datetime(2026, 6, 1, 12, tzinfo=dt.UTC)
    with at_the_time_of(StoryClock(then)) as clock:
        assert timezone.now() == then
        clock.wait(10)
        assert timezone.now() == then + dt.timedelta(minutes=10)
    assert timezone.now() != then


def test_days_are_the_plants_also_across_a_change_of_the_clock() -> None:
    # In Denver 25 November is winter time, UTC-7, and 26 October 2026, thirty days before, is summer time, UTC-6.
    days = Days(dt.datetime(2026, 11, 26, 5, 30, tzinfo=dt.UTC), DENVER)
    assert days.today == DAY
    assert days.at(0, "07:00") == dt.datetime(2026, 11, 25, 14, 0, tzinfo=dt.UTC)
    assert days.at(30, "07:00") == dt.datetime(2026, 10, 26, 13, 0, tzinfo=dt.UTC)
    assert days.ago(45) == dt.datetime(2026, 11, 26, 4, 45, tzinfo=dt.UTC)


def test_times_are_written_with_their_day_around_midnight() -> None:
    now = dt.datetime(2026, 11, 26, 7, 3, tzinfo=dt.UTC)  # 00:03 in Denver
    plant = Plant(Days(now, DENVER), Script(StoryClock(now), now), address="")
    assert (plant.time_written(-6), plant.time_written(20)) == ("2026-11-25 23:57", "2026-11-26 00:23")
    plant.clock.wait(4 * 60)
    assert (plant.time_written(-6), plant.time_written(20)) == ("03:57", "04:23")


def test_scenes_are_played_in_order_of_time_and_never_backwards() -> None:
    start = dt.datetime(2026, 6, 1, 8, tzinfo=dt.UTC)
    script = Script(StoryClock(start), until=start + dt.timedelta(hours=2))
    played: list[tuple[str, dt.datetime]] = []

    def scene(name: str, minutes: int) -> None:
        played.append((name, script.clock.now))
        script.clock.wait(minutes)

    script.add(start + dt.timedelta(minutes=30), scene, "second", 0)
    script.add(start, scene, "first", 45)
    script.add(start + dt.timedelta(minutes=30), scene, "third", 0)
    script.play()
    late = start + dt.timedelta(minutes=45)
    assert played == [("first", start), ("second", late), ("third", late)]


def test_a_story_that_runs_into_the_future_is_refused() -> None:
    start = dt.datetime(2026, 6, 1, 8, tzinfo=dt.UTC)
    script = Script(StoryClock(start), until=start)
    script.add(start, lambda: script.clock.wait(1))
    with pytest.raises(RuntimeError, match="runs past"):
        script.play()


# ------------------------------------------------------------------------------------------------------- the own folder


def test_what_is_stamped_on_metal_is_told_apart() -> None:
    plates = [metal.characters for metal in cast.PLATES.values()]
    stamps = [metal.characters for metal in cast.STAMPS.values()]
    assert len({*plates}) == len(plates)
    assert len({*stamps}) == len(stamps)
    assert {len(stamp) for stamp in stamps} == {3}


def test_the_printed_pins_would_be_taken_by_a_real_site() -> None:
    assert [fit_pin(part.pin) for part in cast.STAFF] == [part.pin for part in cast.STAFF]


@pytest.fixture
def folder(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of a demo whose past is written by nobody: what is asked here is when, not what."""
    settings.DEMO, settings.DATA = True, tmp_path
    monkeypatch.setattr(building, "call_command", lambda *_, **__: None)

    class Issued:
        token, code = "secret-token", "AB12CD34"

    def write(*, now: dt.datetime, address: str, say: object) -> Issued:
        (tmp_path / "site").touch()
        kept = keepsake.read(tmp_path)
        assert kept is not None
        assert not kept.whole
        return Issued()

    monkeypatch.setattr(building, "write_past", write)
    monkeypatch.setattr(building, "has_a_site", lambda: (tmp_path / "site").exists() or Site.objects.exists())
    monkeypatch.setattr(building, "throw_away", lambda where: [path.unlink() for path in where.iterdir()])
    return tmp_path


def started(*, fresh: bool = False) -> tuple[Keepsake, int]:
    said: list[str] = []
    kept = build(fresh=fresh, address="http://localhost:8000", say=said.append)
    return kept, len(said)


TABLES = "import django; django.setup(); from spanwell.demo.building import bring_up_to_date; bring_up_to_date(None)"


def columns_in(cursor: Any) -> dict[tuple[str, str], list[Any]]:
    """Tables with their columns, and triggers, of a SQLite database."""
    named = "SELECT type, name FROM sqlite_master WHERE type IN ('table', 'trigger') AND name NOT LIKE 'sqlite_%'"
    rows = cursor.execute(named).fetchall()
    about = 'SELECT name, type, "notnull", pk FROM pragma_table_info(?) ORDER BY name'
    return {(kind, name): cursor.execute(about, [name]).fetchall() for kind, name in rows}


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "sqlite", reason="the demo is kept in SQLite")
def test_tables_made_at_once_are_those_that_the_migrations_make(tmp_path: Path) -> None:
    switches = {"SPANWELL_DEMO": "1", "SPANWELL_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "spanwell.settings"}
    subprocess.run([sys.executable, "-c", TABLES], check=True, env={**os.environ, **switches}, cwd=settings.BASE_DIR)
    made = sqlite3.connect(tmp_path / "spanwell.sqlite3")
    connection.ensure_connection()
    tables = columns_in(made)
    assert ("table", "assets_event") in tables
    assert tables == columns_in(connection.connection)
    # What a migration does to rows, or by SQL of its own, would be left out.
    own = {"assets", "maintenance", "calibration"}
    steps = [one.operations for (app, _), one in MigrationLoader(None).disk_migrations.items() if app in own]
    assert not [step for several in steps for step in several if isinstance(step, RunPython | RunSQL)]


@pytest.mark.django_db
def test_the_second_start_keeps_the_plant_and_says_the_link_again(folder: Path) -> None:
    first, wrote = started()
    assert (first.link, first.code, wrote) == ("/j/secret-token/", "AB12CD34", 1)
    assert started() == (first, 0)
    text = "\n".join(keepsake.lines(first, address="http://localhost:8000"))
    assert "http://localhost:8000/j/secret-token/" in text
    assert "AB12CD34" in text
    assert "invented" in text
    assert f"up to {timezone.now().astimezone(DENVER).date().isoformat()}" in text
    assert all(part.pin in text and part.sign_in in text for part in cast.STAFF)


@pytest.mark.django_db
def test_fresh_writes_the_plant_anew_and_so_does_a_start_after_one_that_was_cut_off(folder: Path) -> None:
    started()
    assert started(fresh=True)[1] == 1
    keepsake.write(folder, Keepsake(whole=False))
    assert started()[1] == 1
    (folder / keepsake.FILE).write_text("half of a fi")
    assert started()[1] == 1
    (folder / "site").unlink()  # its database was deleted by hand
    assert started()[1] == 1


@pytest.mark.django_db
@pytest.mark.parametrize("anew", [False, True])
def test_a_real_sites_database_is_never_touched(folder: Path, anew: bool) -> None:
    make_site(name="A real works")
    with pytest.raises(NotADemo, match="no demo"):
        started(fresh=anew)
    assert keepsake.read(folder) is None


@pytest.mark.django_db
def test_a_demo_of_another_version_says_how_to_write_it_anew(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    started()

    def fail(*_: object, **__: object) -> None:
        raise OperationalError("table exists")

    monkeypatch.setattr(building, "call_command", fail)
    with pytest.raises(NotADemo, match=r"demo --fresh"):
        started()


def test_a_taken_port_stops_the_demo_before_it_throws_anything_away(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demo, "build", lambda **_: pytest.fail("it was built"))
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        with pytest.raises(CommandError, match="cannot be used"):
            call_command("demo", "--fresh", "--listen", f"127.0.0.1:{other.getsockname()[1]}")


@pytest.mark.parametrize("listen", ["8000", "127.0.0.1:", "127.0.0.1:99999"])
def test_an_address_that_is_none_is_refused_in_words(listen: str) -> None:
    with pytest.raises(CommandError, match=r"--listen .* cannot be used"):
        call_command("demo", "--listen", listen)


@pytest.mark.django_db
def test_without_its_switch_the_demo_builds_nothing(folder: Path, settings: Any) -> None:
    settings.DEMO = False
    with pytest.raises(NotADemo, match=r"manage\.py demo"):
        started()


@pytest.mark.parametrize(
    ("listen", "address"),
    [
        ("127.0.0.1:8000", "http://localhost:8000"),
        ("0.0.0.0:8080", "http://localhost:8080"),
        ("[::1]:8000", "http://localhost:8000"),
        ("plant.example:8000", "http://plant.example:8000"),
    ],
)
def test_the_printed_address_can_be_typed_into_a_browser(listen: str, address: str) -> None:
    assert demo.address_for(listen) == address


@pytest.fixture
def manage() -> Any:
    place = Path(__file__).resolve().parents[2] / "manage.py"
    spec = importlib.util.spec_from_file_location("manage_for_demo", place)
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def environment(monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """The switches of a real site, behind https, on PostgreSQL."""
    fresh = {
        "SPANWELL_DATA": "/srv/spanwell",
        "SPANWELL_DATABASE": "postgresql:///plant",
        "SPANWELL_HTTPS": "1",
        "SPANWELL_HOSTS": "plant.example",
        "PATH": "/bin",
    }
    monkeypatch.setattr("os.environ", fresh)
    return fresh


def test_the_demo_forgets_the_switches_of_a_real_site(manage: Any, environment: dict[str, str]) -> None:
    manage.keep_to_the_demo()
    environment.pop("PYTEST_CURRENT_TEST", None)
    assert environment == {
        "SPANWELL_DEMO": "1",
        "SPANWELL_DATA": str(manage.ROOT / "var" / "demo"),
        "SPANWELL_HOSTS": "plant.example",
        "PATH": "/bin",
    }


def test_a_demo_may_be_given_another_folder_on_purpose(manage: Any, environment: dict[str, str]) -> None:
    environment["SPANWELL_DEMO"] = "1"
    manage.keep_to_the_demo()
    assert environment["SPANWELL_DATA"] == "/srv/spanwell"
