"""Which acts of a routine count, and what became of each."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from maintenance.compute.facts import ENTERED_BY_MISTAKE, Act, Facts

NOT_FITTED = "another asset was fitted at the time"
NOT_IN_PLACE = "done out of its place"
NOT_DECLARED = "done for another routine"
SAME_DAY = "one a day counts, an earlier one did"


class Fate(StrEnum):
    """What an act did to the turns of its routine."""

    CLOSED = "closed"
    BEFORE_START = "before the start"
    EXTRA = "extra work"
    ON_THE_BENCH = "before it was fitted"  # counts from the day the asset is fitted
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
    """An act that counts. `original` is the first key of its chain of corrections.

    `fitting` is the key of what was fitted then, `asset` what the work was done on ("" = not known or of no account).
    """

    act: Act
    original: str
    fitting: str
    asset: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotFulfilled:
    """The newest work on the routine fulfilled nothing, for the reason `because`: the second state beside the first."""

    act: str
    day: date
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sorted:
    """Acts that count where they were done, acts on the bench that count once fitted, and the fates of the others."""

    counted: list[Counted] = field(default_factory=list)
    bench: list[Counted] = field(default_factory=list)
    fates: dict[str, ActFate] = field(default_factory=dict)


def sort_acts(facts: Facts, day: date) -> Sorted:
    """Acts up to `day`, in the order performed.

    An act counts if it was recorded as counting, for this routine or one declared to fulfil it too, in its place (or
    on the bench where the terms allow that), on the asset fitted at the time (where the routine follows the asset),
    and is the first such act of its site date on what was fitted.
    """
    found = Sorted()
    taken: set[tuple[date, str]] = set()
    for act in facts.current_acts():
        if act.day > day:
            break
        fitting, asset, because = _place_of(facts, act)
        counted = Counted(act=act, original=facts.originals[act.key], fitting=fitting, asset=asset)
        if not act.counts or because:
            found.fates[act.key] = ActFate(
                act=act.key, fate=Fate.NOT_COUNTED, because=because if act.counts else act.because
            )
        elif asset and not fitting:
            found.fates[act.key] = ActFate(act=act.key, fate=Fate.ON_THE_BENCH)
            found.bench.append(counted)
        elif (act.day, fitting) in taken:
            found.fates[act.key] = ActFate(act=act.key, fate=Fate.EXTRA, because=SAME_DAY)
        else:
            taken.add((act.day, fitting))
            found.counted.append(counted)
    return found


def not_fulfilled(facts: Facts, day: date, *, known_at: datetime | None = None) -> NotFulfilled | None:
    """Second state on `day`: the newest act, if it did not count, with its reason ("failed, not restored").

    None when the newest act counted, or there is none. Acts on another asset than the one fitted and entries made
    by mistake say nothing; where the routine follows the asset, neither do acts on an asset since taken out.
    """
    known = facts.as_known(known_at)
    for act in reversed(known.current_acts()):
        if act.day > day or act.because == ENTERED_BY_MISTAKE:
            continue
        fitting, asset, elsewhere = _place_of(known, act)
        if elsewhere or (asset and not fitting):
            continue
        newer = [f for f in known.fittings if f.from_day <= day and f.from_at > act.performed_at]
        if act.counts or (known.follows_asset and newer):
            return None
        return NotFulfilled(act=act.key, day=act.day, because=act.because)
    return None


def _place_of(facts: Facts, act: Act) -> tuple[str, str, str]:
    """Key of the fitting an act was performed on, the asset, and why it does not count here ("": it may).

    No fitting, but an asset: work on the bench that counts once that asset is fitted.
    """
    if act.routine and not any(one.routine == act.routine and one.covers(act.day) for one in facts.also):
        return "", "", NOT_DECLARED
    if not act.in_place and not facts.bench_on(act.day):
        return "", "", NOT_IN_PLACE
    if not facts.follows_asset or not facts.fittings:
        return "", "", ""
    fitted = facts.fitted_at(act.performed_at)
    if act.asset and (fitted is None or fitted.asset != act.asset):
        return ("", act.asset, "") if facts.bench_on(act.day) else ("", "", NOT_FITTED)
    return (fitted.key, fitted.asset, "") if fitted else ("", "", "")
