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
from maintenance.models.messages import Message, MessageAbout, MessageChoice, MessageKind, MessageTry, Morning
from maintenance.models.occurrences import Occurrence
from maintenance.models.order_records import Failure, Labour, OrderCost, OrderFile, ReturnCheck
from maintenance.models.order_templates import OrderTemplate, TemplatePart, TemplateStep
from maintenance.models.orders import OrderState, OrderType, Step, WorkOrder
from maintenance.models.overrides import (
    Override,
    OverrideExtension,
    OverrideKind,
    OverrideLook,
    OverrideWay,
    Restoration,
)
from maintenance.models.parts import MoveKind, NeededPart, Part, PartMove
from maintenance.models.routines import Performance, Plan, PlanTerm, TermInput
from maintenance.models.strapping import StrappingTable
from maintenance.models.stretches import AlsoFulfils, Deferral, NeedKind, Pause, Prerequisite
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
    "AlsoFulfils",
    "Application",
    "BalancePart",
    "CheckPoint",
    "Deferral",
    "EnergyProcedure",
    "Failure",
    "Handover",
    "HandoverItem",
    "HandoverNote",
    "IsolationPoint",
    "Labour",
    "LineKind",
    "Lock",
    "LockBox",
    "Lockout",
    "LockoutEntry",
    "LockoutLine",
    "Message",
    "MessageAbout",
    "MessageChoice",
    "MessageKind",
    "MessageTry",
    "Morning",
    "MoveKind",
    "NeedKind",
    "NeededPart",
    "Occurrence",
    "OrderCost",
    "OrderFile",
    "OrderState",
    "OrderTemplate",
    "OrderType",
    "Outcome",
    "Override",
    "OverrideExtension",
    "OverrideKind",
    "OverrideLook",
    "OverrideWay",
    "Part",
    "PartMove",
    "Pause",
    "Performance",
    "Plan",
    "PlanTerm",
    "TermInput",
    "PointLine",
    "PointOfPosition",
    "Prerequisite",
    "ProcedureDecision",
    "ProcedureLine",
    "ProcedureVersion",
    "Restoration",
    "ReturnCheck",
    "Round",
    "Step",
    "StopAnswer",
    "StrappingTable",
    "TemplatePart",
    "TemplateStep",
    "Walk",
    "WalkEntry",
    "WalkStop",
    "WorkOrder",
]
