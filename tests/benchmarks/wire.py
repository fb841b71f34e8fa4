"""Bytes on the wire of the page of a pH check, from a running server to a browser that takes gzip."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urljoin, urlsplit

from tests.benchmarks import place, signing
from tests.benchmarks.measuring import say, verdict

FIRST, AGAIN = 60_000, 15_000
ADDRESS = re.compile(r"http://([\d.]+):(\d+)")
IMPORTED = re.compile(rb"""(?:from|import)\s*["'](\.[^"']+)["']|@import\s+(?:url\()?["']([^"']+)["']""")


@dataclass(frozen=True)
class Came:
    """One answer: all its bytes, of which those of the head; its content unpacked; whether it is asked for again."""

    path: str
    wire: int
    head: int
    content: bytes
    kept: bool


class Links(HTMLParser):
    """The style sheets, scripts and icons a page makes a browser fetch."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "link" and {"stylesheet", "icon", "manifest", "modulepreload"} & set(given.get("rel", "").split()):
            self.found.append(given["href"])
        elif tag in {"script", "img"} and given.get("src", "").startswith(("/", ".")):
            self.found.append(given["src"])


class Server:
    """The site's web server as `serve` runs it, on a free port."""

    def __init__(self, folder: Path) -> None:
        self.log = folder / "web.log"
        with self.log.open("w") as terminal:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "waitress", "--ident=", "--listen=127.0.0.1:0", "spanwell.wsgi:application"],
                cwd=place.ROOT,
                env=dict(os.environ),
                stdout=terminal,
                stderr=subprocess.STDOUT,
            )
        until = time.monotonic() + 60
        while not (found := ADDRESS.search(self.log.read_text())):
            if time.monotonic() > until or self.process.poll() is not None:
                raise SystemExit(f"The server did not start:\n{self.log.read_text()}")
            time.sleep(0.05)
        self.host, self.port = found[1], int(found[2])

    def fetch(self, path: str, cookie: str = "") -> Came:
        """Ask as a browser does and count what comes through the socket."""
        asked = [
            f"GET {path} HTTP/1.1",
            f"Host: {self.host}",
            "Accept-Encoding: gzip, deflate, br",
            "Connection: close",
        ]
        asked += [f"Cookie: {cookie}"] if cookie else []
        with socket.create_connection((self.host, self.port), timeout=30) as line:
            line.sendall("\r\n".join([*asked, "", ""]).encode())
            came = b"".join(iter(lambda: line.recv(65536), b""))
        head, _, body = came.partition(b"\r\n\r\n")
        if not head.startswith(b"HTTP/1.1 200"):
            raise SystemExit(f"{path} answered {head.splitlines()[0].decode()}, so nothing of it can be measured.")
        return Came(path, len(came), len(head) + 4, unpacked(head, body), b"immutable" in head.lower())

    def stop(self) -> None:
        """End it."""
        self.process.terminate()
        self.process.wait(20)


def unpacked(head: bytes, body: bytes) -> bytes:
    """The content of an answer whose encoding its head names."""
    import gzip

    if b"content-encoding: gzip" in head.lower():
        return gzip.decompress(body)
    if b"content-encoding:" in head.lower():
        raise SystemExit(f"An encoding nobody here can unpack:\n{head.decode()}")
    return body


def visit(server: Server, path: str, cookie: str) -> list[Came]:
    """The page and, one after the other, all that it makes a browser fetch."""
    page = server.fetch(path, cookie)
    links = Links()
    links.feed(page.content.decode())
    came, left, seen = [page], [urljoin(path, one) for one in links.found], set()
    while left:
        one = urlsplit(left.pop(0)).path
        if one in seen:
            continue
        seen.add(one)
        came.append(server.fetch(one))
        more = IMPORTED.findall(came[-1].content) if one.endswith((".js", ".css")) else []
        left += [urljoin(one, (module or sheet).decode()) for module, sheet in more]
    return came


def compare(folder: Path) -> None:
    """Measure and say what came of it."""
    from calibration.models import Draft

    drafts = signing.prepare(folder / "spanwell.sqlite3")
    draft = Draft.objects.select_related("person").get(pk=drafts[0])
    cookie = place.session_of(draft.person)
    server = Server(folder)
    try:
        came = visit(server, draft.get_absolute_url(), cookie)
    finally:
        server.stop()
    for one in came:
        again = "kept a year" if one.kept else "asked for again"
        say(
            f"  {one.wire:>7,} bytes, {one.head:>4} of them head, {len(one.content):>7,} unpacked: {one.path} ({again})"
        )
    first = sum(one.wire for one in came)
    second = sum(one.wire for one in came if not one.kept)
    say(f"  First visit, {len(came)} answers: {first:,} bytes; aim at most {FIRST:,}: {verdict(first, FIRST)}")
    say(f"  Second visit: {second:,} bytes; aim at most {AGAIN:,}: {verdict(second, AGAIN)}")
