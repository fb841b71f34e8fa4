"""What is known about one routine: its terms, what was done, what was fitted. All due dates follow from these facts.

Days are plant-local dates, settled when the fact was recorded; instants are aware datetimes and only put facts of
one day in order or tell what was known when. Nothing here is worked out from a clock.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from fractions import Fraction

from maintenance.compute.stretches import (
    ONE_DAY,
    AlsoFulfils,
    Pause,
    Run,
    also_as_known,
    pauses_as_known,
    runs_as_known,
)
from maintenance.compute.terms import InForce, Term, judging, ruling

NOT_VALID = "not valid"
FAILED = "failed, not restored"
ENTERED_BY_MISTAKE = "entered by mistake"
STALE_DAYS = 30  # own judgement; each site sets its own


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One performance of the routine. `day` is the site date it was performed on, not the date of its entry.

    `counts` is False for a performance that fulfils nothing, with the reason in `because` (`NOT_VALID`, `FAILED`,
    `ENTERED_BY_MISTAKE` or another sentence). `asset` is what it was performed on ("" = whatever was fitted).
    `replaces` names the act that this one corrects. `routine` is the key of the routine it was performed for, "" = this
    one. `in_place` is False for work on the asset out of its place, on the bench.
    """

    key: str
    day: date
    performed_at: datetime
    recorded_at: datetime
    counts: bool = True
    because: str = ""
    asset: str = ""
    replaces: str = ""
    routine: str = ""
    in_place: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """An asset put into the position on `from_day`, at the instant `from_at`; it stays until the next fitting."""

    key: str
    asset: str
    from_day: date
    from_at: datetime
    recorded_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Retirement:
    """End of the routine, for the reason given; what is still open on `day` is withdrawn."""

    day: date
    recorded_at: datetime
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Metered:
    """A known total of the meter that a routine by use counts on: rollover and exchange are settled in it already.

    `total` is in the unit of the terms and never falls from one instant `at` to a later one. `day` is the site day it
    was read on, `known_on` the site day it was recorded on: what it tells is owed from then. `asset` is what the meter
    belongs to ("" = the place).
    """

    at: datetime
    day: date
    total: Fraction
    known_on: date
    recorded_at: datetime
    asset: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A reading or a computed value that a routine on a condition looks at; days as those of `Metered`.

    `key` is unique within the routine. `told` is the value in words, with what it was worked out from.
    """

    key: str
    at: datetime
    day: date
    value: Fraction
    known_on: date
    recorded_at: datetime
    told: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Everything known about one routine, in any order. `start` is the day it was put into force.

    `also` declares whose work counts here too; `runs` is the running time of its unit, `metered` the totals of its
    meter, `values` what a condition looks at. `stale_days`: days without a reading after which a meter must be read.

    `follows_asset`: the routine is owed by the asset fitted, not by the place, so that a newly fitted asset owes it
    before use and only work on the asset fitted at the time counts.
    Raises ValueError when two acts, pauses or values share a key, two acts correct the same one, corrections run in a
    circle, or a total of a meter falls.
    """

    start: date
    terms: tuple[Term, ...]
    acts: tuple[Act, ...] = ()
    fittings: tuple[Fitting, ...] = ()
    follows_asset: bool = False
    retired: Retirement | None = None
    runs: tuple[Run, ...] = ()
    pauses: tuple[Pause, ...] = ()
    also: tuple[AlsoFulfils, ...] = ()
    metered: tuple[Metered, ...] = ()
    values: tuple[Value, ...] = ()
    stale_days: int = STALE_DAYS
    originals: dict[str, str] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Find for each act the first act of its chain of corrections."""
        _refuse_twins("Two acts have the key", [act.key for act in self.acts])
        _refuse_twins("Two acts correct the act", [act.replaces for act in self.acts if act.replaces])
        _refuse_twins("Two pauses have the key", [pause.key for pause in self.pauses])
        _refuse_twins("Two values have the key", [value.key for value in self.values])
        _refuse_falling(self.metered)
        object.__setattr__(self, "originals", _originals(self.acts))

    def as_known(self, at: datetime | None) -> Facts:
        """Return the facts without what was recorded after `at` (None: everything)."""
        if at is None:
            return self
        return replace(
            self,
            terms=tuple(term for term in self.terms if term.recorded_at <= at),
            acts=tuple(act for act in self.acts if act.recorded_at <= at),
            fittings=tuple(fitting for fitting in self.fittings if fitting.recorded_at <= at),
            retired=self.retired if self.retired and self.retired.recorded_at <= at else None,
            runs=runs_as_known(self.runs, at),
            pauses=pauses_as_known(self.pauses, at),
            also=also_as_known(self.also, at),
            metered=tuple(one for one in self.metered if one.recorded_at <= at),
            values=tuple(value for value in self.values if value.recorded_at <= at),
        )

    def current_acts(self) -> list[Act]:
        """Acts that no later one corrects, in the order they were performed."""
        corrected = {act.replaces for act in self.acts}
        return sorted((act for act in self.acts if act.key not in corrected), key=_performed)

    def terms_in_force(self) -> list[InForce]:
        """Terms in the order they take effect, with the days they rule. See `ruling`."""
        found = ruling(self.terms, _taking_effect)
        return [InForce(term=term, begins=begins, ends=ends) for term, begins, ends in found]

    def term_on(self, day: date) -> Term:
        """Term in force on `day`. Raises LookupError when no term is known."""
        for rule in reversed(self.terms_in_force()):
            if rule.begins <= day:
                return rule.term
        raise LookupError("The routine has no terms.")

    def term_for(self, value: Value) -> Term:
        """Term that judges a value: the one in force when it was taken. Raises LookupError when no term is known."""
        for term, begin, _ in reversed(judging(self.terms, _taking_effect)):
            if begin is None or begin.reached(value.day, value.at):
                return term
        raise LookupError("The routine has no terms.")

    def bench_on(self, day: date) -> bool:
        """Whether work on the asset out of its place counts on `day`."""
        return bool(self.terms) and self.term_on(day).bench

    def paused_on(self, day: date, term: Term | None = None) -> bool:
        """Whether nothing is owed on `day`, because of a pause or out of the season of `term` (None: the day's own)."""
        return any(pause.covers(day) for pause in self.pauses) or self._out_of_season(day, term)

    def _out_of_season(self, day: date, term: Term | None) -> bool:
        if all(one.season is None for one in self.terms):
            return False
        season = (term or self.term_on(day)).season
        return season is not None and not season.covers(day)

    def all_pauses(self, last: date) -> list[Pause]:
        """Pauses, and the stretches out of season that begin by `last`, cut to the days on which their terms rule."""
        found = list(self.pauses)
        for rule in self.terms_in_force() if any(term.season for term in self.terms) else ():
            season, begin = rule.term.season, max(rule.begins, self.start)
            end = min(rule.ends or date.max, last + ONE_DAY)
            if season is None or begin >= end:
                continue
            for off, back in season.off(begin, end):
                first = max(off, rule.begins)
                found.append(
                    Pause(
                        key=f"season {first.isoformat()}",
                        from_day=first,
                        to_day=min(back, rule.ends or date.max),
                        because=season.off_words,
                        recorded_at=rule.term.recorded_at,
                    )
                )
        return found

    def season_turns(self, day: date) -> list[date]:
        """First days after `day` on which a season of the terms begins or ends."""
        return [term.season.next_turn(day) for term in self.terms if term.season is not None]

    def fitted_at(self, at: datetime) -> Fitting | None:
        """Newest fitting begun at or before the instant `at`."""
        begun = [fitting for fitting in self.fittings if fitting.from_at <= at]
        return max(begun, key=lambda fitting: (fitting.from_at, fitting.key), default=None)


def _taking_effect(term: Term) -> tuple[date, date, datetime]:
    return term.takes_effect, term.decided_on, term.recorded_at


def _performed(act: Act) -> tuple[date, datetime, str]:
    return act.day, act.performed_at, act.key


def _refuse_twins(sentence: str, keys: list[str]) -> None:
    twins = sorted(key for key, times in Counter(keys).items() if times > 1)
    if twins:
        raise ValueError(f"{sentence} {', '.join(twins)}.")


def _refuse_falling(metered: tuple[Metered, ...]) -> None:
    highest: dict[str, Metered] = {}
    for one in sorted(metered, key=lambda one: (one.at, one.total)):
        before = highest.get(one.asset)
        if before is not None and one.total < before.total:
            raise ValueError(f"Meter: the total falls from {before.total} to {one.total}; settle that first.")
        highest[one.asset] = one


def _originals(acts: tuple[Act, ...]) -> dict[str, str]:
    """Key of each act -> key of the act its chain of corrections began with."""
    replaces = {act.key: act.replaces for act in acts}
    first = {}
    for key in replaces:
        chain = [key]
        while replaces.get(chain[-1]):
            chain.append(replaces[chain[-1]])
            if len(chain) > len(replaces) + 1:
                raise ValueError(f"Corrections run in a circle: {key} corrects itself by way of others.")
        first[key] = chain[-1]
    return first
