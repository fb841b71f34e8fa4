"""Take the tables of the solutions into the database."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from calibration.actions.tables import load_standard_tables, own_files


class Command(BaseCommand):
    """Take the buffers, conductivity and redox solutions into the database; repeating it changes nothing."""

    help = "Takes the solutions of fixtures/tables into the database, with their sources. Repeating it changes nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        """Load the tables and say how many were new."""
        new = load_standard_tables(files=own_files(), by=None)
        self.stdout.write(f"{new} tables of solutions taken in." if new else "The tables of solutions are up to date.")
