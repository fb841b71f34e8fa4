"""Standards, requirements, drafts and signed checks."""

from __future__ import annotations

from calibration.models.certificates import Certificate, Correction, StandardUse
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
from calibration.models.custody import Custody
from calibration.models.reliance import Recall, RelianceWithdrawal
from calibration.models.requirements import Requirement, RequirementTerm
from calibration.models.standards import (
    Assignment,
    Dilution,
    DilutionPart,
    Lot,
    LotFact,
    StandardKind,
    StandardTable,
)
from calibration.models.studies import Baseline, IntervalDecision, PooledStudy

__all__ = [
    "StandardUse",
    "StandardTable",
    "StandardKind",
    "RelianceWithdrawal",
    "Recall",
    "DilutionPart",
    "Dilution",
    "Custody",
    "Correction",
    "Certificate",
    "Assignment",
    "Answer",
    "Baseline",
    "IntervalDecision",
    "PooledStudy",
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
