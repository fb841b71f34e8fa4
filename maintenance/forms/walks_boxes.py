"""What the page of a check point draws: a line with its box, and the questions put about its number."""

from __future__ import annotations

from dataclasses import dataclass

from django.forms.boundfield import BoundField

from assets.compute.readings.asked import Answer
from maintenance.reads.walks_lines import LineView


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerBox:
    """One answer of a question, with the boxes of the numbers it asks for in turn."""

    answer: Answer
    chosen: bool
    boxes: tuple[BoundField, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionBox:
    """One question put about a number. `hidden`: put by the page itself, as soon as the number is beyond the limit."""

    name: str
    head: str
    sentence: str
    answers: tuple[AnswerBox, ...]
    suggestion: str = ""
    hidden: bool = False
    side: str = ""

    @property
    def limit(self) -> bool:
        """Whether it is about a limit, so that what was done is asked too."""
        return bool(self.side)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineBox:
    """One line of the page: its box and everything around it."""

    view: LineView
    value: BoundField
    seconds: BoundField | None
    could_not: BoundField | None
    did: BoundField
    order: BoundField | None
    kind: BoundField | None
    questions: tuple[QuestionBox, ...]
    first: str
    first_name: str

    @property
    def errors(self) -> tuple[str, ...]:
        """What is wrong at the box itself; a question stands below it instead."""
        heads = {one.head for one in self.questions}
        return tuple(str(one) for one in self.value.errors if str(one) not in heads)

    @property
    def wrong(self) -> bool:
        """Whether the box is to be looked at."""
        return bool(self.value.errors)
