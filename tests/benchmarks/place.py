"""The throw-away folder of a run, its databases, and requests to the whole stack of the site without a network."""

from __future__ import annotations

import io
import os
import shutil
import sqlite3
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]


def prepare(folder: str | None) -> Path:
    """Make the folder, point the settings at it as at a real site, and start Django. Called before anything of it."""
    place = Path(tempfile.mkdtemp(prefix="spanwell-ratios-", dir=folder))
    for name in [name for name in os.environ if name.startswith(("SPANWELL_", "DJANGO_"))]:
        del os.environ[name]
    os.environ |= {
        "SPANWELL_DATA": str(place),
        "SPANWELL_DEMO": "1",  # lets signatures be written without checking a PIN, which is not what is measured
        "SPANWELL_NO_BOOTSTRAP": "1",
        "DJANGO_SETTINGS_MODULE": "spanwell.settings",
    }
    import django
    from django.core.management import call_command

    django.setup()
    from django.conf import settings

    settings.ROOT_URLCONF = "tests.benchmarks.bare"
    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    return place


def use(database: Path) -> None:
    """Let everything from now on work on this database file."""
    from django.db import connection

    connection.close()
    connection.settings_dict["NAME"] = str(database)


def copied(database: Path, to: Path) -> Path:
    """Write a fresh copy of a database file over another one, and work on it."""
    from django.db import connection

    connection.close()
    for left in to.parent.glob(f"{to.name}*"):
        left.unlink()
    with closing(sqlite3.connect(database)) as whole:
        whole.execute("VACUUM INTO ?", (str(to),))
    use(to)
    return to


def session_of(person: Any) -> str:
    """The cookie of a person who has signed in."""
    from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
    from django.contrib.sessions.backends.db import SessionStore

    session = SessionStore()
    session[SESSION_KEY] = str(person.pk)
    session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    session.create()
    return f"sessionid={session.session_key}"


def asking() -> Callable[[str, str], bytes]:
    """A function (path, cookie) that goes through every middleware of the site and returns the page, uncompressed."""
    from django.core.wsgi import get_wsgi_application

    application = get_wsgi_application()

    def ask(path: str, cookie: str) -> bytes:
        said: list[str] = []
        environ = {
            "REQUEST_METHOD": "GET",
            "PATH_INFO": path,
            "QUERY_STRING": "",
            "SERVER_NAME": "localhost",
            "SERVER_PORT": "80",
            "HTTP_HOST": "localhost",
            "HTTP_COOKIE": cookie,
            "wsgi.input": io.BytesIO(),
            "wsgi.errors": sys.stderr,
            "wsgi.url_scheme": "http",
        }
        answer = application(environ, lambda status, headers, *_: said.append(status))
        body = b"".join(answer)
        answer.close()
        if not said[0].startswith("200"):
            raise SystemExit(f"{path} answered {said[0]}, so nothing of it can be measured.")
        return body

    return ask


def throw_away(place: Path) -> None:
    """Remove the folder and all in it."""
    from django.db import connections

    connections.close_all()
    shutil.rmtree(place, ignore_errors=True)
