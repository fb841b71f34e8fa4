"""Figures of upkeep: each with its formula, numerator, denominator and n; nothing is shown from fewer than five.

They describe the work of a plant. None is ever counted for one person: ranking people by them is misuse.
"""

from __future__ import annotations

from maintenance.compute.figures.shares import (
    CANNOT,
    FEWEST,
    Figure,
    LeftOut,
    middle,
    not_told,
    percent,
    ratio,
    share,
)

__all__ = [
    "CANNOT",
    "FEWEST",
    "Figure",
    "LeftOut",
    "middle",
    "not_told",
    "percent",
    "ratio",
    "share",
]
