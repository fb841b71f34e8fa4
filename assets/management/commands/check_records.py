"""Prove the record, and name what does not agree."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from assets.models import Event
from assets.reads.records import Head, check_records, digested_models, read_heads


class Command(BaseCommand):
    help = (
        "Prove every chain of the history and every kept row; ends with 1 and names each fault. With --heads, also "
        "that no chain was cut or rewritten since the heads were written. Passwords and PINs are not part of the proof."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--heads", metavar="FILE", action="append", default=[], help="a file that write_heads wrote"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        known = [head for name in options["heads"] for head in self.heads_in(Path(name))]
        faults = check_records(known)
        for fault in faults:
            self.stdout.write(str(fault))
        if faults:
            raise CommandError(f"{len(faults)} faults; the first: {faults[0]}")
        rows = sum(model._default_manager.count() for model in digested_models())
        beside = f", {len(known)} heads agree" if known else "; no heads given, so a cut end would not show"
        self.stdout.write(f"No fault: {Event.objects.count()} events, {rows} rows{beside}.")

    def heads_in(self, path: Path) -> tuple[Head, ...]:
        try:
            return read_heads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError) as error:
            raise CommandError(f"{path} cannot be read as heads: {error}") from error
