"""Characters read from metal: how they are compared."""

from __future__ import annotations

STAMP_LENGTH = 3


def normal(typed: str) -> str:
    """Return characters as they are compared: capitals, letters and digits only."""
    return "".join(sign for sign in typed.upper() if sign.isalnum())


def last_of(stamp: str) -> str:
    """Return the last three characters of a stamp, as they are compared and kept (hashed)."""
    return normal(stamp)[-STAMP_LENGTH:]
