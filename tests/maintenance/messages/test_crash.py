"""kill -9 around the moment in which a letter goes out: at most one repeat, and what stays unknown is named."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.maintenance.messages.post_office import PostOffice, post_office

pytestmark = pytest.mark.sqlite
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

    def started(self, asked: str) -> subprocess.Popen[str]:
        call = f"import sys; sys.argv.append({asked!r}); from tests.maintenance.messages import inside; inside.do()"
        command = [sys.executable, str(ROOT / "manage.py"), "shell", "-v", "0", "-c", call]
        return subprocess.Popen(command, env=self.environment, cwd=ROOT, stdout=subprocess.PIPE, text=True)

    def does(self, asked: str) -> str:
        """Let a process do it to its end; return what it said."""
        said, _ = self.started(asked).communicate(timeout=60)
        return said.strip()

    def is_killed(self, asked: str) -> None:
        """Kill a process -9 where it stands still."""
        process = self.started(asked)
        assert process.stdout
        assert process.stdout.readline() == "standing still\n"
        process.send_signal(signal.SIGKILL)
        assert process.wait(20) == -signal.SIGKILL
        process.stdout.close()


@pytest.fixture
def office() -> Iterator[PostOffice]:
    with post_office() as opened:
        yield opened


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder of a site with one message to send."""
    folder = tmp_path_factory.mktemp("plant")
    made = Worker(folder, port=9)
    migrate = [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity=0"]
    subprocess.run(migrate, env=made.environment, cwd=ROOT, check=True, timeout=120)
    assert made.does("make") == "1 written"
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
    # Another worker a moment later cannot know that the first one is dead: it waits.
    assert worker.does("send, 5") == "1 [(None, False)]"
    assert len(office.letters) == 1
    assert worker.does("send, 20") == "1 [(None, False), (True, True)]"
    assert worker.does("send, 60") == "1 [(None, False), (True, True)]"
    assert len(office.letters) == 2
    assert len({letter["Message-ID"] for letter in office.letters}) == 1


def test_killed_twice_it_is_not_sent_a_third_time_and_killed_before_sending_it_goes_out_once(
    worker: Worker, office: PostOffice
) -> None:
    worker.is_killed("stand_still_before, handing over, 0")
    assert office.letters == []
    worker.is_killed("stand_still_before, marking, 20")
    assert len(office.letters) == 1
    assert worker.does("send, 60") == "1 [(None, False), (None, False)]"
    assert len(office.letters) == 1
