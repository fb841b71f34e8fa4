"""Every address that a template or a function names exists: names of addresses are text, which no linter sees."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.urls import URLPattern, URLResolver, get_resolver

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("spanwell", "assets", "maintenance", "calibration")
IN_TEMPLATE = re.compile(r"""\{%\s*url\s+['"]([\w:-]+)['"]""")
IN_CODE = re.compile(r"""(?:reverse|redirect|resolve_url)\(\s*['"]([\w-]+(?::[\w-]+)?)['"]""")


def names(resolver: URLResolver, space: str = "") -> Iterator[str]:
    """Yield every named address, with its namespace."""
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from names(entry, f"{entry.namespace}:" if entry.namespace else space)
        elif isinstance(entry, URLPattern) and entry.name:
            yield f"{space}{entry.name}"


def mentions() -> Iterator[tuple[str, str]]:
    """Yield file and name of every address that is mentioned."""
    for room in ROOMS:
        for path in sorted((ROOT / room).rglob("*")):
            pattern = {".html": IN_TEMPLATE, ".py": IN_CODE}.get(path.suffix)
            if pattern is not None:
                for name in pattern.findall(path.read_text(encoding="utf-8")):
                    yield str(path.relative_to(ROOT)), name


def test_every_mentioned_address_exists() -> None:
    known = set(names(get_resolver()))
    unknown = [f"{path}: {name}" for path, name in mentions() if name not in known and not name.startswith("/")]
    assert not unknown


@pytest.mark.parametrize("room", ROOMS)
def test_nothing_in_a_template_is_inline(room: str) -> None:
    # The content security policy would silently drop it.
    inline = re.compile(r"""<style|\sstyle=|\son[a-z]+=["']|javascript:|<script(?![^>]*\ssrc=)""", re.IGNORECASE)
    found = [
        f"{path.relative_to(ROOT)}: {match.group(0)}"
        for path in (ROOT / room).rglob("*.html")
        if (match := inline.search(path.read_text(encoding="utf-8")))
    ]
    assert not found
