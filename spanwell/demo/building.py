"""The demo's own folder and database: made when they are missing, made anew on demand, never a real site's."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from assets.models import Site
from spanwell.demo import keepsake
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
    call_command("migrate", verbosity=0, interactive=False)
    if kept is not None:
        return kept
    if Site.objects.exists():
        raise NotADemo(f"The database of {folder} holds a site that is no demo; nothing was changed.")
    say("Writing six months of an invented plant, about half a minute...")
    keepsake.write(folder, Keepsake(whole=False))
    issued = write_past(now=timezone.now(), address=address)
    made = Keepsake(whole=True, link=f"/j/{issued.token}/", code=issued.code)
    keepsake.write(folder, made)
    return made


def throw_away(folder: Path) -> None:
    """Delete the demo's SQLite database and what was kept beside it, the heads of its history too."""
    if connection.vendor != "sqlite":
        raise NotADemo("Only a demo in SQLite can be made anew; empty the PostgreSQL database yourself.")
    connection.close()
    for name in ("spanwell.sqlite3", "spanwell.sqlite3-wal", "spanwell.sqlite3-shm", keepsake.FILE):
        (folder / name).unlink(missing_ok=True)
    for heads in (folder / "heads").glob("*.txt"):
        heads.unlink()
