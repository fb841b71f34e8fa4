"""A question about something that was typed: why it is asked, what may have been meant, and what can be answered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Weight = Literal["ask", "refuse"]

OWN = "own judgement"
COMMON = "common practice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer that can be chosen; `needs` names the numbers it asks for in turn."""

    key: str
    label: str
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One question about a typed number.

    key: names the question; head: what is doubtful, for the eye; sentence: why, in an operator's words; suggestion: the
    number that may have been meant, never put in by itself; weight: `ask` lets it stand once it is answered, `refuse`
    does not; answers: what can be chosen; source: where the threshold comes from.
    """

    key: str
    head: str
    sentence: str
    suggestion: str = ""
    weight: Weight = "ask"
    answers: tuple[Answer, ...] = ()
    source: str = OWN


def looked_again(told: str) -> tuple[Answer, ...]:
    """Return the two answers after a second look: it stands, or it was misread."""
    return (Answer(key="stands", label=f"Still {told}"), SLIP)


SLIP = Answer(key="slip", label="I misread it")
