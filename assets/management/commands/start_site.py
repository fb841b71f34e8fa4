"""Start a site: its name, its zone, its first supervisor and administrator."""

from __future__ import annotations

import getpass
import os
import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from assets.actions import NewPerson, SiteFacts, start_site
from assets.errors import Refusal


class Command(BaseCommand):
    help = (
        "Register a site with its first supervisor and, if named, an administrator. Asks for what is not given. "
        "Passwords are never arguments: they are asked twice, or read from SPANWELL_SUPERVISOR_PASSWORD and "
        "SPANWELL_ADMINISTRATOR_PASSWORD, or from the lines of the standard input with --passwords-from-stdin."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--name", help="of the site")
        parser.add_argument("--time-zone", help="like America/Denver")
        parser.add_argument("--units", choices=["SI", "US"], default="SI")
        parser.add_argument("--decimal-mark", choices=[".", ","], default=".")
        parser.add_argument("--address", default="", help="of the pages, like https://spanwell.example.org")
        parser.add_argument("--phone", default="", help="of the supervisor, whom people ask")
        for who in ("supervisor", "administrator"):
            parser.add_argument(f"--{who}", help=f"name of the {who}")
            parser.add_argument(f"--{who}-sign-in", help=f"sign-in name of the {who}")
        parser.add_argument("--no-administrator", action="store_true", help="the supervisor keeps the people too")
        parser.add_argument("--passwords-from-stdin", action="store_true", help="the supervisor's, then the other's")

    def handle(self, *_args: Any, **given: Any) -> None:
        site = SiteFacts(
            name=self.asked(given, "name", "Name of the site"),
            time_zone=self.asked(given, "time_zone", "Time zone, like America/Denver"),
            unit_system=given["units"],
            decimal_mark=given["decimal_mark"],
            address=given["address"],
            ask_name=self.asked(given, "supervisor", "Name of the first supervisor"),
            ask_phone=given["phone"],
        )
        supervisor = self.person(given, "supervisor", phone=given["phone"])
        administrator = None if given["no_administrator"] else self.person(given, "administrator")
        try:
            made = start_site(site=site, supervisor=supervisor, administrator=administrator, by=None)
        except Refusal as refusal:
            raise CommandError(f"Nothing was written. {refusal}") from refusal
        self.stdout.write(f"{made.name} is started. {supervisor.name} signs in as {supervisor.sign_in}.")

    def person(self, given: dict[str, Any], who: str, *, phone: str = "") -> NewPerson:
        name = self.asked(given, who, f"Name of the first {who}")
        sign_in = self.asked(given, f"{who}_sign_in", f"Sign-in name of {name}")
        return NewPerson(name=name, sign_in=sign_in, phone=phone, password=self.password(given, who, name))

    def asked(self, given: dict[str, Any], name: str, question: str) -> str:
        """Return what was given, or ask for it once and remember the answer."""
        if not given[name]:
            if not sys.stdin.isatty():
                raise CommandError(f"{question}: give it as --{name.replace('_', '-')}.")
            given[name] = input(f"{question}: ").strip()
        return str(given[name])

    def password(self, given: dict[str, Any], who: str, name: str) -> str:
        if given["passwords_from_stdin"]:
            return sys.stdin.readline().rstrip("\n")
        from_outside = os.environ.get(f"SPANWELL_{who.upper()}_PASSWORD", "")
        if from_outside:
            return from_outside
        if not sys.stdin.isatty():
            raise CommandError(
                f"No password for {name}: set SPANWELL_{who.upper()}_PASSWORD or --passwords-from-stdin."
            )
        first = getpass.getpass(f"Password of {name}: ")
        if getpass.getpass("The same again: ") != first:
            raise CommandError("The two were not the same. Nothing was written.")
        return first
