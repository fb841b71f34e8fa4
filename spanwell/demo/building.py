"""The demo's own folder and database: made when they are missing, made anew on demand, never a real site's."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.db.migrations.exceptions import InconsistentMigrationHistory, MigrationSchemaMissing
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
    say("Writing six months of an invented plant, about half a minute...")
    keepsake.write(folder, Keepsake(whole=False))
    now = timezone.now()
    issued = write_past(now=now, address=address)
    written = now.astimezone(ZoneInfo(cast.ZONE)).date().isoformat()
    made = Keepsake(whole=True, written=written, link=f"/j/{issued.token}/", code=issued.code)
    keepsake.write(folder, made)
    return made


def bring_up_to_date(kept: Keepsake | None) -> None:
    """Make the tables, or bring those of an earlier version up to this one."""
    try:
        call_command("migrate", verbosity=0, interactive=False)
    except (DatabaseError, MigrationSchemaMissing, InconsistentMigrationHistory) as error:
        if kept is None:
            raise
        raise NotADemo(
            f"The demo was written by another version and cannot be brought up to this one ({error}). "
            "`python3 manage.py demo --fresh` writes it anew."
        ) from error


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
