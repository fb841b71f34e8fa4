"""Turns counted by use: what the known totals of a meter say of one, and the demand to read a meter that grew old.

What is due by use is told by readings alone. A word holds from the site day on which the reading that brings it was
known, so a reading written down late makes nothing overdue before that day. A forecast only sorts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction

from maintenance.compute.facts import Metered
from maintenance.compute.stretches import ONE_DAY
from maintenance.compute.terms import ByUse


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """The part of a turn that is counted by use, in `unit`.

    `base` is the total at the work it is counted from (None: the meter was never read), `next_at` the total at which it
    is due, `now` the newest total. `earliest` and `due` are the days on which it became known that it can be done and
    that it is due, `latest` the last day before it was known to be overdue; None while no reading says so.
    """

    unit: str
    asset: str
    base_at: datetime
    base: Fraction | None
    next_at: Fraction | None
    every: Fraction
    early: Fraction
    late: Fraction
    not_before: date
    now: Fraction | None = None
    earliest: date | None = None
    due: date | None = None
    latest: date | None = None

    @property
    def over(self) -> Fraction:
        """By how much the newest total has passed the one at which it is due, 0 before."""
        if self.now is None or self.next_at is None:
            return Fraction(0)
        return max(Fraction(0), self.now - self.next_at)

    @property
    def left(self) -> Fraction | None:
        """What is left by the newest total until it is due, 0 after; None where the meter was not read."""
        if self.now is None or self.next_at is None:
            return None
        return max(Fraction(0), self.next_at - self.now)


def use_from(term: ByUse, metered: Iterable[Metered], at: datetime, *, asset: str, not_before: date = date.min) -> Use:
    """Use counted from work done at the instant `at`, on the meter of `asset` ("" = of the place).

    It is counted from the newest total read by then; where there is none, from the first one after, so that what ran
    in between is not counted. No word of it holds before the day `not_before`.
    """
    own = of_meter(metered, asset)
    earlier = [one for one in own if one.at <= at]
    from_total = (earlier[-1] if earlier else own[0]).total if own else None
    return Use(
        unit=term.unit,
        asset=asset,
        base_at=at,
        base=from_total,
        next_at=None if from_total is None else from_total + term.every,
        every=term.every,
        early=term.early,
        late=term.late,
        not_before=not_before,
    )


def of_meter(metered: Iterable[Metered], asset: str) -> list[Metered]:
    """Totals of one meter in order of time: that of the asset, else that of the place, else the only one there is.

    Totals of two meters are never put together.
    """
    found = sorted(metered, key=lambda one: (one.at, one.total))
    meters = {one.asset for one in found}
    only = meters.pop() if not asset and len(meters) == 1 else ""
    own = [one for one in found if one.asset == (asset or only)]
    return own or [one for one in found if one.asset == ""]


def settled(use: Use, metered: Iterable[Metered], day: date) -> Use:
    """Return the use with the days that its words hold from, by what was read up to `day`."""
    own = [one for one in of_meter(metered, use.asset) if one.day <= day]
    if use.next_at is None or not own:
        return use
    since = [one for one in own if one.at >= use.base_at]
    opened = _known([one for one in since if one.total >= use.next_at - use.early])
    due = _known([one for one in since if one.total >= use.next_at])
    over = _known([one for one in since if one.total > use.next_at + use.late])
    # Terms that bring it forward make it due on the day of their decision, and overdue the day after.
    return replace(
        use,
        now=own[-1].total,
        earliest=None if opened is None else max(opened, use.not_before),
        due=None if due is None else max(due, use.not_before),
        latest=None if over is None else max(over - ONE_DAY, use.not_before),
    )


def _known(reached: Sequence[Metered]) -> date | None:
    """First day on which one of these totals was known."""
    return min((max(one.day, one.known_on) for one in reached), default=None)


def total_at(metered: Iterable[Metered], asset: str, at: datetime) -> Fraction | None:
    """Newest total of a meter read at or before an instant."""
    earlier = [one.total for one in of_meter(metered, asset) if one.at <= at]
    return earlier[-1] if earlier else None


def read_by(use: Use, metered: Iterable[Metered], day: date, *, since: date, stale_days: int) -> date:
    """Day by which a meter must be read, as it stands on `day`: `stale_days` after the newest reading.

    A meter that was never read must be read on `since`, the day of the work it counts from.
    """
    own = [one.day for one in of_meter(metered, use.asset) if one.day <= day]
    return max(own) + stale_days * ONE_DAY if own else since
