"""Rows of locks written by hand, past every rule but those the database keeps."""

from __future__ import annotations

from django.db import connection, transaction
from django.utils import timezone

from tests.make_locks import Pump


def raw(statement: str, *values: object) -> None:
    """Run one statement as the database's own tool would; the constraint or trigger must refuse it."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, values)


def insert_application(pump: Pump, **other: object) -> None:
    now = timezone.now()
    given = {
        "lockout_id": pump.lockout.pk,
        "number": 900,
        "lock_id": pump.locks["44"].pk,
        "point_id": pump.points["V-22"].pk,
        "box_id": None,
        "applied_by_id": pump.ben.pk,
        "applied_at": now,
        "recorded_at": now,
        **other,
    }
    columns = ", ".join(given)
    marks = ", ".join(["%s"] * len(given))
    raw(f"INSERT INTO maintenance_application ({columns}) VALUES ({marks})", *given.values())


def insert_entry(pump: Pump, kind: str, **other: object) -> None:
    now = timezone.now()
    given = {
        "lockout_id": pump.lockout.pk,
        "number": 900,
        "kind": kind,
        "topic": "",
        "answer": "",
        "text": "",
        "happened_at": now,
        "recorded_at": now,
        "by_id": pump.ana.pk,
        **other,
    }
    columns = ", ".join(given)
    marks = ", ".join(["%s"] * len(given))
    raw(f"INSERT INTO maintenance_lockoutentry ({columns}) VALUES ({marks})", *given.values())


def remove_raw(pump: Pump, number: str, by: int) -> None:
    raw(
        "UPDATE maintenance_application SET removed_at = %s, removed_by_id = %s, removed_number = 950 WHERE id = %s",
        timezone.now(),
        by,
        pump.application(number).pk,
    )
