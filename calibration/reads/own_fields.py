"""What every check asks beside its method: the hold, what comes next, what was done, the grab after return."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from fractions import Fraction

from calibration.compute.method import Ask, Found
from calibration.compute.typed import Entered, Field, read_fields

CLOCK = re.compile(r"([01]?\d|2[0-3])[:.][0-5]\d")

NEXT = (
    ("nothing", "Nothing is cleaned or adjusted: as left is as found"),
    ("more", "It is cleaned or adjusted now, then read again as left"),
)
DONE = (
    ("cleaned", "Cleaned"),
    ("adjusted", "Adjusted to the buffers"),
    ("both", "Cleaned and adjusted"),
    ("nothing", "Nothing: as left is as found, not read again"),
)

HOLD = (
    Ask(name="hold_on_at", label="put on hold at", part="hold", kind="text", advice="Time of day, like 08:20."),
    Ask(
        name="hold_off_at",
        label="hold taken off at",
        part="hold",
        kind="text",
        advice="Needed before the last signature: nothing is left on hold unseen.",
    ),
    Ask(name="hold_by", label="by", part="hold", kind="text"),
    Ask(name="hold_note", label="what else was done to keep it still", part="hold", kind="text"),
)
AS_FOUND = (
    Ask(name="next", label="What comes next?", part="as found", kind="choice", choices=NEXT),
    Ask(
        name="lost_because",
        label="As found is lost, because",
        part="as found",
        kind="text",
        advice="Only when the probe was cleaned, changed or dead before anyone could read it. Nothing is made up.",
    ),
)
AS_LEFT = (
    Ask(name="done", label="What was done to the probe?", part="as left", kind="choice", choices=DONE),
    Ask(name="cleaned_with", label="cleaned with", part="as left", kind="text"),
    Ask(
        name="grab_ph",
        label="grab after return",
        part="as left",
        units=("pH",),
        low=Fraction(0),
        high=Fraction(14),
        advice="A sample from the same place, read with another meter.",
    ),
    Ask(
        name="grab_temperature",
        label="temperature of the grab",
        part="as left",
        units=("°C",),
        low=Fraction(-10),
        high=Fraction(130),
    ),
    Ask(
        name="grab_shown",
        label="display at that moment",
        part="as left",
        units=("pH",),
        low=Fraction(0),
        high=Fraction(14),
    ),
)
ASKS = {"as found": (*HOLD, *AS_FOUND), "confirming": HOLD, "as left": (*HOLD, *AS_LEFT)}

LONGEST = 200
"""Characters of an own text field."""


def own_fields(stage: str) -> tuple[Field, ...]:
    """Return the fields that a stage asks beside those of the method."""
    return tuple(Field(name=ask.name, label=ask.label, ask=ask) for ask in ASKS[stage])


def read_own(stage: str, typed: Mapping[str, str], *, decimal_mark: str) -> Entered:
    """Read the own fields of a stage as typed."""
    return read_fields(own_fields(stage), typed, decimal_mark=decimal_mark)


def refuse(field: str, sentence: str) -> Found:
    """Return what stands in the way of a signature."""
    return Found(weight="refuse", field=field, key=f"own-{field}", sentence=sentence)


def clock_faults(typed: Mapping[str, str]) -> Iterator[Found]:
    """Refuse a time of the hold that is none, and an end of a hold that never began; said at once, like all slips."""
    for name, words in (("hold_on_at", "Put on hold at"), ("hold_off_at", "Hold taken off at")):
        text = typed.get(name, "").strip()
        if text and not CLOCK.fullmatch(text):
            yield _slip(name, f"{words}: “{text}” is no time of day; write it like 08:20.")
    if typed.get("hold_off_at", "").strip() and typed.get("hold") != "on":
        yield _slip("hold", "A time is written at which the hold was taken off. Say that it was on hold.")


def _slip(field: str, sentence: str) -> Found:
    return Found(weight="refuse", field=field, key=f"unread-{field}", sentence=sentence)


def hold_still_on(typed: Mapping[str, str]) -> Iterator[Found]:
    """Refuse the last signature while the signal is written as on hold and no end of it is."""
    if typed.get("hold") == "on" and not typed.get("hold_off_at", "").strip():
        sentence = (
            "Hold taken off at: nothing is written, so the signal is still on hold. Take it off when the probe is "
            "back, write the time, then sign."
        )
        yield refuse("hold_off_at", sentence)
