"""The plant, its people and the history."""

from __future__ import annotations

from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate, pre_migrate


def install_triggers(*, using: str, **_: object) -> None:
    """Make the triggers anew after a migration of any app."""
    from assets import triggers

    triggers.install(connection=connections[using])


def drop_triggers(*, using: str, **_: object) -> None:
    """Take the triggers away before a migration of any app, which may rebuild the tables that they name."""
    from assets import triggers

    triggers.drop(connections[using])


class AssetsConfig(AppConfig):
    """Takes the triggers of every app away before each migrate and makes them anew after it."""

    name = "assets"
    verbose_name = "Plant"

    def ready(self) -> None:
        """Connect the triggers; the second signal comes after the tables of all apps exist."""
        pre_migrate.connect(drop_triggers, sender=self, dispatch_uid="assets.triggers.before")
        post_migrate.connect(install_triggers, sender=self, dispatch_uid="assets.triggers")
