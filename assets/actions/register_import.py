from __future__ import annotations


def take_register() -> None: ...
