"""Files that people hand in, kept as sent."""

from __future__ import annotations

from assets import filing
from assets.errors import Refusal
from assets.history import Act
from assets.models import KeptFile

MOST_AT_ONCE = 6


def read_file(*, data: bytes, name: str, field: str = "file") -> KeptFile:
    """Write the bytes of a file to the disk and return its row, not yet added to any act.

    Call it before an act is opened: a slow disk must not hold the only write lock. Raises Refusal at `field`.
    """
    try:
        kind = filing.kind_of(data)
        sha256 = filing.keep(data)
        if kind.startswith("image/"):
            filing.draw_for_show(data, sha256)
    except filing.NotKept as wrong:
        raise Refusal(str(wrong), field=field) from wrong
    shown = "".join(sign for sign in name.replace("\\", "/").rsplit("/", 1)[-1] if sign.isprintable()).strip()
    return KeptFile(sha256=sha256, name=shown[-120:] or "file", size=len(data), kind=kind)


def add_file(opened: Act, file: KeptFile, *, words: str = "") -> KeptFile:
    """Add a file that was read to an open act, whose event then carries its hash; without an event of its own."""
    file.site, file.words = opened.site, words.strip()  # type: ignore[assignment]
    file.recorded_at, file.recorded_by = opened.at, opened.by  # type: ignore[assignment]
    return opened.add(file)
