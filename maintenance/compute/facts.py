"""What is known about one routine: its terms, what was done, what was fitted. All due dates follow from these facts.

Days are plant-local dates, settled when the fact was recorded; instants are aware datetimes and only put facts of
one day in order or tell what was known when. Nothing here is worked out from a clock.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime
from enum import StrEnum

from maintenance.compute.intervals import A_WEEK, LONGEST, NONE_ALLOWED, Allowance, Unit

NOT_VALID = "not valid"
FAILED = "failed, not restored"
ENTERED_BY_MISTAKE = "entered by mistake"


class Mode(StrEnum):
    """How the turns of a routine arise."""

    FIXED = "fixed"  # on a grid of days, whenever the last one was done
    FLOATING = "floating"  # an interval after the day it was last done


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One version of the terms of a routine, in force until the next one takes effect.

    `every` with `unit` is the interval. `anchor` is a day of the grid and the first one (fixed only).
    `early` and `late` are the days allowed before and after the due day; `by_rule` says that a rule itself demands
    the interval: then none are allowed after it and no lock stops it. `from_day` is the day asked for, `decided_on`
    the site date of the decision: a term never works backwards, see `takes_effect`.
    Raises ValueError for an interval outside 1 day to 100 years or a grid without its anchor.
    """

    mode: Mode
    every: int
    unit: Unit
    from_day: date
    decided_on: date
    recorded_at: datetime
    anchor: date | None = None
    early: Allowance = A_WEEK
    late: Allowance = NONE_ALLOWED
    by_rule: bool = False

    def __post_init__(self) -> None:
        """Refuse terms from which no due day can be worked out."""
        if not 1 <= self.every <= LONGEST[self.unit]:
            raise ValueError(f"Interval: {self.every} {self.unit}s. Give 1 to {LONGEST[self.unit]} {self.unit}s.")
        if self.mode is Mode.FIXED and self.anchor is None:
            raise ValueError("Anchor: a routine on fixed days needs one of its due days to count from.")

    @property
    def takes_effect(self) -> date:
        """Day from which the term is in force: as asked, but never before it was decided."""
        return max(self.from_day, self.decided_on)


@dataclass(frozen=True, slots=True, kw_only=True)
class InForce:
    """A term with the days it rules: from `begins`, up to but without `ends` (None: still in force)."""

    term: Term
    begins: date
    ends: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One performance of the routine. `day` is the site date it was performed on, not the date of its entry.

    `counts` is False for a performance that fulfils nothing, with the reason in `because` (`NOT_VALID`, `FAILED`,
    `ENTERED_BY_MISTAKE` or another sentence). `asset` is what it was performed on ("" = whatever was fitted).
    `replaces` names the act that this one corrects.
    """

    key: str
    day: date
    performed_at: datetime
    recorded_at: datetime
    counts: bool = True
    because: str = ""
    asset: str = ""
    replaces: str = ""


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
class Block:
    """Days on which the work cannot be done: `from_day` up to but without `to_day`, the day of release.

    `to_day` None: still so. A block put on and released on one day covers no day. The lock of the routine's own job
    is not a block; leave it out. The recording times are only needed to ask what was known at an earlier time.
    Raises ValueError for a release before the beginning.
    """

    from_day: date
    to_day: date | None
    because: str
    recorded_at: datetime | None = None
    to_recorded_at: datetime | None = None

    def __post_init__(self) -> None:
        """Refuse a release before the beginning."""
        if self.to_day is not None and self.to_day < self.from_day:
            raise ValueError(f"Release: {self.to_day} is before the block began on {self.from_day}.")

    def covers(self, day: date) -> bool:
        """Whether the work cannot be done on `day`."""
        return self.from_day <= day and (self.to_day is None or day < self.to_day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Everything known about one routine, in any order. `start` is the day it was put into force.

    `follows_asset`: the routine is owed by the asset fitted, not by the place, so that a newly fitted asset owes it
    before use and only work on the asset fitted at the time counts.
    Raises ValueError when two acts share a key, two correct the same one, or corrections run in a circle.
    """

    start: date
    terms: tuple[Term, ...]
    acts: tuple[Act, ...] = ()
    fittings: tuple[Fitting, ...] = ()
    follows_asset: bool = False
    retired: Retirement | None = None
    originals: dict[str, str] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Find for each act the first act of its chain of corrections."""
        _refuse_twins("Two acts have the key", [act.key for act in self.acts])
        _refuse_twins("Two acts correct the act", [act.replaces for act in self.acts if act.replaces])
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
        )

    def current_acts(self) -> list[Act]:
        """Acts that no later one corrects, in the order they were performed."""
        corrected = {act.replaces for act in self.acts}
        return sorted((act for act in self.acts if act.key not in corrected), key=_performed)

    def terms_in_force(self) -> list[InForce]:
        """Terms in the order they take effect; the first one rules from the beginning.

        Of several taking effect on one day only the one decided last is ever in force.
        """
        ordered = sorted(self.terms, key=lambda term: (term.takes_effect, term.decided_on, term.recorded_at))
        terms = list({term.takes_effect: term for term in ordered}.values())
        begins = [date.min, *(term.takes_effect for term in terms[1:])]
        ends = [*begins[1:], None]
        return [InForce(term=term, begins=b, ends=e) for term, b, e in zip(terms, begins, ends, strict=False)]

    def term_on(self, day: date) -> Term:
        """Term in force on `day`. Raises LookupError when no term is known."""
        for rule in reversed(self.terms_in_force()):
            if rule.begins <= day:
                return rule.term
        raise LookupError("The routine has no terms.")

    def fitted_at(self, at: datetime) -> Fitting | None:
        """Newest fitting begun at or before the instant `at`."""
        begun = [fitting for fitting in self.fittings if fitting.from_at <= at]
        return max(begun, key=lambda fitting: (fitting.from_at, fitting.key), default=None)


def blocks_as_known(blocks: tuple[Block, ...], at: datetime) -> tuple[Block, ...]:
    """Blocks as they were known at `at`: without later ones, and still on where the release was recorded later."""
    known = (block for block in blocks if block.recorded_at is None or block.recorded_at <= at)
    return tuple(
        replace(block, to_day=None) if block.to_recorded_at is not None and block.to_recorded_at > at else block
        for block in known
    )


def _performed(act: Act) -> tuple[date, datetime, str]:
    return act.day, act.performed_at, act.key


def _refuse_twins(sentence: str, keys: list[str]) -> None:
    twins = {key for key in keys if keys.count(key) > 1} if len(set(keys)) < len(keys) else set()
    if twins:
        raise ValueError(f"{sentence} {', '.join(sorted(twins))}.")


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
