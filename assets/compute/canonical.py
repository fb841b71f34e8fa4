"""One spelling for everything that is hashed: text values only, sorted keys, UTC times with microseconds."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from typing import Any


def plain(value: Any) -> Any:
    """Return a value in its one spelling: times as UTC ISO text, numbers as text, containers of the same.

    Floats use repr, the shortest text that reads back to the same double, so both databases spell them alike.
    Raises TypeError for a value that has no single spelling.
    """
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.%f+00:00")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    raise TypeError(f"{type(value).__name__} has no single spelling in the history.")


def canonical(value: Any) -> str:
    """Return the JSON text that stands for a value, always the same for the same value."""
    return json.dumps(plain(value), sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def digest(value: Any) -> str:
    """Return the SHA-256 of a value's canonical text, in hex."""
    return hashlib.sha256(canonical(value).encode()).hexdigest()


def chained(previous: str, body: str) -> str:
    """Return the hash of an event from the hash before it and its own canonical body (SHA-256, hex)."""
    return hashlib.sha256(f"{previous}\n{body}".encode()).hexdigest()
