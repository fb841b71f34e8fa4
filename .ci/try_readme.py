"""Do what the README tells a newcomer: `python3 manage.py demo`, twice in a row, each time looked at and stopped."""

from __future__ import annotations

import os
import re
import select
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ADDRESS = re.compile(r"http://\S+?:\d+/")
PATIENCE_S = 180
STOPS_WITHIN_S = 40


def main() -> int:
    for turn in ("first", "second"):
        started = time.monotonic()
        site = subprocess.Popen(
            [sys.executable, "manage.py", "demo"],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            start_new_session=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        try:
            address = wait_for_address(site, until=started + PATIENCE_S)
            print(f"{turn} demo: {address} named after {time.monotonic() - started:.0f} s")
            with urllib.request.urlopen(address, timeout=20) as answer:
                if answer.status != 200:
                    raise SystemExit(f"{address} answered {answer.status}.")
            site.send_signal(signal.SIGINT)
            code = site.wait(STOPS_WITHIN_S)
            if code != 0:
                raise SystemExit(f"After Ctrl-C the demo ended with code {code}.")
        finally:
            if site.poll() is None:
                os.killpg(site.pid, signal.SIGKILL)
    return 0


def wait_for_address(site: subprocess.Popen[bytes], *, until: float) -> str:
    """Return the address that the demo prints once it answers; everything it says is passed on."""
    assert site.stdout
    said = b""
    while time.monotonic() < until:
        if not select.select([site.stdout], [], [], 1)[0]:
            continue
        piece = os.read(site.stdout.fileno(), 4096)
        if not piece:
            raise SystemExit(f"The demo ended by itself with code {site.wait()}.")
        sys.stdout.write(piece.decode(errors="replace"))
        said += piece
        found = ADDRESS.search(said.decode(errors="replace"))
        if found and b"Ctrl-C" in said:
            return found[0]
    raise SystemExit(f"The demo named no address within {PATIENCE_S} s.")


if __name__ == "__main__":
    sys.exit(main())
