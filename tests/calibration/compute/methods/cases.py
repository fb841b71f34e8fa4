"""A case of a method: a good set, and for each mistake what has to change for it to be caught. Figures invented."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from calibration.compute.method import AnyMethod
from calibration.compute.standards import Standard

Change = tuple[Mapping[str, str], Mapping[str, Any]]
"""What is typed otherwise, and what is known otherwise."""


def typed(**changes: str) -> Change:
    """Only what is typed changes; an empty text empties the field."""
    return changes, {}


def known(typed_changes: Mapping[str, str] | None = None, **facts: Any) -> Change:
    """What is known changes too: settings=, last=, uses=, forced=, standards=, kind=."""
    return typed_changes or {}, facts


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodCase:
    """The lowest good set of a method, and each catch by its key with what triggers it."""

    method: AnyMethod
    good: Mapping[str, str]
    standards: tuple[Standard, ...] = ()
    settings: Mapping[str, str] = field(default_factory=dict)
    catches: Mapping[str, Change]
    failing: Mapping[str, str]
