"""`manage.py backup`: a copy made while people write can be restored and proved; a touched one is found out.

Nothing here is compared with another program's figures: the copy is compared with the site it was made from.
"""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connections

from assets.actions import ReadingFacts, record_reading
from assets.models import Event, Person, Position, Reading, Site
from assets.reads.records import heads_text
from tests.make import make_file, make_person, make_position, make_site

ROOT = Path(__file__).resolve().parents[2]

pytestmark = [pytest.mark.sqlite, pytest.mark.django_db(transaction=True)]


def in_folder(folder: Path, *command: str, database: str = "") -> subprocess.CompletedProcess[str]:
    """Run a command of manage.py as a person does whose site lies in `folder`."""
    own = {name: value for name, value in os.environ.items() if not name.startswith(("SPANWELL_", "DJANGO_"))}
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), *command],
        env={**own, "SPANWELL_DATA": str(folder), "SPANWELL_DATABASE": database, "SPANWELL_NO_BOOTSTRAP": "1"},
        capture_output=True,
        text=True,
        timeout=120,
    )


def restored(copy: Path, folder: Path) -> Path:
    """Put a copy into an empty folder, as the note beside it says."""
    folder.mkdir()
    (folder / "spanwell.sqlite3").write_bytes((copy / "spanwell.sqlite3").read_bytes())
    return folder


def backup_into(folder: Path) -> Path:
    """Make a backup and return the folder that holds it."""
    before = set(folder.glob("*"))
    call_command("backup", str(folder))
    (made,) = set(folder.glob("*")) - before
    return made


@pytest.fixture
def operator() -> Person:
    site = make_site()
    return make_person(site=site, name="Ines Calder")


@pytest.fixture
def tag(operator: Person) -> Position:
    return make_position(site=Site.objects.get(), tag="AIT-310")


@pytest.fixture
def read(tag: Position, operator: Person) -> Callable[[int], Reading]:
    """Write one reading whose note tells it from all others."""

    def write(number: int) -> Reading:
        facts = ReadingFacts(what="pH", entered="7.41", unit="pH", face="display", source=f"note {number}")
        return record_reading(of=tag, facts=facts, by=operator)

    return write


@pytest.fixture
def written_all_the_time(read: Callable[[int], Reading]) -> Iterator[list[int]]:
    """Readings that another thread goes on writing; those whose writing was confirmed stand in the list."""
    confirmed: list[int] = []
    stop, begun = threading.Event(), threading.Event()

    def write_on() -> None:
        try:
            while not stop.is_set():
                confirmed.append(int(read(len(confirmed)).source.split()[1]))
                begun.set()
        finally:
            begun.set()
            connections.close_all()

    writer = threading.Thread(target=write_on)
    writer.start()
    begun.wait(20)
    yield confirmed
    stop.set()
    writer.join(20)


def notes_in(database: Path) -> list[int]:
    with closing(sqlite3.connect(database)) as copy:
        return [int(note.split()[1]) for (note,) in copy.execute("SELECT source FROM assets_reading ORDER BY id")]


def test_a_copy_made_while_people_write_holds_everything_confirmed_before_it_and_proves_itself_where_it_is_restored(
    tmp_path: Path, written_all_the_time: list[int]
) -> None:
    heads_before = heads_text()
    confirmed_before = list(written_all_the_time)
    copy = backup_into(tmp_path / "copies")

    inside = notes_in(copy / "spanwell.sqlite3")
    assert confirmed_before == inside[: len(confirmed_before)]
    assert inside == list(range(len(inside))), "a record is missing or stands there twice"

    folder = restored(copy, tmp_path / "new-place")
    migrated = in_folder(folder, "migrate", "--verbosity=0")
    assert migrated.returncode == 0, migrated.stderr
    proved = in_folder(folder, "check_records", "--heads", str(copy / "heads.txt"))
    assert proved.returncode == 0, proved.stdout + proved.stderr
    assert "No fault" in proved.stdout

    # What the site itself knew to be its end before the copy was made must be part of the copy.
    (tmp_path / "original.txt").write_text(heads_before, encoding="ascii")
    proved = in_folder(folder, "check_records", "--heads", str(tmp_path / "original.txt"))
    assert proved.returncode == 0, proved.stdout + proved.stderr


def test_the_heads_beside_a_copy_are_those_of_the_original_when_nobody_writes(
    tmp_path: Path, read: Callable[[int], Reading]
) -> None:
    read(0)
    copy = backup_into(tmp_path)
    assert (copy / "heads.txt").read_text(encoding="ascii") == heads_text()
    assert len(heads_text().splitlines()) == 2, "the chain of the site and the one of acts without a site"


def test_a_restored_copy_is_served(tmp_path: Path, read: Callable[[int], Reading]) -> None:
    read(0)
    folder = restored(backup_into(tmp_path / "copies"), tmp_path / "new-place")
    # Nothing is pending and no trigger is missing, so that only the address is left to refuse.
    refused = in_folder(folder, "serve", "--listen", "nowhere")
    assert "is not an address" in refused.stderr, refused.stderr


