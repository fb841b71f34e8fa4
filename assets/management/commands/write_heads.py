"""Write the head of every chain to a file outside the database."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from assets import tasks


class Command(BaseCommand):
    help = "Write the number and hash of the last event of every chain, to be kept where the database's keeper is not."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", nargs="?", help="where to; without it, a new file in the data folder")

    def handle(self, *_args: Any, **options: Any) -> None:
        name = f"{timezone.now():%Y-%m-%dT%H%M%S}.txt"
        path = Path(options["file"]) if options["file"] else tasks.folder() / name
        if path.exists():
            raise CommandError(f"{path} is there already and is not overwritten; name another file.")
        try:
            tasks.write_heads(path)
        except OSError as error:
            raise CommandError(f"{path} cannot be written: {error.strerror}.") from error
        self.stdout.write(f"Written: {path}")
