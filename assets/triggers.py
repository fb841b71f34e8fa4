"""Rules of rows that the database itself keeps, on SQLite and PostgreSQL alike.

Each model says in `kept` how its rows may change and in `guards` what no insert or update may do. The triggers are made
anew after every migrate, because SQLite drops a table's triggers whenever a later migration rebuilds the table.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from django.apps import apps
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper


@dataclass(frozen=True, slots=True)
class Kept:
    """How the rows of a table may change; `closes` names the columns that may be set once, from NULL to a value."""

    kind: Literal["append only", "close once", "changes", "scratch"]
    closes: tuple[str, ...] = ()


APPEND_ONLY = Kept("append only")
CHANGES = Kept("changes")
SCRATCH = Kept("scratch")


def close_once(*columns: str) -> Kept:
    """Rows whose beginning is fixed and whose named end columns are set once."""
    return Kept("close once", columns)


@dataclass(frozen=True, slots=True)
class Guard:
    """A sentence no insert or update may break: SQL over NEW (and OLD) that is true when the change is wrong."""

    name: str
    on: Literal["INSERT", "UPDATE"]
    wrong_when: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Trigger:
    """One trigger of one table, in the words of both databases."""

    table: str
    name: str
    on: str
    wrong_when: str
    sentence: str


def kept_models() -> Iterator[type[models.Model]]:
    """Yield every concrete model that states how its rows are kept."""
    for model in apps.get_models():
        if isinstance(getattr(model, "kept", None), Kept):
            yield model


def _changed_columns(model: type[models.Model], columns: list[str]) -> str:
    return " OR ".join(f'(NEW."{column}" IS DISTINCT FROM OLD."{column}")' for column in columns) or "1 = 0"


def _wrong_close(model: type[models.Model], closes: tuple[str, ...]) -> str:
    every = [str(field.column) for field in model._meta.concrete_fields]
    closing = [str(model._meta.get_field(name).column) for name in closes]  # type: ignore[union-attr]
    fixed = [column for column in every if column not in closing]
    twice = " OR ".join(f'(OLD."{c}" IS NOT NULL AND NEW."{c}" IS DISTINCT FROM OLD."{c}")' for c in closing)
    return f"{_changed_columns(model, fixed)} OR {twice}"


def triggers_of(model: type[models.Model]) -> list[Trigger]:
    """Return the triggers that keep one model's rows."""
    kept: Kept = model.kept  # type: ignore[attr-defined]
    table = model._meta.db_table
    label = str(model._meta.verbose_name)
    made: list[Trigger] = []
    if kept.kind == "append only":
        made.append(Trigger(table, f"{table}_no_update", "UPDATE", "1 = 1", f"A {label} is never changed."))
    if kept.kind == "close once":
        sentence = f"A {label} is never changed; its end is set once."
        made.append(Trigger(table, f"{table}_close_once", "UPDATE", _wrong_close(model, kept.closes), sentence))
    if kept.kind != "scratch":
        made.append(Trigger(table, f"{table}_no_delete", "DELETE", "1 = 1", f"A {label} is never deleted."))
    guards: tuple[Guard, ...] = getattr(model, "guards", ())
    made.extend(Trigger(table, f"{table}_{g.name}", g.on, g.wrong_when, g.sentence) for g in guards)
    return made


def wanted() -> list[Trigger]:
    """Return every trigger the database must hold."""
    return [trigger for model in kept_models() for trigger in triggers_of(model)]


def install(*, connection: BaseDatabaseWrapper, **_: Any) -> None:
    """Make every trigger anew; safe to repeat."""
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for trigger in wanted():
            if trigger.table in tables:
                for statement in _statements(trigger, connection.vendor):
                    cursor.execute(statement)


def _statements(trigger: Trigger, vendor: str) -> list[str]:
    sentence = trigger.sentence.replace("'", "''")
    if vendor == "sqlite":
        return [
            f'DROP TRIGGER IF EXISTS "{trigger.name}"',
            f'CREATE TRIGGER "{trigger.name}" BEFORE {trigger.on} ON "{trigger.table}" '
            f"WHEN {_sqlite(trigger.wrong_when)} "
            f"BEGIN SELECT RAISE(ABORT, '{sentence}'); END",
        ]
    row = "OLD" if trigger.on == "DELETE" else "NEW"
    sentence = sentence.replace("%", "%%")
    made = [
        f'CREATE OR REPLACE FUNCTION "{trigger.name}"() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN '
        f"IF {trigger.wrong_when} THEN RAISE EXCEPTION '{sentence}' USING ERRCODE = 'restrict_violation'; END IF; "
        f"RETURN {row}; END $$",
        f'CREATE OR REPLACE TRIGGER "{trigger.name}" BEFORE {trigger.on} ON "{trigger.table}" '
        f'FOR EACH ROW EXECUTE FUNCTION "{trigger.name}"()',
    ]
    if trigger.on == "DELETE":
        made += [
            f'CREATE OR REPLACE FUNCTION "{trigger.name}_all"() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN '
            f"RAISE EXCEPTION '{sentence}' USING ERRCODE = 'restrict_violation'; END $$",
            f'CREATE OR REPLACE TRIGGER "{trigger.name}_all" BEFORE TRUNCATE ON "{trigger.table}" '
            f'FOR EACH STATEMENT EXECUTE FUNCTION "{trigger.name}_all"()',
        ]
    return made


def _sqlite(condition: str) -> str:
    # SQLite before 3.39 does not know IS DISTINCT FROM; IS NOT means the same there.
    return condition.replace("IS NOT DISTINCT FROM", "IS").replace("IS DISTINCT FROM", "IS NOT")


def present(connection: BaseDatabaseWrapper) -> set[str]:
    """Return the names of the triggers the database holds."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal")
        return {row[0] for row in cursor.fetchall()}


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """Return the names of wanted triggers that the database lacks."""
    here = present(connection)
    return [trigger.name for trigger in wanted() if trigger.name[:63] not in here]


def drop(connection: BaseDatabaseWrapper) -> None:
    """Remove every trigger, those of earlier releases too: before a migration rebuilds tables, and in tests that end
    by emptying them. SQLite refuses to rebuild a table that another table's trigger names.
    """
    tables = {model._meta.db_table for model in kept_models()}
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute(
                "SELECT tgname, relname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid WHERE NOT tgisinternal"
            )
        for name, table in cursor.fetchall():
            if table in tables:
                on = "" if connection.vendor == "sqlite" else f' ON "{table}"'
                cursor.execute(f'DROP TRIGGER IF EXISTS "{name}"{on}')
