"""A real site in a folder that is thrown away: started, killed and asked from outside, as people and hosts do."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
STARTS_WITHIN_S = 60
ADDRESS = re.compile(r"http://\S+:\d+")


class Site:
    """One data folder with its database; `serve` is what `manage.py` does with it."""

    def __init__(self, folder: Path, database: str = "") -> None:
        own = {name: value for name, value in os.environ.items() if not name.startswith(("SPANWELL_", "DJANGO_"))}
        self.environment = {
            **own,
            "SPANWELL_DATA": str(folder),
            "SPANWELL_DATABASE": database,
            "SPANWELL_NO_BOOTSTRAP": "1",
            "PYTHONUNBUFFERED": "1",
        }
        self.folder = folder
        self.inside: subprocess.Popen[str] | None = None
        self.running: list[Web] = []

    def asked(self, question: str, **given: Any) -> Any:
        """Call a function of tests/durability/inside.py in a process of the site's own and return its answer."""
        if self.inside is None:
            call = "from tests.durability import inside; inside.answer_until_the_end()"
            command = [sys.executable, str(ROOT / "manage.py"), "shell", "-v", "0", "-c", call]
            self.inside = subprocess.Popen(
                command, env=self.environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
            )
        assert self.inside.stdin
        assert self.inside.stdout
        self.inside.stdin.write(json.dumps([question, given]) + "\n")
        self.inside.stdin.flush()
        return json.loads(self.inside.stdout.readline())

    def serve(self) -> Web:
        """`manage.py serve` on a free port: web server and task worker."""
        return self._started([str(ROOT / "manage.py"), "serve", "--listen", "127.0.0.1:0"])

    def serve_beside(self) -> Web:
        """A second web server process on the same database, without a worker of its own."""
        return self._started(["-m", "waitress", "--listen=127.0.0.1:0", "spanwell.wsgi:application"])

    def _started(self, command: list[str]) -> Web:
        web = Web([sys.executable, *command], self.environment, self.folder / f"web-{len(self.running)}.log")
        self.running.append(web)
        return web

    def faults_said(self) -> str:
        """What the web servers wrote about errors of the program."""
        logs = [web.log.read_text() for web in self.running]
        return "\n".join(log[log.index("Traceback") :] for log in logs if "Traceback" in log)

    def end(self) -> None:
        """Kill what still runs."""
        for web in self.running:
            web.kill()
        if self.inside is not None:
            self.inside.communicate(timeout=20)  # closes what it reads from, which ends it


class Web:
    """A running web server; what it writes to its terminal is kept in a file."""

    def __init__(self, command: list[str], environment: dict[str, str], log: Path) -> None:
        self.log = log
        with log.open("w") as terminal:
            self.process = subprocess.Popen(
                command, cwd=ROOT, env=environment, stdout=terminal, stderr=subprocess.STDOUT
            )
        self.address = self._address()

    def _address(self) -> str:
        until = time.monotonic() + STARTS_WITHIN_S
        while time.monotonic() < until and self.process.poll() is None:
            if found := ADDRESS.search(self.log.read_text()):
                return found[0].replace("localhost", "127.0.0.1")  # one name, so that cookies hold for both processes
            time.sleep(0.05)
        self.kill()
        raise AssertionError("the site named no address:\n" + self.log.read_text())

    def kill(self) -> None:
        """kill -9: no handler runs, nothing is finished, nothing is written any more. Its worker dies after it."""
        with suppress(ProcessLookupError):
            self.process.send_signal(signal.SIGKILL)
        self.process.wait(20)
