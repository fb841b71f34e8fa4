"""The instruments that came later, told in a table: by what each is checked, how often, and what is typed each time."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import partial
from typing import Any

from django.conf import settings

from spanwell.demo.plant import FIRST_DAY, Plant
from spanwell.demo.reading import Fields, wandered
from spanwell.demo.references import reference_key
from spanwell.demo.shelf import jar_in_use
from spanwell.demo.upkeep import days_of

TABLE = settings.BASE_DIR / "fixtures" / "demo" / "instruments.json"
HOURS_A_DAY = 12


def rows() -> list[dict[str, Any]]:
    """The table, each row as the fields of a round."""
    return [_read(row) for row in json.loads(TABLE.read_text(encoding="utf-8"))]


def _read(row: Mapping[str, Any]) -> dict[str, Any]:
    given = {name: value for name, value in row.items() if name != "typed"}
    return {**given, "days": days_of(row["days"]), "read": partial(_typed, row["tag"], row["typed"])}


def _typed(tag: str, typed: Mapping[str, str], plant: Plant, turn: int) -> Fields:
    """What is typed at a turn: a figure that strays ('50.2 ~ 0.2'), a standard ('lot low', 'asset RG-0210'), words."""
    return {name: _one(f"{tag} {name}", text, plant, turn) for name, text in typed.items()}


def _one(of: str, text: str, plant: Plant, turn: int) -> str:
    if text.startswith("lot "):
        return str(jar_in_use(plant, text.removeprefix("lot ")).pk)
    if text.startswith("asset "):
        return reference_key(plant, text.removeprefix("asset "))
    if text.startswith("hours "):  # a lamp's hour meter
        return str(int(text.removeprefix("hours ")) + HOURS_A_DAY * (FIRST_DAY - plant.days_back))
    usual, strays, stray = text.partition(" ~ ")
    if not strays:
        return text
    return wandered(of, turn, float(usual), float(stray), len(usual.partition(".")[2]))
