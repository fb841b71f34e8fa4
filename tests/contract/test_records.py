"""What holds for every table: it says how its rows are kept, and the database keeps them so."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from django.apps import apps
from django.db import connection, models

from assets import triggers
from assets.triggers import Kept

ROOT = Path(__file__).resolve().parents[2]
OURS = ("assets", "maintenance", "calibration")
MODELS = [model for app in OURS for model in apps.get_app_config(app).get_models()]


@pytest.mark.parametrize("model", MODELS, ids=lambda m: m._meta.label_lower)
def test_every_table_says_how_its_rows_are_kept(model: type[models.Model]) -> None:
    assert isinstance(getattr(model, "kept", None), Kept)


@pytest.mark.parametrize("model", MODELS, ids=lambda m: m._meta.label_lower)
def test_nothing_that_is_kept_is_deleted_along_with_something_else(model: type[models.Model]) -> None:
    if model.kept.kind == "scratch":  # type: ignore[attr-defined]
        return
    cascading = [
        field.name
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey) and field.remote_field.on_delete is not models.PROTECT
    ]
    assert not cascading


@pytest.mark.parametrize("model", MODELS, ids=lambda m: m._meta.label_lower)
def test_every_constraint_that_people_can_break_speaks_in_a_sentence(model: type[models.Model]) -> None:
    for constraint in model._meta.constraints:
        text = str(constraint.violation_error_message or "")
        if constraint.violation_error_message != constraint.default_violation_error_message:
            assert text.endswith("."), f"{constraint.name}: {text}"


@pytest.mark.django_db
def test_the_database_holds_every_trigger() -> None:
    assert len(triggers.wanted()) > 40
    assert triggers.missing(connection) == []


def test_trigger_names_fit_both_databases() -> None:
    names = [trigger.name for trigger in triggers.wanted()]
    assert len(set(names)) == len(names)
    assert [name for name in names if len(f"{name}_all") > 63] == []


def calls_in(path: Path, name: str) -> list[int]:
    """Return the lines on which something called `name` is called."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and (getattr(node.func, "id", None) == name or getattr(node.func, "attr", None) == name)
    ]


def test_proofs_are_built_by_the_one_module_that_checks_secrets() -> None:
    builders = {
        str(path.relative_to(ROOT))
        for room in (*OURS, "spanwell")
        for path in (ROOT / room).rglob("*.py")
        if calls_in(path, "Proof")
    }
    assert builders == {"assets/proofs.py"}


def test_only_the_demo_stands_in_for_a_persons_proof() -> None:
    users = {
        path.relative_to(ROOT).parts[:2]
        for room in (*OURS, "spanwell")
        for path in (ROOT / room).rglob("*.py")
        if calls_in(path, "demo_proof")
    }
    assert users <= {("spanwell", "demo")}


def test_only_the_history_opens_a_writing_transaction() -> None:
    # The schedules' rows belong to django-q2 and are no record of the plant.
    allowed = {"assets/history.py", "spanwell/schedules.py"}
    openers = {
        str(path.relative_to(ROOT))
        for room in (*OURS, "spanwell")
        for path in (ROOT / room).rglob("*.py")
        if "migrations" not in path.parts and calls_in(path, "atomic")
    }
    assert openers <= allowed
