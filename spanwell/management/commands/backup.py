"""manage.py backup: a copy of an SQLite site that can be restored and proved."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from spanwell.backup import NOTE, CannotBackUp, back_up


class Command(BaseCommand):
    help = (
        "Write a whole copy of an SQLite site, while it runs, into a new dated folder inside FOLDER, with the heads of "
        "its history and a note how to restore it. With PostgreSQL use pg_dump and write_heads."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", metavar="FOLDER", type=Path, help="on another disk than the site's, best")

    def handle(self, *_: Any, folder: Path, **__: Any) -> None:
        try:
            made = back_up(folder.resolve(), now=timezone.now())
        except CannotBackUp as reason:
            raise CommandError(str(reason)) from reason
        self.stdout.write(f"Written: {made}\nHow to restore it stands in {made / NOTE}")