@pytest.mark.parametrize(
    ("touch", "named"),
    [
        ("UPDATE assets_reading SET entered = '7.40' WHERE source = 'note 1'", "altered from outside"),
        ("DELETE FROM assets_reading WHERE source = 'note 1'", "removed from outside"),
        ("UPDATE assets_event SET body = replace(body, '7.41', '7.40') WHERE verb = 'reading.recorded'", "its hash"),
        # The newest event and its row: without the heads nobody could tell.
        (
            "DELETE FROM assets_reading WHERE source = 'note 2'; "
            "DELETE FROM assets_event WHERE id = (SELECT max(id) FROM assets_event)",
            "the chain was cut",
        ),
    ],
)
def test_a_copy_somebody_touched_is_found_out(
    tmp_path: Path, read: Callable[[int], Reading], touch: str, named: str
) -> None:
    for number in range(3):
        read(number)
    copy = backup_into(tmp_path / "copies")
    folder = restored(copy, tmp_path / "new-place")
    with closing(sqlite3.connect(folder / "spanwell.sqlite3")) as database:
        for (trigger,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            database.execute(f'DROP TRIGGER "{trigger}"')
        database.executescript(touch)
        database.commit()
    proved = in_folder(folder, "check_records", "--heads", str(copy / "heads.txt"))
    assert proved.returncode == 1
    assert named in proved.stdout


def test_the_note_beside_a_copy_tells_how_to_restore_it(tmp_path: Path, operator: Person) -> None:
    copy = backup_into(tmp_path)
    note = (copy / "README.txt").read_text(encoding="utf-8")
    assert "spanwell.sqlite3 into an empty folder" in note
    assert f"python3 manage.py check_records --heads {copy}/heads.txt" in note


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps rights otherwise")
def test_a_copy_is_for_the_eyes_of_its_maker_only(tmp_path: Path, operator: Person) -> None:
    make_file(site=Site.objects.get(), by=operator)
    copy = backup_into(tmp_path)
    there = [copy, *copy.rglob("*")]
    assert {stat.S_IMODE(path.stat().st_mode) for path in there if path.is_dir()} == {0o700}
    assert {stat.S_IMODE(path.stat().st_mode) for path in there if path.is_file()} == {0o600}
    assert (copy / "files").is_dir()


def test_a_copy_that_is_there_is_not_overwritten(tmp_path: Path, operator: Person, clock: object) -> None:
    copy = backup_into(tmp_path)
    assert copy.name == "2026-11-25T140500Z"
    was = (copy / "spanwell.sqlite3").read_bytes()
    make_site(name="Second Hollow Works")
    with pytest.raises(CommandError, match="is there already and is not overwritten"):
        call_command("backup", str(tmp_path))
    assert [path.name for path in tmp_path.iterdir()] == [copy.name]
    assert (copy / "spanwell.sqlite3").read_bytes() == was


def test_a_folder_that_cannot_be_made_is_named_and_nothing_is_left(tmp_path: Path, operator: Person) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(CommandError, match="file.* could not be written.*Nothing was kept"):
        call_command("backup", str(tmp_path / "file"))
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_half_a_copy_is_not_left_behind(tmp_path: Path, operator: Person, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_file: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("spanwell.backup.os.fsync", full)
    with pytest.raises(CommandError, match="No space left on device"):
        call_command("backup", str(tmp_path))
    assert list(tmp_path.iterdir()) == []


def test_backing_up_writes_nothing_into_the_site(tmp_path: Path, operator: Person) -> None:
    before = Event.objects.count()
    backup_into(tmp_path)
    assert Event.objects.count() == before


def test_a_folder_without_a_site_is_refused_and_stays_empty(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    refused = in_folder(tmp_path / "empty", "backup", str(tmp_path / "copies"))
    assert refused.returncode == 1
    assert "There is no database" in refused.stderr
    assert not (tmp_path / "copies").exists()
    assert not (tmp_path / "empty" / "spanwell.sqlite3").exists()


def test_a_database_without_history_is_refused(tmp_path: Path) -> None:
    (tmp_path / "odd").mkdir()
    with closing(sqlite3.connect(tmp_path / "odd" / "spanwell.sqlite3")) as database:
        database.execute("CREATE TABLE other (id)")
    refused = in_folder(tmp_path / "odd", "backup", str(tmp_path / "copies"))
    assert refused.returncode == 1
    assert "holds no history" in refused.stderr
    assert list((tmp_path / "copies").iterdir()) == []


def test_a_site_behind_this_release_is_copied_all_the_same(tmp_path: Path, operator: Person) -> None:
    # Before an upgrade the new program copies the old database: here one whose newest column is not there yet.
    folder = restored(backup_into(tmp_path / "copies"), tmp_path / "old")
    with closing(sqlite3.connect(folder / "spanwell.sqlite3")) as database:
        database.execute("DELETE FROM django_migrations WHERE app = 'calibration'")
        database.execute("ALTER TABLE assets_person RENAME COLUMN phone TO telephone")
        database.commit()
    done = in_folder(folder, "backup", str(tmp_path / "before"))
    assert done.returncode == 0, done.stderr


def test_a_site_on_postgresql_is_told_what_to_run(tmp_path: Path) -> None:
    copies = tmp_path / "copies"
    refused = in_folder(tmp_path, "backup", str(copies), database="postgresql://somebody@localhost:1/spanwell")
    assert refused.returncode == 1
    assert "pg_dump" in refused.stderr
    assert "write_heads" in refused.stderr
    assert not copies.exists()
