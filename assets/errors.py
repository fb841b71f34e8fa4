"""What the rules say when they refuse: whole sentences for the person who asked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that stops an act: a sentence, and the field of the form it belongs to ('' = the whole act)."""

    sentence: str
    field: str = ""


class Refusal(ValueError):
    """An act was refused; nothing was changed."""

    def __init__(self, reasons: str | Reason | Iterable[Reason], *, field: str = "") -> None:
        if isinstance(reasons, str):
            reasons = Reason(reasons, field)
        self.reasons = (reasons,) if isinstance(reasons, Reason) else tuple(reasons)
        # A door that has already written this refusal into the history must not write it again.
        self.recorded = False
        super().__init__(" ".join(reason.sentence for reason in self.reasons))


class Stale(Refusal):
    """Somebody else changed the record first."""


class NotAllowed(Refusal):
    """The person's role does not include this act."""


class AlreadyDone(Exception):
    """The same submission arrived before; `answer` is the page its first arrival led to."""

    def __init__(self, answer: str) -> None:
        self.answer = answer
        super().__init__(answer)
