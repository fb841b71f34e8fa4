"""Failure clocks of compliance monitors, and the grab samples that stand in for one while it is out.

A clock counts site days and ends with the last of them, at 24:00. Grab samples are owed after hours that really pass,
also in the night in which the clocks are changed. Nothing of the plant's own, such as a lock, stops either.
Sources: 40 CFR 141.174(b) (grab sampling every four hours, no more than five working days following the failure),
40 CFR 141.561 (fourteen days for systems of fewer than 10,000 people).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from fractions import Fraction
from zoneinfo import ZoneInfo

from maintenance.compute.stretches import ONE_DAY, Run

SATURDAY, SUNDAY = 5, 6
WEEKEND = frozenset({SATURDAY, SUNDAY})
MOST_SLOTS = 1_000  # four hours apart, these are more than five months
SECONDS_AN_HOUR = 3600


def is_working_day(day: date, holidays: Collection[date], weekend: Collection[int] = WEEKEND) -> bool:
    """Whether people work at the site on a day; `weekend` holds numbers of weekdays, Monday 0."""
    return day.weekday() not in weekend and day not in holidays


def after_working_days(
    failed_on: date,
    days: int,
    holidays: Collection[date] = (),
    *,
    count_failure_day: bool = False,
    weekend: Collection[int] = WEEKEND,
) -> date:
    """Last day of a clock of so many working days following the site day of the failure; it ends at 24:00.

    `count_failure_day`: that day is the first one, if it is a working day; if it is none, nothing moves.
    Raises ValueError for fewer days than one, or a week without working days.
    Source: 40 CFR 141.174(b), "5 working days following the failure of the equipment".
    """
    if days < 1:
        raise ValueError(f"Working days: {days}. Give 1 or more.")
    if len(set(weekend)) > SUNDAY:
        raise ValueError("Weekend: a week needs at least one working day.")
    left, day = days, failed_on
    if count_failure_day and is_working_day(failed_on, holidays, weekend):
        left -= 1
    while left:
        day += ONE_DAY
        left -= is_working_day(day, holidays, weekend)
    return day


def after_days(failed_on: date, days: int = 14) -> date:
    """Last day of a clock of so many calendar days after the site day of the failure; it ends at 24:00.

    Source: 40 CFR 141.561, "14 days to resume continuous monitoring before a violation is incurred".
    """
    if days < 1:
        raise ValueError(f"Days: {days}. Give 1 or more.")
    return failed_on + days * ONE_DAY


def end_of(day: date, zone: ZoneInfo) -> datetime:
    """Instant, in UTC, at which a site day is over: 24:00, which is 00:00 of the next one."""
    return datetime.combine(day + ONE_DAY, time(), zone).astimezone(UTC)


def site_day(at: datetime, zone: ZoneInfo) -> date:
    """Date at the site at an instant. Raises ValueError for an instant without a zone."""
    if at.tzinfo is None:
        raise ValueError("A moment needs its zone before its day at the site can be told.")
    return at.astimezone(zone).date()


class ClockState(StrEnum):
    """State of a failure clock."""

    RUNNING = "running"
    ENDED = "back in time"
    LATE = "back too late"
    OVER = "time is up"


def clock_state(last_day: date, zone: ZoneInfo, now: datetime, *, back_at: datetime | None = None) -> ClockState:
    """State of a clock that ends with `last_day`, at `now`; `back_at`: when the monitor measured again, if it does.

    Back at the last instant is in time.
    """
    end = end_of(last_day, zone)
    if back_at is not None and back_at <= now:
        return ClockState.ENDED if back_at <= end else ClockState.LATE
    return ClockState.OVER if now > end else ClockState.RUNNING


class SlotState(StrEnum):
    """State of one grab sample that is owed."""

    OPEN = "grab due"
    TAKEN = "taken"
    MISSED = "missed"
    NOT_OWED = "not running"


@dataclass(frozen=True, slots=True, kw_only=True)
class GrabSlot:
    """One grab sample owed after `from_at` and by `due_at`, both in UTC; `taken_at` within them, or None."""

    from_at: datetime
    due_at: datetime
    state: SlotState
    taken_at: datetime | None = None


def next_grab(last: datetime, hours: Fraction = Fraction(4)) -> datetime:
    """Instant, in UTC, by which the next grab is due after the last one, or after the failure.

    Hours that really pass: after 22:00 the next is at 03:00 in the night in which clocks go forward.
    """
    return last.astimezone(UTC) + timedelta(seconds=float(hours * SECONDS_AN_HOUR))


def grab_slots(
    failed_at: datetime,
    now: datetime,
    grabs: Iterable[datetime] = (),
    *,
    hours: Fraction = Fraction(4),
    back_at: datetime | None = None,
    running: Iterable[Run] | None = None,
) -> tuple[GrabSlot, ...]:
    """Grabs owed since a monitor failed, the last one open unless it is back, in order of time.

    Each is due `hours` after the grab before, after a missed one `hours` after that was due. `running`: when the unit
    made water; a slot in which it made none is not owed (None: it always did). All instants carry a zone.
    Raises ValueError for hours of nothing, or more slots than can be of use.
    """
    if hours <= 0:
        raise ValueError(f"Hours between grabs: {hours}. Give more than 0.")
    taken = sorted(grab.astimezone(UTC) for grab in grabs if failed_at < grab <= now)
    ran = None if running is None else tuple(running)
    end = now if back_at is None else min(now, back_at)
    slots: list[GrabSlot] = []
    begin = failed_at.astimezone(UTC)
    while begin < end or (begin == end and back_at is None):
        slot = _slot(begin, next_grab(begin, hours), taken, now)
        if ran is not None and slot.taken_at is None and not any(_meets(run, begin, slot.due_at) for run in ran):
            slot = GrabSlot(from_at=begin, due_at=slot.due_at, state=SlotState.NOT_OWED)
        if slot.taken_at is None and back_at is not None and slot.due_at > back_at:
            break  # it measured again before that one was due
        slots.append(slot)
        if len(slots) > MOST_SLOTS:
            raise ValueError(f"More than {MOST_SLOTS} grabs since {failed_at}: is the monitor still out?")
        begin = slot.taken_at or slot.due_at
    return tuple(slots)


def _slot(begin: datetime, due: datetime, taken: list[datetime], now: datetime) -> GrabSlot:
    grab = next((one for one in taken if begin < one <= due), None)
    if grab is not None:
        return GrabSlot(from_at=begin, due_at=due, state=SlotState.TAKEN, taken_at=grab)
    return GrabSlot(from_at=begin, due_at=due, state=SlotState.MISSED if now > due else SlotState.OPEN)


def _meets(run: Run, begin: datetime, end: datetime) -> bool:
    """Whether the unit ran at any time between two instants."""
    return run.from_at < end and (run.to_at is None or begin < run.to_at)
