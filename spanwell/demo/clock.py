"""The clock of the story, the days it counts back from today, and the order in which its scenes are played."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from unittest import mock
from zoneinfo import ZoneInfo

from django.utils import timezone


class StoryClock:
    """What `django.utils.timezone.now` gives while the past is written: it stands still until it is moved, forwards."""

    def __init__(self, now: dt.datetime) -> None:
        self.now = now

    def __call__(self) -> dt.datetime:
        """The moment of the story."""
        return self.now

    def reach(self, moment: dt.datetime) -> None:
        """Move on to a moment; one that is past already leaves the clock where it stands."""
        self.now = max(self.now, moment)

    def wait(self, minutes: float) -> dt.datetime:
        """Let minutes pass and return the new moment."""
        self.now += dt.timedelta(minutes=minutes)
        return self.now


@contextmanager
def at_the_time_of(clock: StoryClock) -> Iterator[StoryClock]:
    """Give the story's clock to every action inside the block, so that what is recorded carries the moment of then.

    Actions record two times: when something happened, which they are told, and when it was entered, which is the time
    now. For an invented past both lie in the past, so `django.utils.timezone.now` is replaced for the block, in this
    process. Nothing else of an action is touched: rules, roles, constraints, triggers and the chain work as ever.
    """
    with mock.patch.object(timezone, "now", clock):
        yield clock


@dataclass(frozen=True, slots=True)
class Days:
    """Moments of the story: days are counted back from today at the plant, times of day are the plant's."""

    now: dt.datetime
    zone: ZoneInfo

    @property
    def today(self) -> dt.date:
        """The plant's date now."""
        return self.now.astimezone(self.zone).date()

    def back(self, days: int) -> dt.date:
        """The date so many days ago."""
        return self.today - dt.timedelta(days=days)

    def at(self, days: int, time: str) -> dt.datetime:
        """A time of day, like 08:20, so many days ago."""
        hour, minute = (int(part) for part in time.split(":"))
        then = dt.datetime.combine(self.back(days), dt.time(hour, minute), tzinfo=self.zone)
        return then.astimezone(dt.UTC)

    def ago(self, minutes: int) -> dt.datetime:
        """So many minutes before now: what happened this morning, whatever the time of day is now."""
        return self.now.replace(second=0, microsecond=0) - dt.timedelta(minutes=minutes)

    def last_weekday(self, weekday: int, *, before: int = 0) -> int:
        """How many days ago the newest such weekday (Monday = 0) was that lies at least `before` days back."""
        return before + (self.back(before).weekday() - weekday) % 7


@dataclass(order=True, slots=True)
class Scene:
    """One thing that happens at a moment; scenes of one moment are played in the order they were written."""

    at: dt.datetime
    number: int
    do: Callable[[], object] = field(compare=False)


@dataclass(slots=True)
class Script:
    """The scenes of every part of the story, played in the order of time whoever wrote them."""

    clock: StoryClock
    until: dt.datetime
    scenes: list[Scene] = field(default_factory=list)

    def add(self, at: dt.datetime, do: Callable[..., object], *given: object) -> None:
        """Let something happen at a moment: a function, called with what is given."""
        self.scenes.append(Scene(at, len(self.scenes), partial(do, *given)))

    def play(self, tell: Callable[[dt.datetime], None] = lambda _: None) -> None:
        """Play all scenes; a scene that was late lets the next one wait. Raises RuntimeError past the present.

        `tell` is told the moment the story has come to, before each scene.
        """
        for scene in sorted(self.scenes):
            self.clock.reach(scene.at)
            tell(self.clock.now)
            scene.do()
            if self.clock.now > self.until:
                raise RuntimeError(f"The story of the demo plant runs past {self.until}.")
