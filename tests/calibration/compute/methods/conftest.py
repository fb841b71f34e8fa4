"""What the tests of every method share: reading typed fields, judging them, and finding what was caught."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.method import Answer, AnyMethod, Known
from calibration.compute.standards import Standard
from calibration.compute.typed import fields_for, read_fields
from calibration.compute.verdict import Outcome, judge

DAY = date(2026, 11, 24)

Checked = Callable[..., Outcome]


def make_standard(key: str, kind: str, value: str, unit: str, **facts: Any) -> Standard:
    """The lowest valid standard of a kind: in date, opened three weeks ago where it is a lot."""
    usual: dict[str, Any] = {"expires": date(2027, 3, 31), "opened": date(2026, 11, 3)}
    made = Standard(
        id=key, label=f"26-{key}", nominal=Fraction(value), nominal_text=value, kind=kind, unit=unit, **usual
    )
    return replace(made, **facts)


@pytest.fixture(scope="session")
def checked() -> Checked:
    """Return a function that reads typed fields by a method and judges them."""

    def judged(
        method: AnyMethod,
        typed: Mapping[str, str],
        *standards: Standard,
        kind: str = "as found",
        answers: Mapping[str, Answer] | None = None,
        **facts: Any,
    ) -> Outcome:
        known = Known(day=DAY, standards={one.id: one for one in standards}, **facts)
        entered = read_fields(fields_for(method, kind), typed)
        return judge(method, method.read(entered, kind, answers or {}), known)

    return judged


def caught(outcome: Outcome, key: str) -> list[str]:
    """Return the weights under which a catch with this key was found."""
    return [one.weight for one in outcome.found if one.key == key]
