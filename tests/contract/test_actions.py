"""What holds for every action: keyword-only, says who, one event of its own verb; none is reached by time alone."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from assets import hooks
from spanwell import schedules

ROOT = Path(__file__).resolve().parents[2]
OURS = ("assets", "maintenance", "calibration")


def modules_of(name: str) -> Iterator[ModuleType]:
    """Yield a module and, if it is a package, everything in it."""
    module = importlib.import_module(name)
    yield module
    for found in pkgutil.iter_modules(getattr(module, "__path__", [])):
        yield from modules_of(f"{name}.{found.name}")


def actions() -> Iterator[tuple[str, Callable[..., Any]]]:
    """Yield every public function defined in an app's actions."""
    for app in OURS:
        for module in modules_of(f"{app}.actions"):
            for name, thing in vars(module).items():
                if inspect.isfunction(thing) and thing.__module__ == module.__name__ and not name.startswith("_"):
                    yield f"{module.__name__}.{name}", thing


def opens_an_act(function: Callable[..., Any]) -> bool:
    return " act(" in inspect.getsource(function) or "history.act(" in inspect.getsource(function)


ACTIONS = [(path, function) for path, function in actions() if opens_an_act(function)]


def test_there_are_actions_in_every_app() -> None:
    assert {path.split(".")[0] for path, _ in ACTIONS} == set(OURS)
    assert len(ACTIONS) > 50


@pytest.mark.parametrize(("path", "function"), ACTIONS, ids=[path for path, _ in ACTIONS])
def test_an_action_takes_keywords_and_says_by_whom(path: str, function: Callable[..., Any]) -> None:
    parameters = inspect.signature(inspect.unwrap(function)).parameters.values()
    assert all(p.kind in {p.KEYWORD_ONLY, p.VAR_KEYWORD} for p in parameters)
    assert {"by", "proof"} & {p.name for p in parameters}


def written_verbs(function: Callable[..., Any]) -> list[str]:
    """Return the constant verbs that a function's own text writes."""
    tree = ast.parse(inspect.cleandoc("\n" + inspect.getsource(function)))
    return [
        node.args[0].value
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "write"
        and node.args
        and isinstance(node.args[0], ast.Constant)
        and isinstance(node.args[0].value, str)
    ]


@pytest.mark.parametrize(("path", "function"), ACTIONS, ids=[path for path, _ in ACTIONS])
def test_an_action_writes_at_most_one_event_of_one_verb(path: str, function: Callable[..., Any]) -> None:
    assert len(set(written_verbs(function))) <= 1


def test_the_takers_of_every_hook_are_known() -> None:
    takers = {
        name: sorted(taker.__module__ for taker in getattr(hooks, name))
        for name in vars(hooks)
        if isinstance(getattr(hooks, name), list)
    }
    assert set(takers) == {
        "after_start_site",
        "after_fit",
        "after_take_out",
        "before_retire",
        "after_retire",
        "after_days_change",
        "after_running_change",
        "after_reading",
    }
    assert takers["after_start_site"] == ["calibration.actions.tables"]
    assert any(module.startswith("maintenance.actions") for module in takers["after_fit"])
    assert any(module.startswith("maintenance.actions") for module in takers["before_retire"])
    assert any(module.startswith("maintenance.actions") for module in takers["after_retire"])


def test_every_schedule_names_a_task_without_arguments() -> None:
    assert schedules.PERIODIC
    for task in schedules.PERIODIC:
        module, _, name = task.path.rpartition(".")
        function = getattr(importlib.import_module(module), name)
        assert not inspect.signature(function).parameters, task.path


def test_no_task_can_take_a_lock_off() -> None:
    # Time never releases a lock: no task may reach the actions that do.
    for app in OURS:
        for path in [ROOT / app / "tasks.py", *(ROOT / app / "tasks").rglob("*.py")]:
            if path.exists():
                assert "lockout" not in path.read_text(encoding="utf-8")
