"""What a handover tells: each thing as a line, in the order a person reads it at the change of shift."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

ORDER = ("safety", "compliance", "production", "other", "")
CARRIED, HAPPENED, LEFT = "carried", "happened", "left"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One thing: `kind` is its word on the page; `key` names what is carried, empty for what is only told.

    `part` is where it stands: carried, happened in the shift, or left undone for the next. `at` is when it happened.
    """

    part: str
    kind: str
    title: str
    key: str = ""
    at: datetime | None = None
    tag: str = ""
    code: str = ""
    machine: bool = False
    matters_for: str = ""
    text: str = ""
    path: str = ""


def in_order(told: Iterable[Told]) -> tuple[Told, ...]:
    """Put what is carried first, most serious before the others; then what happened, newest first; then the rest."""
    parts = (CARRIED, HAPPENED, LEFT)

    def place(one: Told) -> tuple[int, float, int, str]:
        newest = -one.at.timestamp() if one.at is not None and one.part == HAPPENED else 0.0
        return parts.index(one.part), newest, ORDER.index(one.matters_for), one.title

    return tuple(sorted(told, key=place))
