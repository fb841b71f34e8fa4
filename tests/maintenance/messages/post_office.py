"""A mail server on this machine that keeps what it is given: as much of SMTP (RFC 5321) as one client needs."""

from __future__ import annotations

import email
import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from email import policy
from email.message import EmailMessage
from typing import Literal

Mood = Literal["takes all", "refuses the address", "refuses the letter", "falls silent after the letter", "shut"]


class PostOffice(socketserver.ThreadingTCPServer):
    """Letters it got, whole ones only, in order; `mood` says what it does with the next one."""

    allow_reuse_address = True
    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Session)
        self.letters: list[EmailMessage] = []
        self.to: list[str] = []
        self.mood: Mood = "takes all"

    @property
    def port(self) -> int:
        return int(self.server_address[1])


class Session(socketserver.StreamRequestHandler):
    """One connection."""

    server: PostOffice

    def say(self, line: str) -> None:
        self.wfile.write(f"{line}\r\n".encode())

    def handle(self) -> None:
        mood = self.server.mood
        if mood == "shut":
            return self.say("421 closed for today")
        self.say("220 post office")
        while line := self.rfile.readline().decode().strip():
            word = line.split(" ")[0].split(":")[0].upper()
            if word == "QUIT":
                return self.say("221 bye")
            if word == "DATA":
                self.say("354 go on")
                if not self.take(mood):
                    return None
            elif word == "RCPT" and mood == "refuses the address":
                self.say("550 nobody of that name")
            else:
                if word == "RCPT":
                    self.server.to.append(line.partition(":")[2].strip("<>"))
                self.say("250 well")
        return None

    def take(self, mood: Mood) -> bool:
        body = b""
        while (line := self.rfile.readline()) != b".\r\n":
            body += line[1:] if line.startswith(b"..") else line
        if mood == "refuses the letter":
            self.say("451 disk full")
            return True
        self.server.letters.append(email.message_from_bytes(body, policy=policy.default))  # type: ignore[arg-type]
        if mood == "falls silent after the letter":
            return False  # the connection ends without an answer
        self.say("250 taken")
        return True


@contextmanager
def post_office() -> Iterator[PostOffice]:
    """An open post office on a free port."""
    with PostOffice() as office:
        thread = threading.Thread(target=office.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
        thread.start()
        yield office
        office.shutdown()
        thread.join(timeout=10)
