"""The plant, its people and the history."""

from __future__ import annotations

from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate


def install_triggers(*, using: str, **_: object) -> None:
    """Make the triggers anew after a migration of any app."""
    from assets import triggers

    triggers.install(connection=connections[using])


class AssetsConfig(AppConfig):
    """Installs the triggers of every app after each migrate."""

    name = "assets"
    verbose_name = "Plant"

    def ready(self) -> None:
        """Connect the triggers; the signal comes after the tables of all apps exist."""
        post_migrate.connect(install_triggers, sender=self, dispatch_uid="assets.triggers")
