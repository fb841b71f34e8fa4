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
from maintenance.models.walks import (
    BalancePart,
    CheckPoint,
    LineKind,
    Outcome,
    PointLine,
    Round,
    StopAnswer,
    Walk,
    WalkEntry,
    WalkStop,
)

__all__ = [
    "Application",
    "BalancePart",
    "CheckPoint",
    "EnergyProcedure",
    "Handover",
    "HandoverItem",
    "HandoverNote",
    "IsolationPoint",
    "LineKind",
    "Lock",
    "LockBox",
    "Lockout",
    "LockoutEntry",
    "LockoutLine",
    "Occurrence",
    "OrderState",
    "Outcome",
    "Override",
    "OverrideExtension",
    "OverrideKind",
    "OverrideLook",
    "OverrideWay",
    "Performance",
    "Plan",
    "PlanTerm",
    "PointLine",
    "PointOfPosition",
    "ProcedureDecision",
    "ProcedureLine",
    "ProcedureVersion",
    "Restoration",
    "Round",
    "Step",
    "StopAnswer",
    "Walk",
    "WalkEntry",
    "WalkStop",
    "WorkOrder",
]
