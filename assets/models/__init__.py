"""The plant, its people and the history."""

from __future__ import annotations

from assets.models.people import AccessLink, Company, Membership, Person, Qualification, Role
from assets.models.plant import (
    Area,
    Asset,
    DecimalMark,
    Does,
    Fitting,
    MattersFor,
    Position,
    Site,
    UnitSystem,
)
from assets.models.record import Event, FitForUse, NightReport, Signature, Submission
from assets.models.signals import Face, Limit, Reading, Side, SignalUse, Use

__all__ = [
    "AccessLink",
    "Area",
    "Asset",
    "Company",
    "DecimalMark",
    "Does",
    "Event",
    "Face",
    "FitForUse",
    "Fitting",
    "Limit",
    "MattersFor",
    "Membership",
    "NightReport",
    "Person",
    "Position",
    "Qualification",
    "Reading",
    "Role",
    "Signature",
    "Side",
    "SignalUse",
    "Site",
    "Submission",
    "UnitSystem",
    "Use",
]
