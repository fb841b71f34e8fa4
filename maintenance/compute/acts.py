"""Which acts of a routine count, and what became of each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from maintenance.compute.facts import ENTERED_BY_MISTAKE, Act, Facts

NOT_FITTED = "another asset was fitted at the time"
SAME_DAY = "one a day counts, an earlier one did"


class Fate(StrEnum):
    """What an act did to the turns of its routine."""

    CLOSED = "closed"
    BEFORE_START = "before the start"
    EXTRA = "extra work"
    NOT_COUNTED = "not counted"


@dataclass(frozen=True, slots=True, kw_only=True)
class ActFate:
    """Fate of the act with the key `act`: the keys of the turns it closed, or why it closed none."""

    act: str
    fate: Fate
    turns: tuple[str, ...] = ()
    because: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """An act that counts. `original` is the first key of its chain of corrections, `fitting` what was fitted then."""

    act: Act
    original: str
    fitting: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NotFulfilled:
    """The newest work on the routine fulfilled nothing, for the reason `because`: the second state beside the first."""

    act: str
    day: date
    because: str


def sort_acts(facts: Facts, day: date) -> tuple[list[Counted], dict[str, ActFate]]:
    """Acts up to `day` that count, in the order performed, and the fates of those that do not.

    An act counts if it was recorded as counting, was performed on the asset fitted at the time (where the routine
    follows the asset), and is the first such act of its site date on what was fitted.
    """
    counted: list[Counted] = []
    fates: dict[str, ActFate] = {}
    taken: set[tuple[date, str]] = set()
    for act in facts.current_acts():
        if act.day > day:
            break
        fitting, not_fitted = _fitting_of(facts, act)
        if not act.counts or not_fitted:
            because = not_fitted if act.counts else act.because
            fates[act.key] = ActFate(act=act.key, fate=Fate.NOT_COUNTED, because=because)
        elif (act.day, fitting) in taken:
            fates[act.key] = ActFate(act=act.key, fate=Fate.EXTRA, because=SAME_DAY)
        else:
            taken.add((act.day, fitting))
            counted.append(Counted(act=act, original=facts.originals[act.key], fitting=fitting))
    return counted, fates


def not_fulfilled(facts: Facts, day: date, *, known_at: datetime | None = None) -> NotFulfilled | None:
    """Second state on `day`: the newest act, if it did not count, with its reason ("failed, not restored").

    None when the newest act counted, or there is none. Acts on another asset than the one fitted and entries made
    by mistake say nothing; where the routine follows the asset, neither do acts on an asset since taken out.
    """
    known = facts.as_known(known_at)
    for act in reversed(known.current_acts()):
        if act.day > day or act.because == ENTERED_BY_MISTAKE:
            continue
        fitting, not_fitted = _fitting_of(known, act)
        if not_fitted:
            continue
        newer = [f for f in known.fittings if f.from_day <= day and f.from_at > act.performed_at]
        if act.counts or (known.follows_asset and newer):
            return None
        return NotFulfilled(act=act.key, day=act.day, because=act.because)
    return None


def _fitting_of(facts: Facts, act: Act) -> tuple[str, str]:
    """Key of the fitting an act was performed on, and why it does not count ("": it may)."""
    if not facts.follows_asset:
        return "", ""
    fitted = facts.fitted_at(act.performed_at)
    if act.asset and (fitted is None or fitted.asset != act.asset):
        return "", NOT_FITTED if facts.fittings else ""
    return (fitted.key if fitted else ""), ""
