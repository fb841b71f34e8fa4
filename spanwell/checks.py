"""What an installation needs before it may serve: `manage.py check`, and with `--database default` the triggers."""

from __future__ import annotations

import inspect
import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connections
from django.utils.module_loading import import_string

from spanwell.schedules import PERIODIC

NETWORK_DRIVES = {"nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "afs", "fuse.sshfs", "ncpfs"}


@register(Tags.database)
def triggers_stand(
    *, app_configs: Sequence[AppConfig] | None, databases: Sequence[str] | None, **_: Any
) -> list[CheckMessage]:
    """Find rules of rows that the database has lost: restored from a dump without them, or a table rebuilt by hand.

    A warning, because `migrate` runs the database checks first and an error would keep it from mending this. Serving
    is refused all the same.
    """
    from assets import triggers

    found: list[CheckMessage] = []
    for alias in databases or ():
        lacking = triggers.missing(connections[alias])
        if lacking and connections[alias].introspection.table_names():
            found.append(
                Warning(
                    f"The database does not hold {len(lacking)} of its triggers, so records could be changed unseen: "
                    f"{', '.join(lacking[:5])}{' ...' if len(lacking) > 5 else ''}.",
                    hint="Run `python3 manage.py migrate`, which makes them anew.",
                    id="spanwell.W002",
                )
            )
    return found


@register()
def sqlite_is_on_a_local_drive(*, app_configs: Sequence[AppConfig] | None, **_: Any) -> list[CheckMessage]:
    """Refuse SQLite on a network drive, where its write-ahead log can lose acknowledged records."""
    database = settings.DATABASES["default"]
    if "sqlite3" not in str(database["ENGINE"]):
        return []
    kind = kind_of_drive(Path(settings.DATA), mounted())
    if kind not in NETWORK_DRIVES:
        return []
    return [
        Error(
            f"The data folder {settings.DATA} lies on a network drive ({kind}); SQLite can lose records there.",
            hint="Name a folder of a local disk in SPANWELL_DATA, or a PostgreSQL server in SPANWELL_DATABASE.",
            id="spanwell.E001",
        )
    ]


def mounted() -> list[tuple[str, str]]:
    """Return the mount points of this machine with the kind of each drive; none where Linux's list is missing."""
    table = Path("/proc/self/mounts")
    if not table.exists():
        return []
    lines = (line.split() for line in table.read_text(encoding="utf-8", errors="replace").splitlines())
    return [(words[1].replace("\\040", " "), words[2]) for words in lines if len(words) > 2]


def kind_of_drive(folder: Path, mounts: Iterable[tuple[str, str]]) -> str | None:
    """Return the kind of the drive a folder lies on: that of the longest mount point above it."""
    above = [(len(point), kind) for point, kind in mounts if folder.is_relative_to(point)]
    return max(above)[1] if above else None


@register()
def data_folder_is_writable(*, app_configs: Sequence[AppConfig] | None, **_: Any) -> list[CheckMessage]:
    """Refuse a data folder this account cannot write."""
    if os.access(settings.DATA, os.W_OK | os.X_OK):
        return []
    return [
        Error(
            f"The data folder {settings.DATA} cannot be written by this account.",
            hint="Give the account the folder, or name another in SPANWELL_DATA.",
            id="spanwell.E002",
        )
    ]


@register()
def tasks_are_handed_out_once(*, app_configs: Sequence[AppConfig] | None, **_: Any) -> list[CheckMessage]:
    """Refuse a queue that hands a task out again while it still runs."""
    queue: dict[str, Any] = settings.Q_CLUSTER
    if queue["retry"] > queue["timeout"]:
        return []
    return [
        Error(
            f"Q_CLUSTER hands a task out again after {queue['retry']} s, while it may run {queue['timeout']} s.",
            hint="Make retry longer than timeout.",
            id="spanwell.E003",
        )
    ]


@register()
def periodic_tasks_exist(*, app_configs: Sequence[AppConfig] | None, **_: Any) -> list[CheckMessage]:
    """Refuse a table of periodic tasks that names what cannot be called without arguments."""
    return [
        Error(
            f"The periodic task {task.name!r} cannot run: {why}", hint="See spanwell/schedules.py.", id="spanwell.E004"
        )
        for task in PERIODIC
        if (why := cannot_run(task.path))
    ]


def cannot_run(path: str) -> str | None:
    """Say why a dotted path cannot be run as a periodic task; None when it can."""
    try:
        function = import_string(path)
    except ImportError as error:
        return f"{path} cannot be imported ({error})."
    if not callable(function):
        return f"{path} is not a function."
    needed = [p for p in inspect.signature(function).parameters.values() if p.default is p.empty]
    return f"{path} asks for arguments." if needed else None


@register(Tags.security, deploy=True)
def demo_is_off(*, app_configs: Sequence[AppConfig] | None, **_: Any) -> list[CheckMessage]:
    """Warn of a real site that runs with the demo's known sign-ins."""
    if not settings.DEMO:
        return []
    return [
        Warning(
            "SPANWELL_DEMO is on: anybody can sign in with the demo's published passwords.",
            hint="Unset SPANWELL_DEMO for a real site.",
            id="spanwell.W001",
        )
    ]
