"""Serving: one process to start, to stop and to kill, and what keeps a site from being served."""

from __future__ import annotations

import os
import re
import select
import signal
import sqlite3
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from assets import triggers
from spanwell import task_worker
from tests.fresh import NAME, Fresh

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def site_folder(tmp_path_factory: pytest.TempPathFactory, fresh: Fresh) -> Path:
    """A data folder with a migrated SQLite database."""
    folder = tmp_path_factory.mktemp("site")
    fresh.copy_to(folder / NAME)
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


def processes() -> list[tuple[int, int, int]]:
    """Return process, parent and group of all that run; the dead that nobody has asked about yet are left out."""
    asked = subprocess.run(["ps", "-e", "-o", "pid=,ppid=,pgid=,stat="], capture_output=True, text=True, check=True)
    rows = [line.split() for line in asked.stdout.splitlines()]
    return [(int(pid), int(parent), int(group)) for pid, parent, group, state in rows if not state.startswith("Z")]


def group_of_worker(site: subprocess.Popen[str]) -> int:
    """Wait until the worker of a site is complete, and return the group all its processes are in."""
    until = time.monotonic() + 60
    while time.monotonic() < until:
        workers = [pid for pid, parent, group in processes() if parent == site.pid and group == pid]
        if workers and len(members(workers[0])) >= 5:
            return workers[0]
        time.sleep(0.1)
    pytest.fail("the site has no complete task worker:\n" + last_words(site))


def members(group: int) -> list[int]:
    return [pid for pid, _, its_group in processes() if its_group == group]


def gone_within(group: int, seconds: float) -> bool:
    until = time.monotonic() + seconds
    while members(group) and time.monotonic() < until:
        time.sleep(0.1)
    return not members(group)


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
    worker = group_of_worker(site)
    site.send_signal(number)
    assert site.wait(40) == 0
    assert gone_within(worker, 5)


@pytest.mark.sqlite
@pytest.mark.skipif(sys.platform != "linux", reason="the parent-death signal is Linux's own")
def test_a_killed_site_leaves_no_worker_behind(site: subprocess.Popen[str]) -> None:
    address(site)
    worker = group_of_worker(site)
    site.kill()
    assert gone_within(worker, 20)


def test_a_second_signal_does_not_enter_the_stopping_again(monkeypatch: pytest.MonkeyPatch) -> None:
    timers: list[tuple[float, Any]] = []

    def note(wait: float, act: Any) -> SimpleNamespace:
        timers.append((wait, act))
        return SimpleNamespace(start=lambda: None)

    monkeypatch.setattr(threading, "Timer", note)
    handlers = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        worker = task_worker.TaskWorker()
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)
    stops: list[str] = []

    def stop() -> None:
        stops.append("stop")
        worker.sig_handler(signal.SIGTERM, None)  # the next signal comes while this one is still being answered

    monkeypatch.setattr(worker, "stop", stop)
    worker.sig_handler(signal.SIGTERM, None)
    assert stops == ["stop"]
    assert timers == [(task_worker.PATIENCE_S, task_worker.end_by_force)]


@pytest.mark.sqlite
def test_a_worker_that_is_signalled_twice_stops_all_the_same(site_folder: Path) -> None:
    # A killed web server sends its death signal once for each of its threads.
    worker = subprocess.Popen(
        [sys.executable, str(ROOT / "manage.py"), "work"], env=environment(site_folder), start_new_session=True
    )
    until = time.monotonic() + 60
    while len(members(worker.pid)) < 5 and time.monotonic() < until:
        time.sleep(0.1)
    for _ in range(20):
        worker.terminate()
        time.sleep(0.001)
    assert worker.wait(25) == 0
    assert gone_within(worker.pid, 5)


@pytest.mark.sqlite
def test_a_site_ends_with_a_sentence_when_its_worker_dies(site: subprocess.Popen[str]) -> None:
    address(site)
    worker = group_of_worker(site)
    os.kill(worker, signal.SIGKILL)
    assert site.wait(40) == 1
    assert site.stdout
    assert "task worker stopped by itself" in site.stdout.read()
    assert gone_within(worker, 5)


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
