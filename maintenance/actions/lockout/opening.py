"""One act on the locks of a site: takes the site's lockout lock first, reads afterwards, numbers what it writes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from assets.compute.words import moment_named
from assets.errors import Reason, Refusal
from assets.history import LOCKOUT, Act, act, lock_site
from assets.models import Person, Site
from maintenance.compute.lockout import Story
from maintenance.compute.lockout_times import earliest, is_before
from maintenance.models import Lockout, LockoutEntry
from maintenance.reads.locks_story import story_of

# What is entered later than this after it happened is shown as entered late.
LATE_AFTER = dt.timedelta(minutes=15)


@dataclass
class LockAct:
    """An open act on one lockout, its rows read after the site's lock was taken."""

    act: Act
    lockout: Lockout
    by: Person

    @classmethod
    @contextmanager
    def on_site(cls, site: Site, by: Person) -> Iterator[Act]:
        """Open an act on the locks of a site: nobody else begins, locks or ends anything there meanwhile."""
        with act(site=site, by=by) as opened:
            lock_site(LOCKOUT, site)
            yield opened

    @classmethod
    @contextmanager
    def on(cls, lockout: Lockout, by: Person) -> Iterator[LockAct]:
        """Open an act on one lockout and read it anew, whatever the page that asked has seen."""
        with cls.on_site(lockout.site, by) as opened:
            fresh = Lockout.objects.select_related("site", "position", "version", "box", "in_charge").get(pk=lockout.pk)
            yield cls(opened, fresh, by)

    @property
    def at(self) -> dt.datetime:
        """The moment of entry."""
        return self.act.at

    def story(self) -> Story:
        """Everything recorded of the lockout, with what this act has written so far."""
        return story_of(self.lockout)

    def number(self) -> int:
        """Take the lockout's next number."""
        taken = self.lockout.next_number
        self.act.change(self.lockout, expect={"next_number": taken}, next_number=taken + 1)
        return taken

    def note(self, kind: str, *, happened_at: dt.datetime | None = None, **columns: Any) -> LockoutEntry:
        """Add a numbered line to the lockout's log; refuses a time at which it cannot have happened."""
        self.must_be_within(kind, happened_at)
        return self.act.add(
            LockoutEntry(
                lockout=self.lockout,
                number=self.number(),
                kind=kind,
                happened_at=happened_at or self.at,
                recorded_at=self.at,
                by=self.by,
                **columns,
            )
        )

    def must_be_within(self, kind: str, happened_at: dt.datetime | None) -> None:
        """Refuse a time before the lockout began; for telling people, one more than a day before."""
        bound = earliest(kind, begun_at=self.lockout.begun_at)
        word = "when" if bound == self.lockout.begun_at else "a day before"
        self.must_not_be_before(bound, happened_at, what=f"{word} lockout {self.lockout.number} began")

    def must_not_be_before(self, bound: dt.datetime, happened_at: dt.datetime | None, *, what: str) -> None:
        """Refuse a time before another one, both named at the field; `what` goes on about the other: when it was."""
        if happened_at is None or not is_before(happened_at, bound):
            return
        given, first = (moment_named(moment.astimezone(self.lockout.site.zone)) for moment in (happened_at, bound))
        raise Refusal(
            f"The time it happened, {given}, is before {first}, {what}; write that time or a later one.",
            field="happened_at",
        )

    def write(self, verb: str, *, happened_at: dt.datetime | None = None, **facts: Any) -> None:
        """Write the act's event on the lockout."""
        late = happened_at is not None and self.at - happened_at > LATE_AFTER
        shown = {"lockout": self.lockout.number, "tag": self.lockout.position.tag, **facts}
        if late:
            shown["late"] = "entered later than it happened"
        self.act.write(verb, subject=self.lockout, facts=shown, happened_at=happened_at)

    def must_be_open(self) -> None:
        """Refuse when the lockout is closed."""
        if self.lockout.closed_at is not None:
            raise Refusal(f"Lockout {self.lockout.number} is closed; begin a new one.")


class Stop:
    """Turns what stops an act into its refusal."""

    @staticmethod
    def unless_none(reasons: Iterable[Reason]) -> None:
        """Refuse with every reason there is."""
        found = list(reasons)
        if found:
            raise Refusal(found)
