"""The states of a work order and the acts that lead from one to the next: one table, nothing else decides."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class OrderAct(StrEnum):
    """What may be done with a work order, in the words of its buttons."""

    PLAN = "plan"
    START = "start"
    WAIT = "wait"
    RESUME = "resume"
    FINISH = "finish"
    ACCEPT = "accept"
    SEND_BACK = "send back"
    WITHDRAW = "withdraw"


@dataclass(frozen=True, slots=True, kw_only=True)
class Transition:
    """From which states an act leads, to which one, and how a sentence speaks of the act."""

    begins: frozenset[str]
    ends: str
    said: str


OPEN = ("raised", "planned", "under way", "waiting")

# A raised order may be started before anybody planned it: a leak at night does not wait for the office.
TRANSITIONS: dict[OrderAct, Transition] = {
    OrderAct.PLAN: Transition(begins=frozenset({"raised", "planned"}), ends="planned", said="planned"),
    OrderAct.START: Transition(begins=frozenset({"raised", "planned"}), ends="under way", said="started"),
    OrderAct.WAIT: Transition(begins=frozenset({"under way"}), ends="waiting", said="set to waiting"),
    OrderAct.RESUME: Transition(begins=frozenset({"waiting"}), ends="under way", said="taken up again"),
    OrderAct.FINISH: Transition(begins=frozenset({"under way"}), ends="done", said="recorded as done"),
    OrderAct.ACCEPT: Transition(begins=frozenset({"done"}), ends="accepted", said="accepted"),
    OrderAct.SEND_BACK: Transition(begins=frozenset({"done"}), ends="under way", said="sent back"),
    OrderAct.WITHDRAW: Transition(begins=frozenset(OPEN), ends="withdrawn", said="withdrawn"),
}


class NotNow(ValueError):
    """The act does not lead on from the state the order is in."""


def next_state(state: str, act: OrderAct) -> str:
    """State that `act` leads to from `state`. Raises NotNow with a sentence when it leads nowhere from there."""
    transition = TRANSITIONS[act]
    if state not in transition.begins:
        wanted = " or ".join(sorted(transition.begins, key=_by_progress))
        raise NotNow(f"The work order is {state}; only one that is {wanted} can be {transition.said}.")
    return transition.ends


def acts_from(state: str) -> tuple[OrderAct, ...]:
    """Acts that lead on from `state`, in the order of the table."""
    return tuple(act for act, transition in TRANSITIONS.items() if state in transition.begins)


def _by_progress(state: str) -> int:
    return (*OPEN, "done", "accepted", "withdrawn").index(state)


URGENT = frozenset({"safety", "compliance"})
FOUND = ("check-", "walk ")
"""How the keys begin of orders that mend what was found."""


def usual_type(*, origin_key: str | None, has_plan: bool, matters_for: str) -> str:
    """Return the type an order has by what raised it, where nobody chose one; '' where that says nothing.

    What a failed check or a walk found is corrective, immediate where safety or compliance rests on the tag (own
    judgement; a person changes it when raising or planning); work of a routine is preventive.
    """
    if (origin_key or "").startswith(FOUND):
        return "corrective immediate" if matters_for in URGENT else "corrective deferred"
    return "preventive" if has_plan else ""
