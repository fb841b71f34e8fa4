"""Take the buffers' tables at temperature into the database."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from calibration.actions.tables import load_buffer_tables


class Command(BaseCommand):
    """Take the buffers' tables at temperature into the database; repeating it changes nothing."""

    help = "Takes the buffers of fixtures/tables/ph_buffers.csv into the database. Repeating it changes nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        """Load the tables and say how many were new."""
        path = settings.BASE_DIR / "fixtures" / "tables" / "ph_buffers.csv"
        new = load_buffer_tables(text=path.read_text(encoding="utf-8"), by=None)
        self.stdout.write(f"{new} tables of buffers taken in." if new else "The tables of the buffers are up to date.")
