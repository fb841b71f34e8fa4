"""Compare every stored due item with the facts, now; changes nothing."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from assets.models import Site
from maintenance.reads.nightly import differences


class Command(BaseCommand):
    """Prints every difference; ends with an error when there is one."""

    help = "Compares every stored due item with one worked out anew from the facts. Changes nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take one site by name, else all."""
        parser.add_argument("--site", help="name of one site; all sites without it")

    def handle(self, *args: Any, **options: Any) -> None:
        """Compare, print, and count."""
        sites = Site.objects.filter(name=options["site"]) if options["site"] else Site.objects.all()
        if options["site"] and not sites.exists():
            raise CommandError(f"There is no site named {options['site']}.")
        found = 0
        for site in sites.order_by("pk"):
            for difference in differences(site, timezone.now().astimezone(site.zone).date()):
                self.stdout.write(f"{site}: {difference}")
                found += 1
        if found:
            raise CommandError(f"{found} due items differ from the facts. Nothing was changed.")
        self.stdout.write("Every stored due item agrees with the facts.")
