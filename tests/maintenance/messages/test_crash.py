"""kill -9 around the moment in which a letter goes out: at most one repeat, and what stays unknown is named."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from django.db import connection

from tests.maintenance.messages.post_office import PostOffice, post_office

# The database of the test run is asked for so that it is there to be copied.
pytestmark = [pytest.mark.sqlite, pytest.mark.django_db]
ROOT = Path(__file__).resolve().parents[3]


class Worker:
    """A site's worker with its own database; each command is a process, as after a crash and a new start."""

    def __init__(self, folder: Path, port: int) -> None:
        own = {name: value for name, value in os.environ.items() if not name.startswith(("SPANWELL_", "DJANGO_"))}
        self.environment = {
            **own,
            "SPANWELL_TESTING": "1",
            "SPANWELL_NO_BOOTSTRAP": "1",
            "SPANWELL_DATA": str(folder),
            "SPANWELL_MAIL_HOST": "127.0.0.1",
            "SPANWELL_MAIL_PORT": str(port),
            "SPANWELL_MAIL_SECURITY": "none",
            "SPANWELL_MAIL_FROM": "spanwell@works.example",
        }

    def started(self, call: str) -> subprocess.Popen[str]:
        command = [sys.executable, str(ROOT / "manage.py"), "shell", "-v", "0", "-c"]
        command.append(f"from tests.maintenance.messages import inside; inside.{call}")
        return subprocess.Popen(
            command, env=self.environment, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def does(self, *asked: str) -> list[str]:
        """Let a new process do one thing after the other; return what it said of each."""
        said, _ = self.started("answer_until_the_end()").communicate("\n".join(asked), timeout=120)
        return said.splitlines()

    def is_killed(self, asked: str) -> None:
        """Kill a process -9 where it stands still."""
        process = self.started(f"do({asked!r})")
        assert process.stdout
        assert process.stdin
        assert process.stdout.readline() == "standing still\n"
        process.send_signal(signal.SIGKILL)
        assert process.wait(20) == -signal.SIGKILL
        process.stdout.close()
        process.stdin.close()


@pytest.fixture
def office() -> Iterator[PostOffice]:
    with post_office() as opened:
        yield opened


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory, django_db_setup: None) -> Path:
    """The data folder of a site with one message to send; its empty tables are a copy of the test run's."""
    folder = tmp_path_factory.mktemp("plant")
    with (
        closing(sqlite3.connect(connection.settings_dict["NAME"])) as tests,
        closing(sqlite3.connect(folder / "spanwell.sqlite3")) as own,
    ):
        tests.backup(own)
    assert Worker(folder, port=9).does("make") == ["1 written"]
    return folder


@pytest.fixture
def worker(plant: Path, tmp_path: Path, office: PostOffice) -> Worker:
    shutil.copytree(plant, tmp_path / "site")
    return Worker(tmp_path / "site", office.port)


def test_killed_between_sending_and_marking_a_letter_is_repeated_once_and_never_again(
    worker: Worker, office: PostOffice
) -> None:
    worker.is_killed("stand_still_before, marking, 0")
    assert len(office.letters) == 1
    # Another worker a moment later cannot know that the first one is dead: it waits. Then it repeats, and never again.
    assert worker.does("send, 5", "send, 20", "send, 60") == [
        "1 [(None, False)]",
        "1 [(None, False), (True, True)]",
        "1 [(None, False), (True, True)]",
    ]
    assert len(office.letters) == 2
    assert len({letter["Message-ID"] for letter in office.letters}) == 1


def test_killed_twice_it_is_not_sent_a_third_time_and_killed_before_sending_it_goes_out_once(
    worker: Worker, office: PostOffice
) -> None:
    worker.is_killed("stand_still_before, handing over, 0")
    assert office.letters == []
    worker.is_killed("stand_still_before, marking, 20")
    assert len(office.letters) == 1
    assert worker.does("send, 60") == ["1 [(None, False), (None, False)]"]
    assert len(office.letters) == 1
