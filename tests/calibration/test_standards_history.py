"""Rows that earlier events name by a table's former label stay proven, and altering one is still found."""

from __future__ import annotations

import pytest
from django.db import connection

from assets import history
from assets.history import row_digest
from assets.reads.records import check_records
from assets.triggers import drop, install
from calibration.models import StandardKind

pytestmark = pytest.mark.django_db


def test_a_kind_written_under_the_tables_former_name_is_proven() -> None:
    with history.act(site=None, by=None) as act:
        kind = StandardKind.objects.create(code="phosphate", name="Phosphate", nominal="6.86")
        act.rows.append(["calibration.bufferkind", str(kind.pk), row_digest(kind)])
        act.write("buffer_tables.loaded", subject=kind)
    assert check_records() == []
    drop(connection)
    StandardKind.objects.filter(pk=kind.pk).update(nominal="7.00")
    install(connection=connection)
    assert [fault.what.split(":")[-1] for fault in check_records()] == [" altered from outside."]
