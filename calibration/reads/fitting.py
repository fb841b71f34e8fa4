"""Which methods fit what a tag measures, and which all the same may be chosen."""

from __future__ import annotations

from dataclasses import dataclass

from assets.models import Position
from calibration.compute.method import AnyMethod
from calibration.compute.methods import ALL, METHODS
from calibration.models import Requirement

OF_MACHINES = frozenset({"feed-pump", "running-meter", "trip-test", "membrane-integrity", "differential-pressure"})
"""Methods that check a machine rather than a signal."""

EVERYWHERE = "comparison"
"""The method that fits whatever a sample can be taken of."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One method that a tag may be checked by; `there` when it is already."""

    code: str
    name: str
    now: bool
    there: bool


@dataclass(frozen=True, slots=True)
class Methods:
    """The methods of a tag's page: those that fit first, all others below."""

    fit: tuple[Choice, ...]
    others: tuple[Choice, ...]


def fits(method: AnyMethod, position: Position) -> bool:
    """Tell whether a method checks what a tag measures: by its quantity in words, else by a unit of its readings."""
    if not position.measures:
        return method.code in OF_MACHINES
    quantity, own = position.quantity.strip().lower(), method.quantity.strip().lower()
    if quantity and own and (own in quantity or quantity in own):
        return True
    units = {ask.units for ask in method.asks if ask.part == "reading set" and ask.name in {"shown", "indicated"}}
    return not quantity and any(position.unit in some for some in units)


def asked_for(position: Position, code: str) -> str:
    """Return the method a page is about: the one asked for, else the first that fits and is not set yet."""
    if code in METHODS:
        return code
    there = set(Requirement.objects.filter(position=position).values_list("method", flat=True))
    fitting = [method.code for method in ALL if fits(method, position)]
    free = [one for one in fitting if one not in there]
    if not free and position.measures and EVERYWHERE not in there:
        free = [EVERYWHERE]
    return (free or fitting or [EVERYWHERE])[0]


def methods_for(position: Position, now: str) -> Methods:
    """Return the methods to choose from at a tag, in the order pages offer them."""
    there = set(Requirement.objects.filter(position=position).values_list("method", flat=True))
    allowed = [method for method in ALL if position.measures or method.code in OF_MACHINES]
    choices = [
        (
            fits(method, position) or method.code == EVERYWHERE,
            Choice(method.code, method.name, method.code == now, method.code in there),
        )
        for method in allowed
    ]
    return Methods(tuple(one for fit, one in choices if fit), tuple(one for fit, one in choices if not fit))
