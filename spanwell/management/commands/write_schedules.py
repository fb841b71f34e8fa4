"""manage.py write_schedules: needed after an upgrade where web server and worker are run as two services."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from spanwell import schedules


class Command(BaseCommand):
    help = "Bring the task worker's schedules in line with spanwell/schedules.py. `serve` does it by itself."

    def handle(self, *_: Any, **__: Any) -> None:
        for line in schedules.write() or ["Nothing to change."]:
            self.stdout.write(line)
