"""What the rules say when they refuse: whole sentences for the person who asked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any


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


PLAIN = {
    "max_length": "This is too long: {show_value} characters, and at most {limit_value} can be kept. Shorten it.",
    "min_length": "This is too short: {show_value} characters, and at least {limit_value} are needed.",
    "null_characters_not_allowed": "A character that cannot be seen (U+0000) is in it. Type it anew, without pasting.",
    "invalid_choice": "What was chosen{value} is not offered here, or not any more. Choose one of those that are.",
    "invalid_list": "What was chosen could not be read. Choose anew from those that are offered.",
    "invalid_pk_value": "What was chosen{value} is not offered here. Choose one of those that are.",
    "min_value": "{show_value} is too small; write {limit_value} or more.",
    "max_value": "{show_value} is too large; write {limit_value} or less.",
    "invalid": "This could not be read. Look at it and type it anew.",
    "missing": "The file did not arrive. Choose it again.",
    "empty": "The file is empty. Choose another.",
    "blank": "Nothing is written here yet; it is needed.",
    "null": "Nothing is written here yet; it is needed.",
}
"""What to say instead of the framework's own sentence, by its code."""


def plainly(code: str, params: Mapping[str, Any] | None) -> str:
    """Return our sentence for a fault that the framework found; empty where there is none for its code.

    A choice is quoted only where it was typed as words: the number of a row says nothing to anybody.
    """
    given = dict(params or {})
    value = str(given.get("value", ""))
    given["value"] = f", “{value[:40]}”," if value and not value.isdecimal() else ""
    try:
        return PLAIN[code].format(**given) if code in PLAIN else ""
    except KeyError:
        return ""
