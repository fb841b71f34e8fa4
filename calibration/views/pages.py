"""Small parts that several pages draw: filter links and pagers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Link:
    """One word of a filter."""

    label: str
    url: str
    current: bool
    count: str = ""


@dataclass(frozen=True, slots=True)
class Pager:
    """Where the page stands in the list."""

    first: int
    last: int
    total: str
    before_url: str
    after_url: str
