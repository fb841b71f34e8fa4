"""The uncertainty budget of one judged value: its components, what they come to, and the lines that show it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.method import Line


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What it comes to: the expanded uncertainty in the unit of the judged value, its k, the lines that show it."""

    expanded: Fraction
    k: float
    lines: tuple[Line, ...]
