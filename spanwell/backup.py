"""A whole copy of an SQLite site while it runs, with the heads of its history and a note how to restore it."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from django.conf import settings
from django.db import connection

from assets import filing
from assets.compute.words import moment_named
from assets.models import Event

DATABASE = "spanwell.sqlite3"  # the name under which a data folder holds it
HEADS = "heads.txt"
FILES = "files"  # the files that people handed in, each under its hash
NOTE = "README.txt"
ONLY_MINE = 0o700  # the copy holds everybody's hashed passwords

RESTORE = """\
A copy of this site as it stood on {day}, made while it ran.

To restore it: copy {database} into an empty folder, and the folder {files} beside it where there is one; then, with
SPANWELL_DATA naming that folder,
    python3 manage.py migrate
    python3 manage.py check_records --heads {here}
    python3 manage.py serve
Everybody signs in again, because the signing key of sessions is not part of the copy. The copy names people and holds
their hashed passwords: keep it as you keep the site. Keep {heads} somewhere else as well: without it nobody could
tell that the end of the history was cut off.
"""


class CannotBackUp(Exception):
    """Why no copy was made: one sentence for the person at the terminal, with what helps."""


def back_up(folder: Path, *, now: dt.datetime) -> Path:
    """Write a copy into a new folder inside `folder`, named by `now` (aware, told in UTC); return that new folder.

    The copy stands there whole or not at all: it is made beside, read through once, then given its name. The heads are
    those of the copy itself, whatever was written meanwhile. Raises CannotBackUp.
    """
    source = source_file()
    moment = now.astimezone(dt.UTC)
    target = folder / f"{moment:%Y-%m-%dT%H%M%SZ}"
    begun = target.with_name(f"{target.name}.part")
    if target.exists() or begun.exists():
        there = target if target.exists() else begun
        raise CannotBackUp(f"{there} is there already and is not overwritten. Name another folder, or wait a second.")
    try:
        begun.mkdir(mode=ONLY_MINE, parents=True)
        copy_database(source, begun / DATABASE)
        write(begun / HEADS, heads_of(begun / DATABASE))
        copy_files(begun / FILES)
        note = RESTORE.format(
            day=f"{moment_named(moment)} UTC",
            database=DATABASE,
            files=FILES,
            heads=HEADS,
            here=target / HEADS,
        )
        write(begun / NOTE, note)
        begun.rename(target)
    except (OSError, sqlite3.Error, CannotBackUp) as error:
        shutil.rmtree(begun, ignore_errors=True)
        if isinstance(error, CannotBackUp):
            raise
        raise CannotBackUp(f"{target} could not be written: {error}. Nothing was kept of it.") from error
    return target


def note_beside(copy: Path, moment: dt.datetime) -> str:
    """Return how to restore the copy in that folder."""
    day = f"{moment_named(moment)} UTC"
    return RESTORE.format(day=day, database=DATABASE, files=FILES, heads=HEADS, here=copy / HEADS)


def source_file() -> Path:
    """Return the database file of this site; raises CannotBackUp when it has none."""
    if connection.vendor != "sqlite":
        raise CannotBackUp(
            "This site is kept by PostgreSQL, which makes its own copies: run `pg_dump --format=custom --file=FILE "
            "DATABASE`, and keep beside it what `python3 manage.py write_heads FILE` writes."
        )
    source = Path(str(connection.settings_dict["NAME"]))
    if not source.exists():
        raise CannotBackUp(
            f"There is no database in {settings.DATA}; name the data folder of your site in SPANWELL_DATA."
        )
    return source


def copy_database(source: Path, copy: Path) -> None:
    """Write every committed record of `source` into the new file `copy` and make sure that it can be read again.

    SQLite copies from one moment of its own; people go on writing meanwhile. Copying the file by hand would miss what
    still stands in the log beside it.
    """
    with closing(sqlite3.connect(f"{source.resolve().as_uri()}?mode=rw", uri=True, timeout=20)) as database:
        database.execute("VACUUM INTO ?", (str(copy),))
    with closing(sqlite3.connect(copy)) as database:
        found = database.execute("PRAGMA integrity_check").fetchone()[0]
    if found != "ok":
        raise CannotBackUp(f"The copy cannot be trusted, and nothing was kept of it; SQLite says: {found}.")
    keep_on_disk(copy)


def copy_files(copy: Path) -> None:
    """Copy every kept file; after the database, so that none that it names is missing. Nothing where none was kept.

    A file never changes once it stands under its hash, so people may go on handing in more meanwhile.
    """
    source = filing.folder()
    if source.exists():
        shutil.copytree(source, copy, ignore=shutil.ignore_patterns("*.part"))
        for path in (copy, *copy.rglob("*")):
            if path.is_dir():
                path.chmod(ONLY_MINE)
            else:
                keep_on_disk(path)


def heads_of(copy: Path) -> str:
    """Return the last event of every chain in a copied database, a line a chain: `chain number hash`.

    Asked in plain SQL, because before an upgrade the copy is older than the models of this release.
    """
    table = Event._meta.db_table
    wanted = (
        f'SELECT chain, number, hash FROM "{table}" AS event '  # noqa: S608 - the table's name is our own
        f'WHERE number = (SELECT max(number) FROM "{table}" WHERE chain = event.chain) ORDER BY chain'
    )
    with closing(sqlite3.connect(copy)) as database:
        try:
            rows = database.execute(wanted).fetchall()
        except sqlite3.OperationalError as error:
            raise CannotBackUp("This database holds no history, so there is nothing to back up yet.") from error
    return "".join(f"{chain} {number} {head}\n" for chain, number, head in rows)


def write(path: Path, text: str) -> None:
    """Write a small file through to the disk."""
    path.write_text(text, encoding="utf-8")
    keep_on_disk(path)


def keep_on_disk(path: Path) -> None:
    """Wait until a file stands on the disk, and not only in memory."""
    path.chmod(0o600)
    with path.open("r+b") as file:
        os.fsync(file.fileno())
