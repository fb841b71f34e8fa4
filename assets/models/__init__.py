"""The plant, its people and the history."""

from __future__ import annotations

from assets.models.people import AccessLink, Company, Membership, Person, Qualification, Role
from assets.models.plant import (
    Area,
    Asset,
    Fitting,
    Limit,
    MattersFor,
    Position,
    Reading,
    SignalUse,
    Site,
)
from assets.models.record import Event, FitForUse, NightReport, Signature, Submission

__all__ = [
    "AccessLink",
    "Area",
    "Asset",
    "Company",
    "Event",
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
    "SignalUse",
    "Site",
    "Submission",
]
