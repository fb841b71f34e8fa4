"""The plant, its people and the history."""

from __future__ import annotations

from assets.models.days import Holiday, Production, Setting
from assets.models.files import FileKind, KeptFile
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
from assets.models.signals import BreakKind, CounterBreak, Face, Limit, Reading, Side, SignalUse, Use

__all__ = [
    "AccessLink",
    "Area",
    "Asset",
    "BreakKind",
    "Company",
    "CounterBreak",
    "DecimalMark",
    "Does",
    "Event",
    "Face",
    "FileKind",
    "FitForUse",
    "Fitting",
    "Holiday",
    "KeptFile",
    "Limit",
    "MattersFor",
    "Membership",
    "NightReport",
    "Person",
    "Position",
    "Production",
    "Qualification",
    "Reading",
    "Role",
    "Setting",
    "Signature",
    "Side",
    "SignalUse",
    "Site",
    "Submission",
    "UnitSystem",
    "Use",
]
