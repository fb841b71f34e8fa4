"""Starting: the environment manage.py makes, the system checks, the table of periodic tasks."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from django.db import connection
from django_q.models import Schedule

from assets import triggers
from spanwell import checks, schedules
from spanwell.schedules import Periodic

ROOT = Path(__file__).resolve().parents[2]


# ------------------------------------------------------------------------------------------------- the environment


@pytest.fixture
def manage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """manage.py as a module, moved to an empty folder with two small locks."""
    spec = importlib.util.spec_from_file_location("manage_under_test", ROOT / "manage.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    venv = tmp_path / ".venv"
    for name, value in {
        "ROOT": tmp_path,
        "VENV": venv,
        "PYTHON": venv / "bin/python",
        "RUNTIME": tmp_path / "requirements.lock",
        "DEVELOPMENT": tmp_path / "requirements-dev.lock",
    }.items():
        monkeypatch.setattr(module, name, value)
    module.RUNTIME.write_text("a==1\n")
    module.DEVELOPMENT.write_text("a==1\nb==2\n")
    return module


def test_an_old_python_is_refused_in_a_sentence_that_names_the_version_needed(
    manage: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(manage.sys, "version_info", (3, 9, 2))
    monkeypatch.setattr(manage.shutil, "which", lambda name: "/usr/bin/x" if name == "python3.12" else None)
    assert manage.main() == 1
    said = capsys.readouterr().err
    assert "needs Python 3.11 or newer; this is Python 3.9" in said
    assert "python3.12 manage.py" in said


def test_a_python_without_venv_is_told_what_to_install_and_leaves_no_half_environment(
    manage: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def no_ensurepip(folder: Path, **_: Any) -> None:
        (folder / "bin").mkdir(parents=True)
        raise subprocess.CalledProcessError(1, ["ensurepip"])

    monkeypatch.setattr("venv.create", no_ensurepip)
    with pytest.raises(SystemExit) as ended:
        manage.make_venv()
    assert ended.value.code == 1
    assert "apt install python3-venv" in capsys.readouterr().err
    assert not manage.VENV.exists()


@pytest.fixture
def installs(manage: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Record the locks that would be installed, without installing."""
    done: list[str] = []

    def run(command: list[Any], **_: Any) -> subprocess.CompletedProcess[bytes]:
        if "install" in command:
            done.append(Path(command[-1]).name)
        return subprocess.CompletedProcess(command, 0)

    def create(folder: Path, **_: Any) -> None:
        (folder / "bin").mkdir(parents=True)
        (folder / "bin/python").touch()

    monkeypatch.setattr(manage.subprocess, "run", run)
    monkeypatch.setattr("venv.create", create)
    monkeypatch.setattr(manage.sys, "prefix", str(manage.VENV))
    return done


def test_a_lock_is_installed_once_and_again_only_when_it_changed(manage: ModuleType, installs: list[str]) -> None:
    manage.ensure_environment(manage.RUNTIME)
    manage.ensure_environment(manage.RUNTIME)
    assert installs == ["requirements.lock"]
    manage.RUNTIME.write_text("a==2\n")
    manage.ensure_environment(manage.RUNTIME)
    assert installs == ["requirements.lock"] * 2


def test_after_the_development_lock_nothing_is_installed_for_the_site(manage: ModuleType, installs: list[str]) -> None:
    manage.ensure_environment(manage.DEVELOPMENT)
    manage.ensure_environment(manage.RUNTIME)
    assert installs == ["requirements-dev.lock"]


def test_a_failed_installation_is_tried_again(manage: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("venv.create", lambda folder, **_: (folder / "bin").mkdir(parents=True))
    monkeypatch.setattr(manage.subprocess, "run", lambda command, **_: subprocess.CompletedProcess(command, 1))
    with pytest.raises(SystemExit):
        manage.ensure_environment(manage.RUNTIME)
    assert not manage.is_current(manage.RUNTIME)


# -------------------------------------------------------------------------------------------------------- the checks


def test_the_drive_of_a_folder_is_that_of_the_longest_mount_point_above_it() -> None:
    mounts = [("/", "ext4"), ("/srv", "ext4"), ("/srv/plant", "nfs4")]
    assert checks.kind_of_drive(Path("/srv/plant/data"), mounts) == "nfs4"
    assert checks.kind_of_drive(Path("/srv/planted"), mounts) == "ext4"


def test_sqlite_on_a_network_drive_is_refused(monkeypatch: pytest.MonkeyPatch, settings: Any) -> None:
    monkeypatch.setattr(checks, "mounted", lambda: [("/", "nfs4")])
    monkeypatch.setitem(settings.DATABASES["default"], "ENGINE", "django.db.backends.sqlite3")
    assert [fault.id for fault in checks.sqlite_is_on_a_local_drive(app_configs=None)] == ["spanwell.E001"]
    monkeypatch.setitem(settings.DATABASES["default"], "ENGINE", "django.db.backends.postgresql")
    assert checks.sqlite_is_on_a_local_drive(app_configs=None) == []


def test_a_task_that_may_outlive_its_turn_is_refused(settings: Any) -> None:
    settings.Q_CLUSTER = {"timeout": 120, "retry": 120}
    assert [fault.id for fault in checks.tasks_are_handed_out_once(app_configs=None)] == ["spanwell.E003"]


@pytest.mark.django_db
def test_a_lost_trigger_is_found_and_migrate_brings_it_back() -> None:
    def ask() -> list[str]:
        return [str(fault.msg) for fault in checks.triggers_stand(app_configs=None, databases=["default"])]

    assert ask() == []
    triggers.drop(connection)
    assert "does not hold" in ask()[0]
    triggers.install(connection=connection)
    assert ask() == []


# ------------------------------------------------------------------------------------------------------ the schedules


def test_every_periodic_task_can_be_called_without_arguments() -> None:
    assert [why for task in schedules.PERIODIC if (why := checks.cannot_run(task.path))] == []


@pytest.mark.parametrize(
    ("path", "why"),
    [
        ("spanwell.nowhere.task", "cannot be imported"),
        ("spanwell.schedules.PERIODIC", "is not a function"),
        ("spanwell.checks.cannot_run", "asks for arguments"),
    ],
)
def test_a_path_that_cannot_run_is_named_with_the_reason(path: str, why: str) -> None:
    assert why in str(checks.cannot_run(path))


@pytest.mark.django_db
def test_schedule_rows_are_made_equal_to_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    nightly = Periodic("nightly", "spanwell.schedules.write", "hourly", "for the test")
    monkeypatch.setattr(schedules, "PERIODIC", (nightly,))
    Schedule.objects.create(name="stray", func="os.getcwd", schedule_type=Schedule.DAILY)
    Schedule.objects.create(name="nightly", func="spanwell.schedules.write", schedule_type="H", args="oops")
    assert len(schedules.write()) == 2
    rows = list(Schedule.objects.values_list("name", "func", "schedule_type", "args", "repeats"))
    assert rows == [("nightly", "spanwell.schedules.write", "H", None, -1)]
    assert schedules.write() == []


HEAVY = {"numpy", "openpyxl", "pandas", "pint", "scipy"}
LOAD_ALL = "import django, sys; django.setup(); import spanwell.urls"


def test_loading_the_whole_site_loads_no_heavy_library() -> None:
    """Every command waits for what it loads; these are loaded by the function that needs them."""
    told = subprocess.run(
        [sys.executable, "-c", f"{LOAD_ALL}; print(*{HEAVY} & sys.modules.keys())"],
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings"},
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert (told.stdout.strip(), told.returncode) == ("", 0), told.stderr
