"""What every check asks beside its method: the hold, what comes next, what was done."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Mapping

from django.utils import timezone

from calibration.compute.method import AnyMethod, Ask, Entered, Found
from calibration.compute.typed import Field, read_fields

CLOCK = re.compile(r"(?:([0-9]{4}-[0-9]{2}-[0-9]{2})[ T])?([01]?[0-9]|2[0-3])[:.]([0-5][0-9])")
TIMES = (("hold_on_at", "Put on hold at"), ("hold_off_at", "Hold taken off at"))

NEXT = (
    ("nothing", "Nothing is cleaned or adjusted: as left is as found"),
    ("more", "It is cleaned or adjusted now, then read again as left"),
)
DONE = (
    ("cleaned", "Cleaned"),
    ("adjusted", "Adjusted"),
    ("both", "Cleaned and adjusted"),
    ("nothing", "Nothing: as left is as found, not read again"),
)

HOLD = (
    Ask(
        name="hold_on_at",
        label="put on hold at",
        part="hold",
        kind="text",
        advice="Time of day, like 08:20; on another day, the day too.",
    ),
    Ask(
        name="hold_off_at",
        label="hold taken off at",
        part="hold",
        kind="text",
        advice="Needed before the last signature: nothing is left on hold unseen.",
    ),
    Ask(name="hold_by", label="put on hold by", part="hold", kind="text"),
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
    Ask(name="done", label="What was done to it?", part="as left", kind="choice", choices=DONE),
    Ask(name="cleaned_with", label="cleaned with", part="as left", kind="text"),
)
ASKS = {"as found": AS_FOUND, "confirming": (), "as left": AS_LEFT}

LONGEST = 200
"""Characters of an own text field."""


def own_fields(method: AnyMethod, stage: str) -> tuple[Field, ...]:
    """Return the fields that a stage asks beside those of the method.

    The hold where the method asks for one; what comes next where anything does; as left what it asks after return.
    """
    holds = any(ask.name == "hold" for ask in method.asks)
    asks = [*(HOLD if holds else ()), *(() if is_test(method) else ASKS[stage])]
    if stage == "as left":
        asks += method.after_return
    return tuple(Field(name=ask.name, label=ask.label, ask=ask) for ask in asks)


def is_test(method: AnyMethod) -> bool:
    """Tell whether nothing is read again after: a test is one set, signed once."""
    return method.stages == ("as found",)


def last_stage(method: AnyMethod) -> str:
    """Return the set that fulfils the routine: as left, or the one set of a test."""
    return method.stages[-1]


def read_own(method: AnyMethod, stage: str, typed: Mapping[str, str], *, decimal_mark: str) -> Entered:
    """Read the own fields of a stage as typed."""
    return read_fields(own_fields(method, stage), typed, decimal_mark=decimal_mark)


def refuse(field: str, sentence: str) -> Found:
    """Return what stands in the way of a signature."""
    return Found(weight="refuse", field=field, key=f"own-{field}", sentence=sentence)


def clock_faults(typed: Mapping[str, str], *, at: dt.datetime) -> Iterator[Found]:
    """Refuse a time of the hold that is none or has not come, and an end before its beginning or without one.

    `at` is when the set was read, in the site's zone: a time without a day is of that day. Said at once, as all slips.
    """
    moments = {}
    for name, words in TIMES:
        text = typed.get(name, "").strip()
        moments[name] = _moment(text, at)
        if text and moments[name] is None:
            yield _slip(name, f"{words}: “{text}” is no time of day; write it like 08:20, or like {_day(at)} 08:20.")
    if typed.get("hold_off_at", "").strip() and typed.get("hold") != "on":
        yield _slip("hold", "A time is written at which the hold was taken off. Say that it was on hold.")
    yield from _not_come(typed, moments, at)
    on, off = moments["hold_on_at"], moments["hold_off_at"]
    if on is not None and off is not None and off < on:
        yield _slip(
            "hold_off_at",
            f"Hold taken off at: {typed['hold_off_at'].strip()} is before it was put on, at "
            f"{typed['hold_on_at'].strip()}. Look at both; where it went over midnight, write the day to each time, "
            f"like {_day(at)} 08:20.",
        )


def _not_come(typed: Mapping[str, str], moments: Mapping[str, dt.datetime | None], at: dt.datetime) -> Iterator[Found]:
    latest = timezone.now() + dt.timedelta(minutes=1)
    for name, words in TIMES:
        moment = moments[name]
        if moment is not None and moment > latest:
            yield _slip(
                name,
                f"{words}: {typed[name].strip()} has not come yet. Write a time that has passed; where it was on "
                f"another day, write the day too, like {_day(at - dt.timedelta(days=1))} 23:40.",
            )


def _moment(text: str, at: dt.datetime) -> dt.datetime | None:
    """Return the moment that is meant, on the day of `at` where no day is written; None where it is none."""
    found = CLOCK.fullmatch(text)
    if found is None:
        return None
    day, hour, minute = found.groups()
    try:
        date = dt.date.fromisoformat(day) if day else at.date()
    except ValueError:
        return None
    # In UTC, since Python compares two times of one zone by the clock on the wall, across a change of it too.
    return dt.datetime.combine(date, dt.time(int(hour), int(minute)), tzinfo=at.tzinfo).astimezone(dt.UTC)


def _day(at: dt.datetime) -> str:
    return at.date().isoformat()


def _slip(field: str, sentence: str) -> Found:
    return Found(weight="refuse", field=field, key=f"unread-{field}", sentence=sentence)


def hold_without_time(typed: Mapping[str, str]) -> Iterator[Found]:
    """Refuse a signature where the signal was put on hold and nobody wrote when."""
    if typed.get("hold") == "on" and not typed.get("hold_on_at", "").strip():
        sentence = (
            "Put on hold at: nothing is written, though it was on hold. Write the time from which the signal stood "
            "still, like 08:20."
        )
        yield refuse("hold_on_at", sentence)


def hold_still_on(typed: Mapping[str, str]) -> Iterator[Found]:
    """Refuse the last signature while the signal is written as on hold and no end of it is."""
    if typed.get("hold") == "on" and not typed.get("hold_off_at", "").strip():
        sentence = (
            "Hold taken off at: nothing is written, so the signal is still on hold. Take it off when the probe is "
            "back, write the time, then sign."
        )
        yield refuse("hold_off_at", sentence)
