"""manage.py serve: a real site, web server and task worker together."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from spanwell.serving import DEFAULT_LISTEN, LOCAL, CannotServe, serve


class Command(BaseCommand):
    help = "Run the site: web server and task worker, until Ctrl-C or SIGTERM."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--listen", default=DEFAULT_LISTEN, metavar="ADDRESS:PORT", help="default: %(default)s")
        parser.add_argument(
            "--proxy",
            default=LOCAL,
            metavar="ADDRESS",
            help="with SPANWELL_BEHIND_PROXY: the one machine whose X-Forwarded headers count; default: %(default)s",
        )

    def handle(self, *_: Any, listen: str, proxy: str, **__: Any) -> None:
        try:
            serve(listen=listen, proxy=proxy, say=lambda line: print(line, flush=True))
        except CannotServe as reason:
            raise CommandError(str(reason)) from reason
