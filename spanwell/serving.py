"""A small plant's whole site as one process to start and to stop: web server, and task worker as its child."""

from __future__ import annotations

import contextlib
import hashlib
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from types import FrameType
from typing import Any, Protocol, cast

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from spanwell import schedules
from spanwell.checks import triggers_stand
from spanwell.task_worker import PATIENCE_S

LOCAL = "127.0.0.1"
DEFAULT_LISTEN = f"{LOCAL}:8000"
EVERYWHERE = {LOCAL, "localhost", "::1", "0.0.0.0", "::"}  # noqa: S104
LARGEST_REQUEST_BYTES = 32 * 1024 * 1024


class WebServer(Protocol):
    """What is used of waitress, which comes without types."""

    def run(self) -> None: ...

    def close(self) -> None: ...


class CannotServe(Exception):
    """Why the site does not start: one sentence for the person at the terminal, with the command that helps."""


def serve(
    *,
    listen: str = DEFAULT_LISTEN,
    say: Callable[[str], None] = print,
    greeting: Iterable[str] = (),
    proxy: str = LOCAL,
) -> None:
    """Run web server and task worker until SIGTERM or Ctrl-C; requests and tasks under way are finished first.

    `say` gets every line for the terminal, `greeting` is said once the address answers. `proxy` is the address of the
    reverse proxy whose X-Forwarded headers count, used only with SPANWELL_BEHIND_PROXY. Call it in the main thread.
    Raises CannotServe when the database is not ready, the port is taken or the worker died.
    """
    refuse_unready_database()
    schedules.write()
    collect_static_files(say)
    server = bind(listen, proxy)
    stopping = threading.Event()
    worker_died = threading.Event()
    stop_on_signals(stopping, say)
    try:
        with task_worker(stopping, worker_died):
            for line in (*greeting, f"Spanwell answers at {address_of(server)}", "Stop it with Ctrl-C."):
                say(line)
            server.run()
    finally:
        stopping.set()
        server.close()
    if worker_died.is_set():
        raise CannotServe("The task worker stopped by itself, so the site was stopped too. Its last lines stand above.")
    say("Stopped.")


def refuse_unready_database() -> None:
    """Raise CannotServe when the database is out of reach, behind this version, or lacks a trigger."""
    try:
        executor = MigrationExecutor(connection)
        pending = executor.migration_plan(executor.loader.graph.leaf_nodes())
        if pending:
            raise CannotServe(
                f"The database is behind this version: {len(pending)} migrations are pending. Make a backup, then run "
                "`python3 manage.py migrate`."
            )
        for fault in triggers_stand(app_configs=None, databases=["default"]):
            raise CannotServe(f"{fault.msg} {fault.hint}")
    except DatabaseError as error:
        raise CannotServe(f"The database does not answer: {error}") from error


def collect_static_files(say: Callable[[str], None]) -> None:
    """Bring the served copies of style sheets and scripts up to this release; nothing happens when they are."""
    if settings.DEBUG:
        return
    stamp = Path(settings.STATIC_ROOT) / ".collected"
    wanted = fingerprint_of_static_files()
    if stamp.exists() and stamp.read_text(encoding="ascii") == wanted:
        return
    say("Preparing style sheets and scripts...")
    call_command("collectstatic", interactive=False, verbosity=0, clear=True)
    stamp.write_text(wanted, encoding="ascii")


def fingerprint_of_static_files() -> str:
    """Return one SHA-256 over name and content of every static file of this release."""
    seen = hashlib.sha256()
    for finder in get_finders():
        for path, storage in finder.list(None):
            with storage.open(path) as file:
                seen.update(f"{path}\0".encode() + hashlib.sha256(file.read()).digest())
    return seen.hexdigest()


def bind(listen: str, proxy: str) -> WebServer:
    """Take the port before anything else starts, so that a second start leaves the first one alone."""
    import waitress

    from spanwell.wsgi import application

    trust: dict[str, Any] = {}
    if settings.BEHIND_PROXY:
        headers = {"x-forwarded-for", "x-forwarded-proto"}
        trust = {"trusted_proxy": proxy, "trusted_proxy_count": 1, "trusted_proxy_headers": headers}
    try:
        made = waitress.create_server(
            application, listen=listen, threads=8, ident=None, max_request_body_size=LARGEST_REQUEST_BYTES, **trust
        )
        return cast(WebServer, made)
    except ValueError as error:
        raise CannotServe(f"--listen {listen} is not an address; write it like {DEFAULT_LISTEN}.") from error
    except OSError as error:
        raise CannotServe(
            f"{listen} cannot be used ({error.strerror}). Stop the other program, or choose another port with "
            f"--listen {LOCAL}:8001."
        ) from error


def address_of(server: WebServer) -> str:
    """Return what a person types into a browser on this machine."""
    several: list[tuple[str, int]] = getattr(server, "effective_listen", [])
    host, port = (
        several[0] if several else (getattr(server, "effective_host", LOCAL), getattr(server, "effective_port", 0))
    )
    return f"http://{'localhost' if host in EVERYWHERE else host}:{port}/"


def stop_on_signals(stopping: threading.Event, say: Callable[[str], None]) -> None:
    """Turn SIGTERM and Ctrl-C into a clean end; the second one cuts the waiting short."""

    def stop(_number: int, _frame: FrameType | None) -> None:
        if not stopping.is_set():
            say("\nStopping: what is under way is finished first.")
        stopping.set()
        raise SystemExit(0)  # the web server catches it and lets its requests finish

    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)


@contextlib.contextmanager
def task_worker(stopping: threading.Event, died: threading.Event) -> Iterator[None]:
    """Keep a task worker beside the block and stop it afterwards, with all it started."""
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "work", f"--parent={os.getpid()}"]
    environment = {**os.environ, "SPANWELL_NO_BOOTSTRAP": "1"}
    # A session of its own: Ctrl-C and SIGTERM reach this process alone, which stops the worker in the right order.
    worker = subprocess.Popen(command, env=environment, start_new_session=True)
    threading.Thread(target=watch, args=(worker, stopping, died), daemon=True).start()
    try:
        yield
    finally:
        stopping.set()
        worker.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired, SystemExit):
            worker.wait(PATIENCE_S + 5)  # it ends itself after PATIENCE_S
        with contextlib.suppress(ProcessLookupError):
            os.killpg(worker.pid, signal.SIGKILL)  # what a killed worker may have left behind


def watch(worker: subprocess.Popen[bytes], stopping: threading.Event, died: threading.Event) -> None:
    """End the site when its worker ends: a dead worker must not stay unnoticed."""
    while not stopping.wait(2):
        if worker.poll() is not None:
            died.set()
            os.kill(os.getpid(), signal.SIGTERM)
            return
