"""The import contracts of pyproject.toml, tried on a small tree: each catches the fault it was written for."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MODULES = [
    *[f"{app}/__init__.py" for app in ("spanwell", "assets", "calibration", "maintenance")],
    *[f"{app}/{room}/__init__.py" for app in ("assets", "calibration") for room in ("compute", "migrations")],
    *[f"assets/{name}.py" for name in ("models", "queries", "reads", "actions", "views", "urls", "errors")],
    *[f"calibration/{name}.py" for name in ("models", "actions", "views")],
    "spanwell/pages/__init__.py",
    "spanwell/pages/today.py",
    "spanwell/urls.py",
]


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    for name in MODULES:
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def broken_contracts(tree: Path) -> set[str]:
    linter = Path(sys.executable).parent / "lint-imports"
    done = subprocess.run([linter, "--no-cache"], cwd=tree, capture_output=True, text=True)
    lines = done.stdout.splitlines()
    assert any(line.startswith("Contracts:") for line in lines), done.stdout + done.stderr
    return {line.split(" BROKEN")[0] for line in lines if " BROKEN" in line}


def test_a_tree_without_faults_passes(tree: Path) -> None:
    (tree / "spanwell/pages/today.py").write_text("from assets import reads\n")
    (tree / "assets/urls.py").write_text("from assets import views\n")
    (tree / "calibration/actions.py").write_text("from assets import actions, errors\nfrom calibration import models\n")
    assert broken_contracts(tree) == set()


@pytest.mark.parametrize(
    ("module", "line", "contract"),
    [
        ("assets/actions.py", "from calibration import models", "Apps point downwards"),
        ("assets/models.py", "from assets import views", "Inside an app, web code points to rules, never back"),
        ("assets/queries.py", "from assets import models", "Inside an app, web code points to rules, never back"),
        ("assets/helpers.py", "", "Inside an app, web code points to rules, never back"),
        ("spanwell/pages/today.py", "from spanwell import urls", "Inside spanwell, the address map points to pages"),
        ("spanwell/pages/today.py", "from assets import models", "Pages set apps side by side"),
        ("calibration/compute/ph.py", "from django.db import models", "Computations know no Django"),
        ("calibration/compute/ph.py", "from assets import models", "Computations know no Django"),
        ("assets/migrations/a0001.py", "from assets import models", "Migrations import nothing of ours"),
        ("calibration/views.py", "from assets import views", "Views, forms, admin and tasks of an app stay its own"),
    ],
)
def test_a_fault_is_caught_by_the_contract_written_for_it(tree: Path, module: str, line: str, contract: str) -> None:
    (tree / "assets/models.py").write_text("import django.db\n")
    (tree / module).write_text(line + "\n")
    assert any(name.startswith(contract) for name in broken_contracts(tree))
