"""What every change of a record has in common: the version it was shown in, and what was changed from what to what."""

from __future__ import annotations

from typing import Any

from django.db import models

from assets.errors import Stale
from assets.history import Act


def amend(opened: Act, row: models.Model, *, version: int | None, **new: Any) -> dict[str, list[str]]:
    """Change columns of a row that still has the version its page showed; return {column: [old, new]} as text.

    Without a version the row as it was loaded counts. Raises Stale when somebody else changed it meanwhile.
    """
    shown = version if version is not None else row.version  # type: ignore[attr-defined]
    before = {name: _words(getattr(row, name)) for name in new}
    try:
        opened.change(row, expect={"version": shown}, version=shown + 1, **new)
    except Stale as stale:
        raise Stale(
            f"{before.get('tag') or before.get('name') or 'This record'} was changed by somebody else while you had it "
            "open. Nothing was changed; open it again beside this page and carry over what is still right."
        ) from stale
    after = {name: _words(getattr(row, name)) for name in new}
    return {name: [before[name], after[name]] for name in new if before[name] != after[name]}


def _words(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
