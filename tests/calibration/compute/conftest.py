"""The lowest valid pH check and what is known about it; each test changes the one thing it is about."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from calibration.compute.method import Answer, Known
from calibration.compute.methods import ph
from calibration.compute.standards import Standard
from calibration.compute.temperature_tables import TemperatureTable, read_buffer_tables
from calibration.compute.verdict import Outcome

FIXTURES = Path(__file__).parents[3] / "fixtures"
DAY = date(2026, 11, 24)
KINDS = {
    "4": ("4.01", "phthalate"),
    "6": ("6.86", "phosphate"),
    "7": ("7.00", "phosphate-7.00"),
    "10": ("10.01", "carbonate"),
}

# Two buffers at 12.5 degC, invented readings; a plain pass.
COLD = {
    "hold": "on",
    "process_shown": "7.80",
    "process_temperature": "11.0",
    "point1_lot": "7",
    "point1_temperature": "12.5",
    "point1_mv": "-4.8",
    "point1_shown": "7.08",
    "point1_seconds": "40",
    "point1_steady": "yes",
    "point2_lot": "10",
    "point2_temperature": "12.5",
    "point2_mv": "-178.6",
    "point2_shown": "10.15",
    "point2_seconds": "55",
    "point2_steady": "yes",
}
THIRD = {"third_lot": "4", "third_temperature": "12.5", "third_shown": "4.05", "third_steady": "yes"}


@pytest.fixture(scope="session")
def tables() -> dict[str, TemperatureTable]:
    return read_buffer_tables((FIXTURES / "tables" / "ph_buffers.csv").read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def lots(tables: dict[str, TemperatureTable]) -> dict[str, Standard]:
    return {
        key: Standard(
            id=key,
            label=f"26-{key}",
            nominal=Fraction(nominal),
            nominal_text=nominal,
            table=tables[code],
            opened=date(2026, 11, 3),
            expires=date(2027, 3, 31),
        )
        for key, (nominal, code) in KINDS.items()
    }


@pytest.fixture(scope="session")
def known(lots: dict[str, Standard], tables: dict[str, TemperatureTable]) -> Known:
    return Known(day=DAY, standards=lots, tables=tables)


Check = Callable[..., Outcome]


@pytest.fixture(scope="session")
def check(known: Known) -> Check:
    """Return a function that judges the cold set with some fields changed; None empties a field."""

    def judged(
        changes: Mapping[str, str | None] | None = None,
        *,
        kind: ph.SetKind = "as found",
        answers: Mapping[str, Answer] | None = None,
        lot: tuple[str, dict[str, Any]] | None = None,
        **facts: Any,
    ) -> Outcome:
        typed = {name: text for name, text in (COLD | dict(changes or {})).items() if text is not None}
        if lot is not None:
            facts["standards"] = dict(known.standards) | {lot[0]: replace(known.standards[lot[0]], **lot[1])}
        return ph.judge_set(ph.read(typed, kind=kind, answers=answers), replace(known, **facts))

    return judged
