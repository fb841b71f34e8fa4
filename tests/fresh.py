"""The database that `manage.py migrate` makes of nothing: made once a run, copied by whoever needs one.

It is never kept from one run to the next, so no run can be fooled by what an earlier one left.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings

ROOT = Path(__file__).resolve().parents[1]
NAME = "spanwell.sqlite3"
PATIENCE_S = 300


class Fresh:
    """Where the run's fresh databases lie; `of_the_run` is a folder that all its processes share."""

    def __init__(self, of_the_run: Path) -> None:
        self.shared = of_the_run
        self.folder = of_the_run / "fresh"
        self.stamp = of_the_run / "fresh-on-server"
        self.on_server = of_the_run.name.replace("-", "_") + "_fresh"

    def begin(self) -> None:
        """Make the one that this run needs, while its workers still collect their tests."""
        make = self.database if os.environ.get("SPANWELL_DATABASE") else self._in_folder
        threading.Thread(target=make).start()

    def copy_to(self, place: Path) -> None:
        """Lay a fresh SQLite database at `place`."""
        self._in_folder()
        shutil.copyfile(self.folder / NAME, place)

    def _in_folder(self) -> None:
        with self._alone():
            if not self.folder.exists():
                making = self.shared / "fresh-in-the-making"
                migrate(SPANWELL_DATA=str(making))
                making.rename(self.folder)

    def database(self) -> str:
        """The name of a fresh database on the PostgreSQL server of the run, to be given as a TEMPLATE."""
        with self._alone():
            if not self.stamp.exists():
                with server() as cursor:
                    cursor.execute(f"DROP DATABASE IF EXISTS {self.on_server}")
                    cursor.execute(f"CREATE DATABASE {self.on_server}")
                address = urlsplit(os.environ["SPANWELL_DATABASE"])._replace(path=f"/{self.on_server}").geturl()
                migrate(SPANWELL_DATA=str(self.shared / "beside"), SPANWELL_DATABASE=address)
                self.stamp.touch()
        return self.on_server

    def end(self) -> None:
        """Leave nothing on the server; the folder is thrown away by who made it."""
        with self._alone():
            if self.stamp.exists():
                with server() as cursor:
                    cursor.execute(f"DROP DATABASE IF EXISTS {self.on_server} WITH (FORCE)")

    @contextmanager
    def _alone(self) -> Iterator[None]:
        # A lock of SQLite is one on every system, waits for its turn, and is let go of when its holder dies.
        with closing(sqlite3.connect(self.shared / "turn", timeout=PATIENCE_S, isolation_level=None)) as turn:
            turn.execute("BEGIN EXCLUSIVE")
            yield


def migrate(**switches: str) -> None:
    """Run the command as a site does, with these switches alone; what fails says why."""
    own = {name: value for name, value in os.environ.items() if not name.startswith(("SPANWELL_", "DJANGO_"))}
    done = subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity=0"],
        env={**own, **switches, "SPANWELL_NO_BOOTSTRAP": "1"},
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
    )
    assert done.returncode == 0, done.stdout + done.stderr


@contextmanager
def server() -> Iterator[Any]:
    """A cursor on the PostgreSQL server of the run, beside every database of a test."""
    import psycopg

    known = {name: settings.DATABASES["default"][name.upper()] for name in ("user", "password", "host", "port")}
    reach = {name: value for name, value in known.items() if value}
    with psycopg.connect(dbname="postgres", autocommit=True, **reach) as connected, connected.cursor() as cursor:
        yield cursor
