"""How blocks and deferrals move the due day of a turn, walked in the order they took effect."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from maintenance.compute.deferrals import Deferral
from maintenance.compute.stretches import ONE_DAY, Block
from maintenance.compute.turn import NEVER, Kind, Turn


@dataclass(slots=True, kw_only=True)
class Moved:
    """Due and last allowed day of a turn, by its date and by use (`NEVER`: no reading says so), as moved so far.

    `late`: a deferral was approved only when it was overdue. `until`: put off up to this day by the deferral `by`.
    """

    due: date
    latest: date
    use_due: date
    use_latest: date
    late: bool = False
    until: date | None = None
    by: Deferral | None = None

    @property
    def first_due(self) -> date:
        """Due day, by whichever is first."""
        return min(self.due, self.use_due)

    @property
    def last_allowed(self) -> date:
        """Last day on which it is not overdue, by whichever is first."""
        return min(self.latest, self.use_latest)

    def release(self, block: Block, day: date) -> None:
        """Move what the block held up to the day of its release, if it began while the turn was not overdue."""
        if block.from_day <= self.latest and day > self.due:
            self.due, self.latest = day, max(self.latest, day)
        if block.from_day <= self.use_latest and day > self.use_due:
            self.use_due, self.use_latest = day, max(self.use_latest, day)

    def defer(self, deferral: Deferral, to_day: date, *, late: bool) -> None:
        """Move the due day to the day it is put off to; never to an earlier one."""
        self.late = self.late or late
        self.due, self.latest = max(self.due, to_day), max(self.latest, to_day)
        self.use_due, self.use_latest = max(self.use_due, to_day), max(self.use_latest, to_day)
        if self.until is None or to_day > self.until:
            self.until, self.by = to_day, deferral


def stopping(turn: Turn, blocks: Sequence[Block]) -> list[Block]:
    """Blocks that stop the turn, in the order they began; a block within one day stops nothing.

    A lock does not stop what a rule demands, and nothing stops the reading of a meter. That a unit does not run stops
    only what its terms say is owed while it runs.
    """
    if turn.kind is Kind.READING:
        return []
    felt = (b for b in blocks if b.to_day != b.from_day and (turn.while_running if b.off else not turn.by_rule))
    return sorted(felt, key=lambda block: block.from_day)


def moved(turn: Turn, felt: Sequence[Block], deferrals: Sequence[Deferral], day: date) -> Moved:
    """Due and last allowed day as they stand on `day`: after blocks released and deferrals in effect by then.

    `felt`: blocks that stop the turn. A deferral approved in time holds from its own day; one approved when the turn
    was overdue holds from the day after. A block on or after the due day ends a deferral for good.
    """
    use = turn.use
    found = Moved(
        due=turn.due,
        latest=turn.latest,
        use_due=(use.due if use else None) or NEVER,
        use_latest=(use.latest if use else None) or NEVER,
    )
    steps: list[tuple[date, int, str, Block | Deferral]] = [
        (block.to_day, 0, "", block) for block in felt if block.to_day is not None and block.to_day <= day
    ]
    steps += [(one.approved_on, 1, one.key, one) for one in of_turn(turn, deferrals) if one.approved_on <= day]
    for on, _, _, step in sorted(steps, key=lambda step: step[:3]):
        if isinstance(step, Block):
            found.release(step, on)
            continue
        late = on > found.last_allowed
        if on + timedelta(days=late) <= day:
            found.defer(step, _ended_by_block(turn, step, felt, day), late=late)
    if found.until is not None and found.until <= day:
        found.until = None
    return found


def of_turn(turn: Turn, deferrals: Sequence[Deferral]) -> list[Deferral]:
    """Deferrals of a turn in the order of their approval; what a rule demands cannot be put off."""
    if turn.by_rule:
        return []
    return sorted((one for one in deferrals if one.turn == turn.key), key=lambda one: (one.approved_on, one.key))


def _ended_by_block(turn: Turn, deferral: Deferral, felt: Sequence[Block], day: date) -> date:
    """Day a deferral holds up to: its own, or the first one on or after the due day that a block covers."""
    first = max(turn.own_due, deferral.approved_on)
    for block in felt:
        covered = max(first, block.from_day)
        if covered < deferral.to_day and block.covers(covered) and covered <= day:
            return covered
    return deferral.to_day


def days_covered(blocks: Sequence[Block], start: date, end: date) -> int:
    """Days from `start` up to but without `end` on which any block was on; `blocks` in the order they began."""
    days, counted_to = 0, start
    for block in blocks:
        begin = max(block.from_day, counted_to)
        stop = end if block.to_day is None else min(block.to_day, end)
        if stop > begin:
            days += (stop - begin) // ONE_DAY
            counted_to = stop
    return days


def as_of_end(blocks: Sequence[Block], end: date) -> list[Block]:
    """Blocks begun before `end`, the day the turn ended, those still on as if released then."""
    begun = [block for block in blocks if block.from_day < end]
    return [replace(b, to_day=end) if b.to_day is None or b.to_day > end else b for b in begun]
