"""Standards, requirements, drafts and signed checks."""

from __future__ import annotations

from calibration.models.checks import (
    Answer,
    Check,
    CheckReview,
    Draft,
    Entry,
    Figure,
    Outcome,
    Point,
    ReadingSet,
)
from calibration.models.requirements import Requirement, RequirementTerm
from calibration.models.standards import BufferKind, BufferTable, Lot, LotFact

__all__ = [
    "Answer",
    "BufferKind",
    "BufferTable",
    "Check",
    "CheckReview",
    "Draft",
    "Entry",
    "Figure",
    "Lot",
    "LotFact",
    "Outcome",
    "Point",
    "ReadingSet",
    "Requirement",
    "RequirementTerm",
]
