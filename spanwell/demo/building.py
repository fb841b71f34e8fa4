"""The demo's own folder and database: made when they are missing, made anew on demand, never a real site's."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from unittest import mock
from zoneinfo import ZoneInfo

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.db.migrations.exceptions import InconsistentMigrationHistory, MigrationSchemaMissing
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from assets.models import Site
from spanwell.demo import cast, keepsake
from spanwell.demo.keepsake import Keepsake
from spanwell.demo.story import write_past


class NotADemo(Exception):
    """What stands there is no demo: one sentence for the person at the terminal."""


def build(*, fresh: bool, address: str, say: Callable[[str], None]) -> Keepsake:
    """Return the keepsake of the demo plant in the data folder, after writing the plant if it is not there.

    `fresh` throws the demo's database away first. Raises NotADemo when the database holds anything but a demo.
    """
    if not settings.DEMO:
        raise NotADemo("The demo keeps to a folder of its own. Start it with `python3 manage.py demo`.")
    folder = Path(settings.DATA)
    kept = keepsake.read(folder)
    if kept is not None and (fresh or not kept.whole):
        throw_away(folder)
        kept = None
    bring_up_to_date(kept)
    if has_a_site():
        if kept is None:
            raise NotADemo(f"The database of {folder} holds a site that is no demo; nothing was changed.")
        return kept
    say("Writing a year and a half of an invented plant; that takes about half a minute.")
    keepsake.write(folder, Keepsake(whole=False))
    now = timezone.now()
    with not_waiting_for_the_disk():
        issued = write_past(now=now, address=address, say=say)
    written = now.astimezone(ZoneInfo(cast.ZONE)).date().isoformat()
    made = Keepsake(whole=True, written=written, link=f"/j/{issued.token}/", code=issued.code)
    keepsake.write(folder, made)
    return made


@contextmanager
def not_waiting_for_the_disk() -> Iterator[None]:
    """Let SQLite leave it to the system when it writes: a past that is cut off is thrown away at the next start."""
    if connection.vendor != "sqlite" or connection.in_atomic_block:
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA synchronous=OFF")
    try:
        yield
    finally:
        connection.close()  # the next one begins with the settings' own


def bring_up_to_date(kept: Keepsake | None) -> None:
    """Make the tables, or bring those of an earlier version up to this one."""
    try:
        if not connection.introspection.table_names():
            make_tables()
        call_command("migrate", verbosity=0, interactive=False)
    except (DatabaseError, MigrationSchemaMissing, InconsistentMigrationHistory) as error:
        if kept is None:
            raise
        raise NotADemo(
            f"The demo was written by another version and cannot be brought up to this one ({error}). "
            "`python3 manage.py demo --fresh` writes it anew."
        ) from error


def make_tables() -> None:
    """Make every table of an empty database as its model stands, and note the migrations that lead there as done.

    A tenth of the time that the migrations take one after the other; a real site takes each of them.
    """
    straight = dict.fromkeys((app.label for app in apps.get_app_configs()), None)
    with mock.patch.object(settings, "MIGRATION_MODULES", straight):
        call_command("migrate", run_syncdb=True, verbosity=0, interactive=False)
    notes = MigrationRecorder(connection)
    notes.ensure_schema()
    for app, name in MigrationLoader(connection).graph.nodes:
        notes.record_applied(app, name)


def has_a_site() -> bool:
    """Whether the database holds a plant, this one or a real one."""
    return Site.objects.exists()


def throw_away(folder: Path) -> None:
    """Delete the demo's SQLite database and what was kept beside it, the heads of its history too."""
    if connection.vendor != "sqlite":
        raise NotADemo("Only a demo in SQLite can be made anew; empty the PostgreSQL database yourself.")
    connection.close()
    for name in ("spanwell.sqlite3", "spanwell.sqlite3-wal", "spanwell.sqlite3-shm", keepsake.FILE):
        (folder / name).unlink(missing_ok=True)
    for heads in (folder / "heads").glob("*.txt"):
        heads.unlink()
