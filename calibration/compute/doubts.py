"""What can be wrong with any check, whatever is checked; each method adds its own beside these.

Four weights, see `Found`: refuse, not valid, ask, remind. A question has answers; those under which the value stands
or is a fail need a reason.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import TypeAlias

from calibration.compute.asked import Record, SignalRecord, Written, written
from calibration.compute.figures import plain, sentence_case, shown
from calibration.compute.method import Choice, Found, Known, Worked
from calibration.compute.standards import FIT_AT_LEAST, Standard, fit_ratio, in_unit, why_unfit

Catch: TypeAlias = Callable[..., tuple[Found, ...]]

WRITE_AGAIN = Choice(code="write again", label="I wrote it wrongly: write it again", then="write again")


def stands(code: str, label: str) -> Choice:
    """Return an answer under which the value stands; it needs a reason."""
    return Choice(code=code, label=label, then="stands")


def spoils(code: str, label: str) -> Choice:
    """Return an answer under which the set is not valid."""
    return Choice(code=code, label=label, then="not valid")


def fails(code: str, label: str) -> Choice:
    """Return an answer under which the instrument fails; it needs a reason."""
    return Choice(code=code, label=label, then="fail")


def refuse(field: str, key: str, sentence: str) -> Found:
    """Return what must be mended before anyone can sign."""
    return Found(weight="refuse", field=field, key=key, sentence=sentence)


def not_valid(field: str, key: str, sentence: str, *, about: str = "") -> Found:
    """Return what makes the set (or the one judged value `about`) neither pass nor fail."""
    return Found(weight="not valid", field=field, key=key, sentence=sentence, about=about)


def ask(field: str, key: str, sentence: str, *choices: Choice, about: str = "") -> Found:
    """Return a question; 'I wrote it wrongly' is always among its answers."""
    given = choices if WRITE_AGAIN in choices else (*choices, WRITE_AGAIN)
    return Found(weight="ask", field=field, key=key, sentence=sentence, choices=given, about=about)


def remind(field: str, key: str, sentence: str) -> Found:
    """Return what is only said: nothing in the record shows whether it is so."""
    return Found(weight="remind", field=field, key=key, sentence=sentence)


def reminder(field: str, key: str, sentence: str) -> Catch:
    """Return a catch that reminds at a field until something is written there.

    For mistakes that no record shows: said while they can still be avoided.
    """

    def catch(inputs: Record, known: Known, worked: Worked) -> tuple[Found, ...]:
        at = next((one for one in written(inputs) if one.name == field), None)
        return (remind(field, key, sentence),) if at is not None and at.is_empty else ()

    return catch


def missing_values(inputs: Record, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse every field that must be written and is empty; what was written and cannot be read says so itself."""
    unread = {one.field for one in inputs.unread}
    return tuple(
        refuse(one.name, f"missing-{one.name}", _missing(one))
        for one in written(inputs)
        if one.ask.must and one.is_empty and one.name not in unread
    )


def _missing(one: Written) -> str:
    label = sentence_case(one.ask.label)
    wanted = {
        "number": f"nothing is written. Write what you read{f', in {one.ask.units[0]}' if one.ask.units else ''}.",
        "choice": f"nothing is chosen. Choose {' or '.join(words for _, words in one.ask.choices)}.",
        "yes or no": "neither yes nor no is chosen. Choose one of the two.",
        "standard": "none is chosen. Choose the one in your hand.",
        "text": "nothing is written. Write it in your own words.",
    }
    return f"{label}: {wanted[one.ask.kind]}"


def unfit_standards(inputs: Record, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a standard that is out of date, quarantined, discarded, open too long, away or itself failed."""
    found: list[Found] = []
    for one in written(inputs):
        if one.ask.kind != "standard" or one.is_empty:
            continue
        row = one.name.removesuffix(one.ask.name)
        used = known.standards.get(str(one.value))
        if used is None:
            found.append(refuse(one.name, f"unknown-{one.name}", f"{one.ask.label}: this standard is not registered."))
            continue
        found += [
            not_valid(one.name, f"unfit-{one.name}-{number}", f"{_row_words(row)}{reason}")
            for number, reason in enumerate(why_unfit(used, known.day), 1)
        ]
    return tuple(found)


def _row_words(row: str) -> str:
    """Write 'point2_' as the start of a sentence: 'Point 2: '."""
    name = row.rstrip("_")
    digits = "".join(one for one in name if one.isdigit())
    return f"{name.rstrip('0123456789').capitalize()}{f' {digits}' if digits else ''}: " if name else ""


def coarse_standards(inputs: Record, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: a limit less than four times the uncertainty of the standard it is judged with; four is our own."""
    found: list[Found] = []
    for one in written(inputs):
        used = known.standards.get(str(one.value)) if one.ask.kind == "standard" else None
        ratio = _coarsest(used, worked) if used is not None else None
        if used is None or ratio is None or ratio >= FIT_AT_LEAST:
            continue
        sentence = (
            f"The limit is {shown(ratio, 1)} times the uncertainty of {used.called}; {plain(FIT_AT_LEAST)} are usual. "
            "A result near the limit is then not sure."
        )
        found.append(remind(one.name, f"coarse-{one.name}", sentence))
    return tuple(found)


def _coarsest(used: Standard, worked: Worked) -> Fraction | None:
    """Return the least of limit / U of the standard over the judged values of its quantity, each in its own unit."""
    ratios = []
    for judged in worked.judged:
        there = in_unit(used, judged.unit) if judged.unit else None
        if there is not None and judged.high:
            ratios.append(fit_ratio(judged.high, there.uncertainty))
    return min((ratio for ratio in ratios if ratio is not None), default=None)


def no_hold(inputs: SignalRecord, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a signal that paces, permits or trips something and is not on hold while its sensor is being checked."""
    if not known.uses or inputs.hold == "on":
        return ()
    return (
        ask(
            "hold",
            "no-hold",
            f"This signal {' and '.join(known.uses)}, and it is not written as on hold. While it is checked it moves "
            "what depends on it. Put it on hold, or say what was done instead.",
            stands("other means", "Not on hold: it was kept still by other means"),
            Choice(code="on now", label="Put on hold: write it", then="write again"),
        ),
    )


EVERY_CHECK: tuple[Catch, ...] = (missing_values, unfit_standards, coarse_standards)
"""What is looked for in any check at a bench or at a machine."""

AT_A_SIGNAL: tuple[Catch, ...] = (*EVERY_CHECK, no_hold)
"""What is looked for at an instrument whose signal moves something."""
