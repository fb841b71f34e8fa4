"""manage.py demo: an invented plant to look at, served from a folder of its own."""

from __future__ import annotations

import socket
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from spanwell.demo import keepsake
from spanwell.demo.building import NotADemo, build
from spanwell.serving import DEFAULT_LISTEN, EVERYWHERE, LOCAL, CannotServe, serve


class Command(BaseCommand):
    help = "Serve an invented plant with a year and a half of history, until Ctrl-C. What you change in it is kept."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--listen", default=DEFAULT_LISTEN, metavar="ADDRESS:PORT", help="default: %(default)s")
        parser.add_argument("--fresh", action="store_true", help="throw the demo plant away and write it anew")
        parser.add_argument("--build-only", action="store_true", help="write the plant and say its sign-ins, no more")

    def handle(self, *_: Any, listen: str, fresh: bool, build_only: bool, **__: Any) -> None:
        address = address_for(listen)
        if not build_only:
            refuse_taken_port(listen)
        try:
            kept = build(fresh=fresh, address=address, say=self.say)
        except NotADemo as reason:
            raise CommandError(str(reason)) from reason
        greeting = tuple(keepsake.lines(kept, address=address))
        if build_only:
            for line in greeting:
                self.say(line)
            return
        try:
            serve(listen=listen, say=self.say, greeting=greeting)
        except CannotServe as reason:
            raise CommandError(str(reason)) from reason

    def say(self, line: str) -> None:
        """Say a line at once, also where the terminal is a pipe."""
        self.stdout.write(line)
        self.stdout.flush()


def refuse_taken_port(listen: str) -> None:
    """Refuse before anything is written or thrown away: what uses the port may be this very demo."""
    host, _, port = listen.rpartition(":")
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        if not host:
            raise ValueError(f"it has no address; write it like {DEFAULT_LISTEN}")
        with socket.socket(family) as trial:
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            trial.bind((host.strip("[]"), int(port)))
    except (OSError, ValueError, OverflowError) as error:
        raise CommandError(
            f"--listen {listen} cannot be used ({error}). Stop the other program, or choose another port: "
            f"--listen {LOCAL}:8001."
        ) from error


def address_for(listen: str) -> str:
    """Return what a person types into a browser on this machine: http://localhost:8000."""
    host, _, port = listen.rpartition(":")
    return f"http://{'localhost' if host.strip('[]') in EVERYWHERE else host}:{port}"
