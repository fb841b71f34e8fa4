"""Starting and stopping: the environment manage.py makes, what keeps a site from serving, and a clean end."""

from __future__ import annotations

import importlib.util
import os
import re
import select
import signal
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
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


# ------------------------------------------------------------------------------------------------------- the serving


@pytest.fixture(scope="module")
def site_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with a migrated SQLite database."""
    folder = tmp_path_factory.mktemp("site")
    command(folder, "migrate", "--verbosity=0")
    return folder


def environment(folder: Path) -> dict[str, str]:
    inherited = {name: value for name, value in os.environ.items() if not name.startswith(("SPANWELL_", "DJANGO_"))}
    return {**inherited, "SPANWELL_DATA": str(folder), "SPANWELL_NO_BOOTSTRAP": "1", "PYTHONUNBUFFERED": "1"}


def command(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), *arguments],
        env=environment(folder),
        capture_output=True,
        text=True,
        timeout=120,
    )


@pytest.fixture
def site(site_folder: Path) -> Iterator[subprocess.Popen[str]]:
    """`manage.py serve` on a free port of this machine."""
    served = subprocess.Popen(
        [sys.executable, str(ROOT / "manage.py"), "serve", "--listen", "127.0.0.1:0"],
        env=environment(site_folder),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    yield served
    if served.poll() is None:
        served.kill()
        served.wait(10)
    assert served.stdout
    served.stdout.close()


def address(site: subprocess.Popen[str]) -> str:
    assert site.stdout
    lines: list[str] = []
    while select.select([site.stdout], [], [], 60)[0] and (line := site.stdout.readline()):
        lines.append(line)
        if found := re.search(r"http://\S+", line):
            return found[0]
    pytest.fail("the site named no address:\n" + "".join(lines))


def last_words(site: subprocess.Popen[str]) -> str:
    """End a site and return what it wrote to its terminal."""
    site.terminate()
    assert site.stdout
    return site.stdout.read()


def children(pid: int) -> list[int]:
    """Return the processes that descend from one."""
    asked = subprocess.run(["ps", "-e", "-o", "pid=,ppid="], capture_output=True, text=True, check=True)
    pairs = [tuple(map(int, line.split())) for line in asked.stdout.splitlines()]
    found, look = [], [pid]
    while look:
        above = look.pop()
        below = [child for child, parent in pairs if parent == above]
        found += below
        look += below
    return found


def alive(pids: list[int]) -> list[int]:
    def is_alive(pid: int) -> bool:
        try:
            return "Z" not in Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
        except FileNotFoundError:
            return False

    return [pid for pid in pids if is_alive(pid)]


def gone_within(pids: list[int], seconds: float) -> bool:
    until = time.monotonic() + seconds
    while alive(pids) and time.monotonic() < until:
        time.sleep(0.1)
    return not alive(pids)


def wait_for_worker(site: subprocess.Popen[str]) -> list[int]:
    until = time.monotonic() + 30
    while len(found := children(site.pid)) < 4 and time.monotonic() < until:
        time.sleep(0.1)
    return found


@pytest.mark.sqlite
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_site_answers_and_stops_cleanly_with_all_it_started(
    site: subprocess.Popen[str], number: signal.Signals
) -> None:
    place = address(site)
    try:
        status = urllib.request.urlopen(place, timeout=20).status
    except urllib.error.HTTPError as error:
        status = error.code
    assert status < 500, last_words(site)
    started = wait_for_worker(site)
    assert started
    site.send_signal(number)
    assert site.wait(40) == 0
    assert gone_within(started, 5)


@pytest.mark.sqlite
@pytest.mark.skipif(sys.platform != "linux", reason="the parent-death signal is Linux's own")
def test_a_killed_site_leaves_no_worker_behind(site: subprocess.Popen[str]) -> None:
    address(site)
    started = wait_for_worker(site)
    site.kill()
    assert gone_within(started, 20)


@pytest.mark.sqlite
def test_a_site_ends_with_a_sentence_when_its_worker_dies(site: subprocess.Popen[str]) -> None:
    address(site)
    started = wait_for_worker(site)
    os.kill(started[0], signal.SIGKILL)
    assert site.wait(40) == 1
    assert site.stdout
    assert "task worker stopped by itself" in site.stdout.read()
    assert gone_within(started, 5)


@pytest.mark.sqlite
def test_a_second_start_on_the_same_port_is_refused_and_the_first_goes_on(
    site: subprocess.Popen[str], site_folder: Path
) -> None:
    place = address(site)
    port = re.search(r":(\d+)/", place)
    assert port
    second = command(site_folder, "serve", "--listen", f"127.0.0.1:{port[1]}")
    assert second.returncode == 1
    assert "choose another port with --listen" in second.stderr
    assert site.poll() is None


@pytest.mark.sqlite
def test_an_empty_database_is_not_served_and_the_command_that_helps_is_named(tmp_path: Path) -> None:
    refused = command(tmp_path, "serve")
    assert refused.returncode == 1
    assert "migrations are pending" in refused.stderr
    assert "manage.py migrate" in refused.stderr


@pytest.mark.sqlite
def test_a_database_robbed_of_a_trigger_is_not_served_until_migrate_mends_it(site_folder: Path, tmp_path: Path) -> None:
    lost = triggers.wanted()[0].name
    with sqlite3.connect(site_folder / "spanwell.sqlite3") as whole:
        whole.execute("VACUUM INTO ?", (str(tmp_path / "spanwell.sqlite3"),))
    whole.close()
    with sqlite3.connect(tmp_path / "spanwell.sqlite3") as database:
        database.execute(f'DROP TRIGGER "{lost}"')
    database.close()
    refused = command(tmp_path, "serve")
    assert refused.returncode == 1
    assert lost in refused.stderr
    assert "manage.py migrate" in refused.stderr
    assert command(tmp_path, "migrate", "--verbosity=0").returncode == 0
    badly_addressed = command(tmp_path, "serve", "--listen", "nowhere")
    assert "is not an address" in badly_addressed.stderr
