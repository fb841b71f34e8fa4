"""How turns that have ended count in the figures, and the share of them that was kept."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from maintenance.compute.deferrals import Deferral
from maintenance.compute.moved import as_of_end, moved, of_turn, stopping
from maintenance.compute.stretches import Block
from maintenance.compute.turn import Ended, Turn


class Outcome(StrEnum):
    """How a turn that has ended counts in the figures; all but *withdrawn* stand in the denominator."""

    ON_TIME = "on time"  # by its own due day
    WITHIN_ALLOWED = "within the days allowed"
    DEFERRED = "deferred"  # put off in time, and done by the day it was put off to
    LATE = "late"
    MISSED = "missed"
    WITHDRAWN = "withdrawn"


def outcome(turn: Turn, blocks: Sequence[Block] = (), deferrals: Sequence[Deferral] = ()) -> Outcome | None:
    """How an ended turn counts; None for an open one. On time is judged by the turn's own due day, blocks or not."""
    if turn.ended is Ended.OPEN or turn.ended_on is None:
        return None
    if turn.ended is not Ended.DONE:
        return Outcome.MISSED if turn.ended is Ended.MISSED else Outcome.WITHDRAWN
    if turn.on_time:
        return Outcome.ON_TIME
    done = turn.ended_on
    if moved(turn, as_of_end(stopping(turn, blocks), done), deferrals, done).late:
        return Outcome.LATE
    if turn.within_allowed:
        return Outcome.WITHIN_ALLOWED
    put_off = [one.to_day for one in of_turn(turn, deferrals) if one.approved_on <= done]
    return Outcome.DEFERRED if put_off and done <= max(put_off) else Outcome.LATE


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """So many turns `kept` of so many that ended; `left_out` were withdrawn and stand in neither."""

    kept: int
    of: int
    left_out: int

    @property
    def share(self) -> Fraction | None:
        """Share kept, 0 to 1; None where nothing was due."""
        return Fraction(self.kept, self.of) if self.of else None


def share_kept(outcomes: Iterable[Outcome], *, allowed_counts: bool = False) -> Kept:
    """How many of these turns were kept: by their own due day, or with `allowed_counts` by their last allowed one.

    Put off with approval is not kept but stands in the denominator; withdrawn stands in neither.
    Source of the rule: SMRP metric 5.4.14, second-hand: the rule must be stated beside the figure.
    """
    counted = list(outcomes)
    good = {Outcome.ON_TIME, Outcome.WITHIN_ALLOWED} if allowed_counts else {Outcome.ON_TIME}
    withdrawn = counted.count(Outcome.WITHDRAWN)
    return Kept(kept=sum(one in good for one in counted), of=len(counted) - withdrawn, left_out=withdrawn)
