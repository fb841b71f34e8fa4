"""manage.py pictures: the five pictures of the README, taken of the demo plant in a real browser."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from spanwell.demo import cast
from spanwell.demo.album import Album
from spanwell.serving import LOCAL

if TYPE_CHECKING:
    from playwright.sync_api import Browser

FLAGS = ("--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update")
LINK = re.compile(r"link\s+\S+(/j/\S+)")


class Command(BaseCommand):
    help = "Take the pictures in fixtures/pictures of a demo plant written for it and thrown away afterwards."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--to", type=Path, default=settings.BASE_DIR / "fixtures" / "pictures", metavar="FOLDER")

    def handle(self, *_: Any, to: Path, **__: Any) -> None:
        to.mkdir(parents=True, exist_ok=True)
        kept = tempfile.TemporaryDirectory(prefix="spanwell-pictures-")
        with kept as folder, demo_site(Path(folder)) as demo, chromium() as browser:
            album = Album(browser=browser, address=demo.address, folder=to)
            for path in album.take(link=demo.link, password=cast.PASSWORD):
                self.stdout.write(f"{path.name}  {path.stat().st_size // 1024} kB")


class Demo:
    """A demo site that answers, with the contractor's path as it printed it."""

    def __init__(self, address: str, said: str) -> None:
        self.address = address
        self.link = LINK.search(said)[1]  # type: ignore[index]


@contextlib.contextmanager
def demo_site(folder: Path) -> Iterator[Demo]:
    """Run `manage.py demo` in a folder, on a port that is free, until the block ends."""
    port = free_port()
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "demo", "--listen", f"{LOCAL}:{port}"]
    switches = {"SPANWELL_DEMO": "1", "SPANWELL_DATA": str(folder), "SPANWELL_NO_BOOTSTRAP": "1"}
    clean = {name: value for name, value in os.environ.items() if not name.startswith("SPANWELL_")}
    site = subprocess.Popen(command, env=clean | switches, stdout=subprocess.PIPE, text=True)
    try:
        yield Demo(f"http://localhost:{port}", words_until_it_answers(site))
    finally:
        site.terminate()
        site.communicate()


def free_port() -> int:
    """Return a port that nobody uses at this moment."""
    with socket.socket() as free:
        free.bind((LOCAL, 0))
        return int(free.getsockname()[1])


def words_until_it_answers(site: subprocess.Popen[str]) -> str:
    """Return what the demo said up to its last line before it waits for visitors."""
    assert site.stdout is not None
    said = ""
    for line in site.stdout:
        said += line
        if "Ctrl-C" in line:
            return said
    raise CommandError(f"The demo ended by itself:\n{said}")


@contextlib.contextmanager
def chromium() -> Iterator[Browser]:
    """Start this machine's Chromium without a window."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError as error:
        raise CommandError("Pictures need the packages of requirements-dev.lock (`python3 manage.py test`).") from error
    names = (os.environ.get("SPANWELL_CHROMIUM", ""), "chromium", "chromium-browser", "google-chrome")
    path = next(filter(None, map(shutil.which, filter(None, names))), None)
    if path is None:
        raise CommandError("Pictures need Chromium; install Debian's chromium, or name one in SPANWELL_CHROMIUM.")
    sandbox = ("--no-sandbox",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=[*FLAGS, *sandbox])
        yield browser
        browser.close()
