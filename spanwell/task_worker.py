"""The task worker: django-q2's cluster, made safe to stop in every way a plant's server stops."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
import threading
from types import FrameType

from django_q.cluster import Cluster

PATIENCE_S = 30


class TaskWorker(Cluster):  # type: ignore[misc]  # comes without types
    """A cluster that survives a second signal while it stops, and always ends.

    The library takes a lock in its signal handler, so a second SIGTERM would make it wait for itself for ever. And if
    one of its children was killed first, as a service manager does that signals all at once, it waits for the child.
    """

    stopping = False

    def sig_handler(self, signum: int, frame: FrameType | None) -> None:
        """Stop once: tasks under way are finished, for at most PATIENCE_S."""
        if self.stopping:
            return
        self.stopping = True
        force = threading.Timer(PATIENCE_S, end_by_force)
        force.daemon = True
        force.start()
        super().sig_handler(signum, frame)


def end_by_force() -> None:
    """End this process and, where it leads its group, all it started; a task cut short is handed out again later."""
    if os.getpgrp() == os.getpid():
        os.killpg(os.getpid(), signal.SIGKILL)
    os.kill(os.getpid(), signal.SIGKILL)


def end_with(parent: int) -> None:
    """On Linux: stop as if asked to when the process `parent` ends, even when it is killed outright."""
    if sys.platform == "linux":
        parent_death_signal = 1  # PR_SET_PDEATHSIG
        ctypes.CDLL(None).prctl(parent_death_signal, signal.SIGTERM)
    if os.getppid() != parent:  # it ended before this line
        raise SystemExit(0)


def work() -> None:
    """Start the worker; the process ends when the worker has been stopped by SIGTERM or Ctrl-C."""
    TaskWorker().start()
