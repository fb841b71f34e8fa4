"""manage.py work: the task worker alone, beside a web server that is run as a service of its own."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from spanwell.task_worker import end_with, work


class Command(BaseCommand):
    help = "Run the task worker alone, until Ctrl-C or SIGTERM. `serve` starts one by itself."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--parent", type=int, metavar="PID", help="end when this process ends")

    def handle(self, *_: Any, parent: int | None, **__: Any) -> None:
        if parent:
            end_with(parent)
        work()
