"""What follows from the signed sets of a check: which fulfil its routine, which do not and why not."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from calibration.compute.methods import METHODS
from calibration.models import Check, Outcome, ReadingSet
from calibration.reads.own_fields import is_test
from calibration.reads.sheet import PASSING

LONGEST = 200


@dataclass(frozen=True, slots=True)
class Owed:
    """One performance that a signed set leaves: its key, when, whether it counts and why not."""

    key: str
    performed_at: dt.datetime
    counts: bool
    because: str


def key_of(check: Check, what: str) -> str:
    """Return the key under which maintenance knows what a check left."""
    return f"check-{check.pk}-{what}"


def path_of(check: Check) -> str:
    """Return the permanent path of a check."""
    return f"/checks/{check.number}/"


def cut(text: str) -> str:
    """Shorten a sentence for a line of a list; the whole stands in the check."""
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1].rstrip()}…"


def owed_by(of: ReadingSet) -> Owed | None:
    """Return the performance that a signed set leaves.

    A valid passing as left fulfils the routine, and so does a test that passes. A failing one, and a set that is not
    valid, leave one that does not count. As found and a second buffer by themselves leave none.
    """
    outcome: Outcome | None = getattr(of, "outcome", None)
    if outcome is None or of.kind == "confirming":
        return None
    test = is_test(METHODS[of.check_of.method])
    if of.kind == "as found" and outcome.valid and not test:
        return None
    because = ""
    if not outcome.valid:
        because = cut(f"{'the test' if test else of.kind} is not valid: {outcome.because}")
    elif outcome.verdict not in PASSING:
        because = "the test failed" if test else "failed as left, not restored"
    key = key_of(of.check_of, of.kind)
    return Owed(key=key, performed_at=of.performed_at, counts=not because, because=because)
