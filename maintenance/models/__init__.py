"""Routines and their due items, work orders, and lockout."""

from __future__ import annotations

from maintenance.models.handover import Handover, HandoverItem, HandoverNote
from maintenance.models.isolation import (
    EnergyProcedure,
    IsolationPoint,
    PointOfPosition,
    ProcedureDecision,
    ProcedureLine,
    ProcedureVersion,
)
from maintenance.models.locks import (
    Application,
    Lock,
    LockBox,
    Lockout,
    LockoutEntry,
    LockoutLine,
)
from maintenance.models.orders import OrderState, Step, WorkOrder
from maintenance.models.overrides import (
    Override,
    OverrideExtension,
    OverrideKind,
    OverrideLook,
    OverrideWay,
    Restoration,
)
from maintenance.models.routines import Occurrence, Performance, Plan, PlanTerm

__all__ = [
    "Application",
    "EnergyProcedure",
    "Handover",
    "HandoverItem",
    "HandoverNote",
    "IsolationPoint",
    "Lock",
    "LockBox",
    "Lockout",
    "LockoutEntry",
    "LockoutLine",
    "Occurrence",
    "OrderState",
    "Override",
    "OverrideExtension",
    "OverrideKind",
    "OverrideLook",
    "OverrideWay",
    "Performance",
    "Plan",
    "PlanTerm",
    "PointOfPosition",
    "ProcedureDecision",
    "ProcedureLine",
    "ProcedureVersion",
    "Restoration",
    "Step",
    "WorkOrder",
]
