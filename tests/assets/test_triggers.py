"""Triggers stand aside for a migration and stand again after it, whatever their names were before."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import connection

from assets import triggers

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_migrate_makes_lost_triggers_anew_and_removes_those_of_an_earlier_release() -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(
                'CREATE TRIGGER "old_rule" BEFORE UPDATE ON "assets_area" BEGIN SELECT RAISE(ABORT, \'old\'); END'
            )
            cursor.execute('DROP TRIGGER "assets_event_no_update"')
        else:
            cursor.execute(
                'CREATE TRIGGER "old_rule" BEFORE UPDATE ON "assets_area" '
                'FOR EACH ROW EXECUTE FUNCTION "assets_event_no_update"()'
            )
            cursor.execute('DROP TRIGGER "assets_event_no_update" ON "assets_event"')
    assert triggers.missing(connection) == ["assets_event_no_update"]
    call_command("migrate", verbosity=0)
    assert triggers.missing(connection) == []
    assert "old_rule" not in triggers.present(connection)


def test_dropping_takes_every_trigger_away() -> None:
    triggers.drop(connection)
    assert triggers.present(connection) == set()
    triggers.install(connection=connection)
    assert triggers.missing(connection) == []
